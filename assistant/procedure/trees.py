"""What the tree of a YAML file tells beside its values: lines, and how things were written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.scalarfloat import ScalarFloat

from assistant.grammar import numbers
from assistant.procedure.problems import Fault, Place


def plain(node: Any) -> Any:
    """Return the YAML tree as plain dicts and lists."""
    if isinstance(node, CommentedMap):
        return {str(key): plain(value) for key, value in node.items()}
    if isinstance(node, CommentedSeq):
        return [plain(value) for value in node]
    if isinstance(node, ScalarFloat):
        return _as_written(node)
    return node


def _as_written(number: ScalarFloat) -> float | str:
    """Return a number as text where it ends in a zero: revision 1.10 is not 1.1."""
    # The round-trip loader keeps how many characters there were, and the point's place in them.
    width, point = getattr(number, "_width", 0), getattr(number, "_prec", 0)
    decimals = width - point - 1 if getattr(number, "_exp", None) is None else 0
    text = f"{float(number):.{max(decimals, 0)}f}"
    return text if decimals > 0 and text.endswith("0") else float(number)


def names_with_figures(tree: Any, place: Place = ()) -> Iterator[Fault]:
    """Yield how names with figures are said."""
    if isinstance(tree, CommentedMap):
        name = tree.get("name")
        if isinstance(name, str) and len(place) > 1 and re.search(r"\d", name):
            said = numbers.name_as_said(name)
            # A stage, a question and a tool have texts for names, which are spoken and never heard.
            texts = place[0] in ("tools", "consumables") or place[-1] == "question"
            if not texts and not (place[0] == "stages" and len(place) == 2):
                yield (*place, "name"), f"'{name}' is said “{said}”"
        for key, value in tree.items():
            yield from names_with_figures(value, (*place, key))
    elif isinstance(tree, CommentedSeq):
        for number, value in enumerate(tree):
            yield from names_with_figures(value, (*place, number))


def line(tree: Any, where: Place) -> int:
    """Return the line, from 1, of the deepest part of `where` that the file holds."""
    node, found = tree, 1
    for part in where:
        if isinstance(node, CommentedMap) and part in node:
            found = node.lc.key(part)[0] + 1
        elif isinstance(node, CommentedSeq) and isinstance(part, int) and part < len(node):
            found = node.lc.item(part)[0] + 1
        else:
            # pydantic adds the branch of a union to the place; the file has no such key.
            continue
        node = node[part]
    return found
