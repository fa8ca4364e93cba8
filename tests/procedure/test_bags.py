"""Bags whose contents do not add up."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.cli import main as cli
from assistant.procedure import bags, reading, routes
from assistant.procedure.model import Procedure
from assistant.procedure.problems import Fault
from tests.bench_helpers import SMALL

BAGGED = "{name: plate bolt, count: 4, thread: M6}"
SHORT = "{name: short bolt, count: 2, thread: M8}"
KEY = "        say: Take out the key.\n"


def found(procedure: Procedure) -> list[Fault]:
    return [*bags.unopened(procedure), *bags.unequal(procedure)]


def told(text: str) -> list[str]:
    return [what for _, what in found(reading.parse(text, "box.yaml"))]


@pytest.mark.parametrize(
    ("right", "wrong", "expected"),
    [
        ("count: 4, thread: M6", "count: 4, thread: M6", None),
        ("count: 4, thread: M6", "count: 5, thread: M6", "5 plate bolt put in and not renewed, "),
        (SHORT, SHORT.replace("2", "1"), "2 long bolt and 1 short bolt taken out"),
        # New ones come from the shelf, so those that came off may stay in the bag.
        (SHORT, SHORT.replace("}", ", new: true}"), "bag 1: 4 plate bolt"),
        # Those that came off are thrown away at once.
        (
            "remove: [{part: end plate}]",
            "remove: [{part: plate bolt, count: 2, discard: true}]",
            "bag 1: 2 plate bolt put in",
        ),
        ("        from_bag: 1\n", "", "no later step takes anything from bag 1"),
        (
            f"        remove: [{{part: end plate}}]\n        fasteners: [{BAGGED}]\n",
            "",
            "nothing is listed that goes into bag 1 in step 'open'",
        ),
        # A fastener that applies only after one of the answers.
        (
            SHORT,
            SHORT.replace("}", ", when: {shaft: keyed shaft}}"),
            "bag 1, where shaft: splined shaft: 4 plate bolt",
        ),
        (
            KEY,
            f"{KEY}        from_bag: 1\n        fasteners: [{BAGGED.replace('4', '1')}]\n",
            "bag 1, where shaft: keyed shaft: 4 plate bolt",
        ),
        # The same variant at strip-down and at build-up.
        (
            KEY,
            f"{KEY}        when: {{shaft: keyed shaft}}\n        bag: 2\n"
            f"        fasteners: [{BAGGED}]\n"
            "      - id: key-in\n        say: Put it back.\n        from_bag: 2\n"
            f"        fasteners: [{BAGGED}]\n",
            None,
        ),
    ],
)
def test_what_does_not_add_up_is_told(right: str, wrong: str, expected: str | None) -> None:
    assert right in SMALL
    text = SMALL.replace(right, wrong, 1).replace(
        "  - {name: end plate}\n", "  - {name: end plate}\n  - {name: plate bolt}\n"
    )
    found = told(text)
    if expected is None:
        assert found == []
    else:
        assert len(found) == 1 and expected in found[0]


def test_those_that_are_replaced_may_stay_in_the_bag() -> None:
    text = SMALL.replace("plate bolt, count: 4", "long bolt, count: 4")
    assert told(text) == []  # Two long ones go back, and two short ones.
    text = text.replace("long bolt, count: 2,", "long bolt, count: 2, new: true,")
    assert told(text) == []  # Two long ones stay in the bag, and two go back as short ones.
    (found,) = told(text.replace("count: 4", "count: 3"))
    assert found.startswith("bag 1: 1 long bolt put in and not renewed, 2 short bolt taken out. ")


def test_it_is_an_error_at_its_line_and_the_check_fails(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "box.yaml"
    text = SMALL.replace(SHORT, SHORT.replace("2", "1"))
    path.write_text(text, encoding="utf-8")
    assert cli.main(["check", str(path)]) == 2
    line = next(n for n, row in enumerate(text.splitlines(), 1) if "from_bag: 1" in row)
    assert (
        f"{path}:{line}: from_bag: bag 1: 4 plate bolt put in and not renewed, "
        "2 long bolt and 1 short bolt taken out." in caplog.text
    )


@pytest.mark.parametrize("questions", [15, 16, 200])
def test_procedures_with_too_many_questions_are_not_checked(questions: int) -> None:
    """The procedure has one question of its own, so 15 more make the limit of sixteen."""
    asked = "".join(
        f"      - id: ask-{n}\n        say: Look.\n        question: {{name: q{n}, say: Which?, "
        f"answers: [{{say: keyed shaft}}, {{say: splined shaft, go_to: after-{n}}}]}}\n"
        f"      - {{id: after-{n}, say: Go on.}}\n"
        for n in range(questions)
    )
    text = SMALL.replace("      - id: which\n", f"{asked}      - id: which\n")
    text = text.replace(SHORT, SHORT.replace("2", "1"))
    assert bool(told(text)) == (questions == 15)


@pytest.mark.parametrize(("bound", "ways"), [(5, 5), (100, 8), (0, 1)])
def test_the_bound_is_on_steps_and_fasteners_of_all_routes_together(
    monkeypatch: pytest.MonkeyPatch, bound: int, ways: int
) -> None:
    asked = "".join(
        f"      - id: ask-{n}\n        say: Look.\n        question: {{name: q{n}, say: Which?, "
        f"answers: [{{say: keyed shaft}}, {{say: splined shaft, go_to: after-{n}}}]}}\n"
        f"      - {{id: after-{n}, say: Go on.}}\n"
        for n in range(2)
    )
    procedure = reading.parse(
        SMALL.replace("      - id: which\n", f"{asked}      - id: which\n"), "x"
    )
    giver, taker = (procedure.steps[procedure.index(name)] for name in ("open", "close"))
    # Ten steps; one part and one kind of fastener go in, and two kinds come out.
    assert len(procedure.steps) == 10
    monkeypatch.setattr(routes, "_MOST_LOOKED_AT", bound * (10 + 2 + 2))
    assert len(list(routes.ways(procedure, [giver, taker]))) == ways
