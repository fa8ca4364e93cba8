"""Writes YAML with comments above its keys and entries, for files that people go on with."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Sequence
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarstring import DoubleQuotedScalarString

_WIDTH = 100
_INDENT = 2
_NO_CHARACTER = {0xFFFE: None, 0xFFFF: None}
"""What YAML takes nowhere but in quotes with escapes (YAML 1.2.2, 5.1)."""


class Commented:
    """A map whose keys and list entries have comments. It is put into a file once, as a whole."""

    def __init__(self) -> None:
        self._entries: list[tuple[str, Any, Sequence[str], Sequence[Sequence[str]]]] = []

    def put(self, key: str, value: Any, comments: Sequence[str] = ()) -> None:
        """Add a key with the comments that stand above it."""
        self._entries.append((key, value, comments, ()))

    def put_list(
        self, key: str, values: Sequence[tuple[Any, Sequence[str]]], comments: Sequence[str] = ()
    ) -> None:
        """Add a key with a list, each of its entries with the comments that stand above it."""
        entries = [value for value, _ in values]
        self._entries.append((key, entries, comments, [said for _, said in values]))

    def tree(self, depth: int = 0) -> CommentedMap:
        """Return the map as ruamel writes it; `depth` is how many columns it is indented by."""
        found = CommentedMap()
        for key, value, comments, of_entries in self._entries:
            found[key] = _tree(value, depth)
            if comments:
                above = _comment(comments, depth)
                found.yaml_set_comment_before_after_key(key, before=above, indent=depth)
            for number, said in enumerate(of_entries):
                if said:
                    above = _comment(said, depth + _INDENT)
                    found[key].yaml_set_comment_before_after_key(
                        number, before=above, indent=depth + _INDENT
                    )
        return found


def _tree(value: Any, depth: int) -> Any:
    if isinstance(value, Commented):
        return value.tree(depth)
    if isinstance(value, list) and not isinstance(value, CommentedSeq):
        return CommentedSeq(_tree(one, depth + 2 * _INDENT) for one in value)
    return value


def flow(value: Any) -> Any:
    """Return a map to be written on one line, {name: cover, count: 2}, or a list of such maps: one
    on the line of its key, several on a line each.
    """
    found: CommentedMap | CommentedSeq
    if isinstance(value, dict):
        found = CommentedMap({key: _quoted(one) for key, one in value.items()})
    else:
        found = CommentedSeq(map(flow, value))
    if isinstance(value, dict) or len(value) == 1:
        found.fa.set_flow_style()
    return found


def _quoted(value: Any) -> Any:
    """Return a text in quotes where it begins with a question mark: ruamel writes it without them,
    and on one line it reads it as the sign of a key.
    """
    if isinstance(value, str) and value.startswith("?"):
        return DoubleQuotedScalarString(value)
    return value


def _comment(lines: Sequence[str], depth: int) -> str:
    """Return lines as one comment: each begins at the margin, and goes on indented."""
    width = _WIDTH - depth - len("# ")
    found = []
    for line in lines:
        clean = " ".join(line.translate(_NO_CHARACTER).split())
        found += textwrap.wrap(clean, width, subsequent_indent="  ") or [""]
    return "\n".join(found)


def text_of(file: Commented) -> str:
    """Return a file's text."""
    yaml = YAML(typ="rt", pure=True)
    yaml.width = _WIDTH
    yaml.indent(mapping=_INDENT, sequence=2 * _INDENT, offset=_INDENT)
    out = io.StringIO()
    yaml.dump(file.tree(), out)
    return out.getvalue()
