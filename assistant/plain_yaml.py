"""Reads YAML from untrusted files: plain data of bounded size.

A tag could construct any object, and aliases of aliases (“a billion laughs”) can turn a page of
text into more nodes than fit into memory. Therefore tags are refused, every use of an alias counts
as all the nodes that it stands for, and the depth and the number of nodes are bounded. Strings,
numbers, dates, lists and maps remain.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ruamel.yaml import YAML
from ruamel.yaml.composer import Composer, ComposerError
from ruamel.yaml.constructor import ConstructorError, RoundTripConstructor
from ruamel.yaml.error import MarkedYAMLError, StringMark, YAMLError
from ruamel.yaml.events import AliasEvent
from ruamel.yaml.nodes import ScalarNode
from ruamel.yaml.reader import ReaderError

MOST_BYTES = 1_000_000
"""Largest file. People write these files by hand, so a larger one is a mistake."""
MOST_NODES = 100_000
"""Most values and keys in one file; those that an alias repeats count each time."""
MOST_DEPTH = 40
"""Most levels of lists and maps in each other."""
_LONGEST_NUMBER = 100
"""Most characters of a number."""


def load(text: str) -> Any:
    """Return the one document in `text`, with line numbers, as ruamel's round-trip loader does.

    Raises YAMLError for text that is not YAML or that this module refuses, and no other error. It
    is a MarkedYAMLError if the error has a place in the text.
    """
    if len(text) > MOST_BYTES:
        raise YAMLError(f"longer than such a file can be ({MOST_BYTES} bytes)")
    yaml = YAML(typ="rt", pure=True)
    yaml.Composer = _Composer
    yaml.Constructor = _Constructor
    try:
        return yaml.load(text)
    except ReaderError as error:
        found = error.character
        code = found if isinstance(found, int) else ord(found)
        at = text.find(chr(code))
        mark = StringMark("", at, text.count("\n", 0, max(at, 0)), 0, text, at)
        problem = f"the character U+{code:04X} is not allowed here; delete it"
        raise MarkedYAMLError(None, None, problem, mark) from None


class _Composer(Composer):
    """Counts nodes as they are composed, before objects are constructed from them."""

    def __init__(self, loader: Any = None) -> None:
        super().__init__(loader=loader)
        self.warn_double_anchors = False  # in YAML the later one counts
        self._nodes = 0
        self._nested = 0
        self._sizes: dict[str, int] = {}

    def compose_node(self, parent: Any, index: Any) -> Any:
        event = self.parser.peek_event()
        if isinstance(event, AliasEvent):
            size = self._sizes.get(event.anchor)
            if size is None and event.anchor in self.anchors:
                self._refuse(f"*{event.anchor} is used inside what it stands for", event)
            self._count(size or 1, event)
            return super().compose_node(parent, index)
        if getattr(event, "tag", None) is not None:
            self._refuse(f"tags such as {event.tag} are not allowed; write only the value", event)
        before = self._nodes
        self._count(1, event)
        self._nested += 1
        if self._nested > MOST_DEPTH:
            self._refuse(f"nested too deeply (more than {MOST_DEPTH} levels)", event)
        if event.anchor is not None:
            self._sizes.pop(event.anchor, None)
        node = super().compose_node(parent, index)
        self._nested -= 1
        if event.anchor is not None:
            self._sizes[event.anchor] = self._nodes - before
        return node

    def _count(self, nodes: int, event: Any) -> None:
        self._nodes += nodes
        if self._nodes > MOST_NODES:
            self._refuse(f"more than {MOST_NODES} values, with those that aliases repeat", event)

    def _refuse(self, problem: str, event: Any) -> None:
        raise ComposerError(None, None, problem, event.start_mark)


class _Constructor(RoundTripConstructor):
    """Turns values that Python's types refuse (31 February) into an error with its line."""

    def check_mapping_key(
        self, node: Any, key_node: Any, mapping: Any, key: Any, value: Any
    ) -> Any:
        if not isinstance(key_node, ScalarNode):
            problem = "a list or map cannot be the name of a value"
            raise ConstructorError(None, None, problem, key_node.start_mark)
        return super().check_mapping_key(node, key_node, mapping, key, value)

    def construct_non_recursive_object(self, node: Any, tag: Any = None) -> Any:
        make: Callable[..., Any] = super().construct_non_recursive_object
        kind = str(tag or node.tag)
        if kind.endswith((":int", ":float")) and len(node.value) > _LONGEST_NUMBER:
            raise ConstructorError(
                None, None, "a number too long to be right; put it in quotes", node.start_mark
            )
        try:
            return make(node, tag)
        except (ValueError, ArithmeticError, LookupError, TypeError, AttributeError):
            value = node.value if isinstance(node.value, str) else kind
            problem = (
                f"{value[:40]!r} looks like a date or a number but is not one; put it in quotes"
            )
            raise ConstructorError(None, None, problem, node.start_mark) from None
