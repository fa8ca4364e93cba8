"""Each file in `broken/` has a mistake that somebody made, and says above what is to be told of it.

The first lines are comments, `# error in line 12: words`: how grave the problem is, its line, and
words that its message holds. Everything that is wrong is told and nothing else, so that nobody
looks for a mistake that is none. A file that cannot hold comments has them beside it, in
NAME.expected.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from assistant.authoring import checks
from assistant.procedure.problems import Problem, Severity

FILES = sorted((Path(__file__).parent / "broken").glob("*.yaml"))
_EXPECTED = re.compile(r"# (error|warning|note) in line (\d+): (.+)")


def expected(path: Path) -> list[tuple[str, int, str]]:
    beside = path.with_suffix(".expected")
    text = (beside if beside.exists() else path).read_text(encoding="utf-8")
    lines = text.splitlines()
    found = [_EXPECTED.fullmatch(line) for line in lines]
    return [(match[1], int(match[2]), match[3]) for match in found if match]


def fits(problem: Problem, severity: str, line: int, words: str) -> bool:
    return (problem.severity, problem.line) == (severity, line) and words in problem.text


def test_there_are_ninety() -> None:
    assert len(FILES) >= 90


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_what_is_wrong_is_told_in_its_line_and_nothing_else_is(path: Path) -> None:
    wanted = expected(path)
    assert wanted
    found = [one for one in checks.check(str(path)).problems if one.severity != Severity.NOTE]
    shown = "\n".join(one.shown(path.name) for one in found)
    for one in wanted:
        assert any(fits(problem, *one) for problem in found), f"missing: {one}\nfound:\n{shown}"
    assert len(found) == len(wanted), shown
