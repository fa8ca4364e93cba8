"""Explains a mistake in YAML in the writer's words, and mends it so that reading can go on.

A reader of YAML stops at the first mistake, often lines below what caused it, and speaks of tokens.
Each function here knows one mistake that people make: it looks at the lines, says in which line the
cause is and what to write, and returns the text as it was probably meant. The mended text is only
for finding what else is wrong in the file. Nobody works from it.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from ruamel.yaml.composer import ComposerError
from ruamel.yaml.error import MarkedYAMLError

_KEY = re.compile(r"(?P<lead>[ \t]*(?:- +)*)(?P<key>[A-Za-z_][\w-]*):(?P<gap>[ \t]*)(?P<value>.*)")
_ENTRY = re.compile(r"\s*(?:- |-$|[A-Za-z_][\w-]*:(?:\s|$))")
_NO_BLANK = re.compile(r"\s*(?:- +)*[a-z_]+:(?=[^\s\d:/])\S.*")
_FLOW_VALUE = re.compile(r"(?<=[{,])\s*[a-z_]+: +(?P<value>[^'\"\[{\s][^,}\]]*)")
_SPECIAL = "%@`*&!|>"
_COMMENT = re.compile(r"\s#.*$")


@dataclass(frozen=True)
class Mend:
    """A mistake: its line, what to write instead, and the text with that line mended."""

    line: int
    """The line of the cause, from 1."""
    text: str
    """What is wrong and what to do."""
    mended: str | None
    """The whole text as it was probably meant, with as many lines; None if nobody can tell."""


def mend(text: str, error: MarkedYAMLError) -> Mend:
    """Return the cause of an error of YAML, and the text mended where that can be guessed."""
    lines = text.split("\n")
    mark = error.problem_mark or error.context_mark
    at = min(mark.line if mark else 0, len(lines) - 1)
    opened = error.context_mark.line if error.context_mark else at
    problem = str(error.problem or "not YAML").splitlines()[0]
    look = _Look(lines, at, min(opened, at), problem)
    if isinstance(error, ComposerError) and "undefined alias" not in problem:
        # What is refused for safety's sake, such as a tag or too many nodes, is not mended.
        is_text = ". If it is text, put it in quotes" if "tags such as" in problem else ""
        return Mend(at + 1, f"{problem}{is_text}", None)
    for cause in _CAUSES:
        found = cause(look)
        if found is not None:
            line, what, instead = found
            if instead is None:
                return Mend(line + 1, what, None)
            mended = [*lines[:line], instead, *lines[line + 1 :]]
            return Mend(line + 1, what, "\n".join(mended))
    return Mend(at + 1, problem, None)


@dataclass(frozen=True)
class _Look:
    """What an error shows: the lines, where reading stopped, where what it read there began."""

    lines: list[str]
    at: int
    opened: int
    problem: str

    @property
    def line(self) -> str:
        return self.lines[self.at]

    def ends_before(self, number: int) -> bool:
        """Whether after this line a new key or entry begins, or the file ends."""
        rest = [line for line in self.lines[number + 1 :] if line.strip()]
        return not rest or _ENTRY.match(rest[0]) is not None


_Found = tuple[int, str, str | None] | None


def _tab(look: _Look) -> _Found:
    if "'\\t'" not in look.problem:
        return None
    number = next((n for n in (look.at, look.opened) if "\t" in look.lines[n]), look.at)
    line = look.lines[number]
    start = line[: len(line) - len(line.lstrip())]
    if "\t" in start:
        above = next((_key_column(one) for one in look.lines[:number][::-1] if one.strip()), 0)
        line = " " * _nearest_indent(look.lines, number, above) + line.lstrip()
        what = "a tab is at the start of this line. Indent it with spaces, as the lines beside it"
    else:
        what = "a tab is in this line. Write a space instead"
    return number, what, line.replace("\t", " ")


def _open_quote(look: _Look) -> _Found:
    for number in range(look.at + 1):
        match = _KEY.match(look.lines[number])
        value = match["value"] if match else look.lines[number].strip().removeprefix("- ")
        if not value or value[0] == "#":
            continue
        mark = _left_open(value)
        if mark is None or not look.ends_before(number):
            continue
        what = f"the quote {mark} that opens in this line is never closed. Put {mark} at its end"
        line = look.lines[number].rstrip()
        tail = re.search(r"[}\]]*$", line)
        if value[0] in "[{" and tail:
            line = line[: tail.start()]
            return number, what, line + mark + tail[0]
        return number, what, line + mark
    return None


def _left_open(value: str) -> str | None:
    """Return the quote that opens in a value and does not close in it, or None.

    A quote opens where a value begins: at the start, and in a flow list or map after its marks.
    """
    open_mark: str | None = None
    flow = value[0] in "[{"
    before = ""
    for place, character in enumerate(value):
        if open_mark == '"' and before == "\\":
            before = ""
            continue
        if open_mark is None and character in "\"'":
            start = value[:place].rstrip()
            if not start or (flow and start[-1] in "[{,:"):
                open_mark = character
        elif open_mark == character:
            open_mark = None
        elif open_mark is None and character == "#" and before in (" ", "\t"):
            return None
        before = character
    return open_mark


def _quoted_start(look: _Look) -> _Found:
    """Text of which only the beginning is in quotes, or that begins with brackets."""
    match = _KEY.match(look.line)
    if match is None or not match["value"]:
        return None
    value = _COMMENT.sub("", match["value"]).rstrip()
    closing = {'"': '"', "'": "'", "[": "]", "{": "}"}.get(value[0])
    if closing is None:
        return None
    end = value.rfind(closing) if value[0] in "[{" else value.find(closing, 1)
    if end <= 0 or not value[end + 1 :].strip():
        return None
    what = (
        "put the whole text in single quotes, because a part of it is in quotes"
        if value[0] in "\"'"
        else f"put this text in quotes, because it begins with {value[0]}"
    )
    return look.at, what, _quoted(match, value)


def _special(look: _Look) -> _Found:
    match = _KEY.match(look.line)
    value = match["value"] if match else ""
    if match and value and value[0] in _SPECIAL and not value.startswith("!!"):
        if value[0] in "|>" and not re.fullmatch(r"[|>][-+\d]*(\s+#.*)?", value):
            what = f"put this text in quotes, or on the line below the {value[0]}"
        elif value[0] in "|>":
            return None
        else:
            what = f"put this text in quotes, because it begins with {value[0]}"
        return look.at, what, _quoted(match, value)
    if match and value[:1] in ("{", "["):
        for one in _FLOW_VALUE.finditer(look.line):
            if one["value"][0] in _SPECIAL and not one["value"].startswith("!!"):
                what = f"put this text in quotes, because it begins with {one['value'][0]}"
                return look.at, what, _quoted_part(look.line, *one.span("value"))
    return None


def _hash_in_flow(look: _Look) -> _Found:
    for number in (look.at, look.opened):
        line = look.lines[number]
        cut = re.search(r"\s#(?=\S)", line)
        if cut and _open_brackets(line[: cut.start()]) and "}" in line[cut.start() :]:
            what = (
                "the text is cut short at #, because # begins a comment. Put the text in quotes, "
                "or write the number in words"
            )
            return number, what, line[: cut.start()] + line[cut.end() :]
    return None


def _open_bracket(look: _Look) -> _Found:
    if "expected ',' or" not in look.problem and "flow" not in look.problem:
        return None
    line = _COMMENT.sub("", look.lines[look.opened]).rstrip()
    missing = _open_brackets(line)
    if not missing or not look.ends_before(look.opened):
        return None
    closing = "".join({"[": "]", "{": "}"}[one] for one in reversed(missing))
    what = f"the {missing[-1]} that opens in this line is never closed. Write {closing} at its end"
    return look.opened, what, line + closing


def _open_brackets(line: str) -> list[str]:
    found: list[str] = []
    for character in re.sub(r"\"[^\"]*\"|'[^']*'", "", line):
        if character in "[{":
            found.append(character)
        elif character in "]}" and found:
            found.pop()
    return found


def _no_blank_after_colon(look: _Look) -> _Found:
    for number in (look.opened, look.at, look.at - 1):
        line = look.lines[number] if number >= 0 else ""
        if _NO_BLANK.fullmatch(line) and "://" not in line:
            what = "write a space after the colon"
            return number, what, line.replace(":", ": ", 1)
    return None


def _colon(look: _Look) -> _Found:
    what = "put this text in quotes, because it has a colon in it"
    match = _KEY.match(look.line)
    value = _COMMENT.sub("", match["value"] if match else look.line.strip(" -")).rstrip()
    if value[:1] in ("{", "["):
        for one in re.finditer(
            r"(?<=[{,])\s*[a-z_]+: +(?P<value>[^'\"\[{,}]*?: [^,}]*)", look.line
        ):
            return look.at, what, _quoted_part(look.line, *one.span("value"))
        return None
    if match and match["gap"] and value[:1] not in ("'", '"', "") and re.search(r":(\s|$)", value):
        return look.at, what, _quoted(match, value)
    return None


def _no_dash(look: _Look) -> _Found:
    indent = _indent(look.line)
    if "'?'" not in look.problem or look.line.lstrip().startswith("-"):
        return None
    dashes = {_indent(line) for line in look.lines[: look.at] if line.lstrip().startswith("- ")}
    if indent not in dashes:
        return None
    what = "a dash is missing at the start of this line, because a new entry of the list begins"
    return look.at, what, f"{' ' * indent}- {look.line.lstrip()}"


def _indentation(look: _Look) -> _Found:
    structural = ("block", "mapping values are not allowed", "'-' indicator", "sequence entries")
    if not any(word in look.problem for word in structural) or not look.line.strip():
        return None
    indent = _indent(look.line)
    wanted = _nearest_indent(look.lines, look.at, indent)
    if wanted == indent:
        return None
    what = (
        f"this line is indented by {_spaces(indent)}, and what it belongs to by {wanted}. "
        "Line it up with the lines beside it"
    )
    return look.at, what, " " * wanted + look.line.lstrip()


def _no_colon(look: _Look) -> _Found:
    if "could not find expected ':'" not in look.problem:
        return None
    what = "this line has no colon. Write a key, a colon, a space and the value"
    return look.opened, what, None


def _nearest_indent(lines: list[str], number: int, indent: int) -> int:
    """Return the indentation nearest to `indent` that the lines above use for such a line."""
    dash = lines[number].lstrip().startswith("- ")
    columns: list[int] = []
    for line in reversed(lines[:number]):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        here = _indent(line)
        if dash == line.lstrip().startswith("- "):
            columns.append(here)
        elif not dash:
            columns.append(here + 2)
    return min(columns, key=lambda one: abs(one - indent), default=indent)


def _key_column(line: str) -> int:
    """Return where the first key of a line begins, behind the dashes of a list."""
    return len(line) - len(line.lstrip().lstrip("- "))


def _indent(line: str) -> int:
    return len(line) - len(line.lstrip())


def _spaces(count: int) -> str:
    return f"{count} space" if count == 1 else f"{count} spaces"


def _quoted(match: re.Match[str], value: str) -> str:
    line = match.string
    return f"{line[: match.start('value')]}{_in_quotes(value)}{match['value'][len(value) :]}"


def _quoted_part(line: str, start: int, end: int) -> str:
    return f"{line[:start]}{_in_quotes(line[start:end])}{line[end:]}"


def _in_quotes(value: str) -> str:
    return "'" + value.strip().replace("'", "''") + "'"


_CAUSES: tuple[Callable[[_Look], _Found], ...] = (
    _tab,
    _open_quote,
    _quoted_start,
    _special,
    _hash_in_flow,
    _open_bracket,
    _no_blank_after_colon,
    _colon,
    _no_dash,
    _indentation,
    _no_colon,
)
"""What may be the cause, what is surest first."""
