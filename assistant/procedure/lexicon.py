"""The names of the trade, for a job that has no written procedure: nouns and their qualifiers.

All of them at once would be slow, and full of pairs that are one phone apart. So each kind of
machine has a short list of its own, which is what is listened for with the names of the kit and of
the job. The lists come with the program (`grammars/trade.yaml`, which tells the form); a shop's own
list is a file with the keys of one machine there.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from ruamel.yaml.comments import CommentedMap, CommentedSeq
from ruamel.yaml.error import MarkedYAMLError, YAMLError

from assistant import plain_yaml, resources
from assistant.errors import AssistantError
from assistant.grammar import nouns as grammar_nouns
from assistant.text import did_you_mean, plain

CLASSES = ("where", "how long", "of what", "which")
"""What a qualifier tells. A name keeps its qualifiers in this order: "upper long bolt"."""

_LONGEST = 60
_MOST_NOUNS = 500
"""Most nouns of one list. A list of this length is heard badly; a longer one is a mistake."""
_SAID = re.compile(r"[a-z][a-z']*(?: [a-z][a-z']*)*")
_LIST_KEYS = ("title", "like", "nouns", "qualifiers", "without")
_STORE_KEYS = ("nouns", "qualifiers", "common", "machines")


@dataclass(frozen=True)
class Noun:
    """What a thing is called, in small letters: "o ring", "bush"."""

    name: str
    plural: str


@dataclass(frozen=True)
class Lexicon:
    """The names that are live for one machine."""

    title: str
    """What the machine is called, or the kind of machine."""
    nouns: tuple[Noun, ...]
    """Each name once, in the order of the list; those common to all machines come first."""
    qualifiers: tuple[tuple[str, tuple[str, ...]], ...]
    """Words that can stand before a noun, by class, in the order of `CLASSES`; none is empty."""

    def qualifier_words(self) -> tuple[str, ...]:
        """Return every qualifier, in the order of the classes."""
        return tuple(word for _, words in self.qualifiers for word in words)


def kinds() -> dict[str, str]:
    """Return the kinds of machine that come with the program: name to title."""
    return {kind: one.title for kind, one in _shipped().lists.items()}


def singular(plural: str) -> str | None:
    """Return the noun of the store that has this plural, or is this; None for other words."""
    return _singulars().get(plural)


@cache
def _singulars() -> dict[str, str]:
    store = _shipped().nouns
    return {plural: name for name, plural in store.items()} | {name: name for name in store}


def read(machine: str | Path) -> Lexicon:
    """Return the names live for a kind of machine, or for a machine with a list of the shop's.

    `machine` is one of `kinds()`, or the path of a YAML file. Raises AssistantError, with file and
    line where it is about a file.
    """
    shipped = _shipped()
    if isinstance(machine, str) and machine in shipped.lists:
        return _live(shipped.lists[machine], shipped)
    try:
        path = Path(machine).expanduser()
        is_file = path.is_file()
    except (OSError, RuntimeError, ValueError) as error:
        name = str(machine)[:80]
        raise AssistantError(f"Cannot look for the list of names {name!r}: {error}.") from None
    if is_file:
        own = _Reader(str(path), _loaded(path), shipped).shop_list()
        return _live(own, shipped)
    if path.suffix in (".yaml", ".yml") or len(path.parts) > 1:
        raise AssistantError(f"There is no list of names at {path}. Check the path.")
    known = ", ".join(shipped.lists)
    raise AssistantError(
        f"There is no list of names for the machine {str(machine)[:80]!r}."
        f"{did_you_mean(str(machine)[:80], shipped.lists)} The kinds are {known}; or give the path "
        "of a YAML file with a list of your own."
    )


@dataclass(frozen=True)
class _List:
    """One list as it is written: only its own names, and what it takes from others."""

    title: str
    nouns: Mapping[str, str]
    """Name to plural."""
    qualifiers: Mapping[str, str]
    """Word to class."""
    without: frozenset[str] = frozenset()
    like: str | None = None


@dataclass(frozen=True)
class _Store:
    """What `grammars/trade.yaml` holds."""

    nouns: Mapping[str, str]
    qualifiers: Mapping[str, str]
    common: _List
    lists: Mapping[str, _List]


@cache
def _shipped() -> _Store:
    path = resources.folder("grammars") / "trade.yaml"
    return _Reader(str(path), _loaded(path), None).store()


def _live(own: _List, store: _Store) -> Lexicon:
    chain = [own]
    if own.like is not None:
        chain.insert(0, store.lists[own.like])
    chain.insert(0, store.common)
    nouns: dict[str, str] = {}
    qualifiers: dict[str, str] = {}
    for one in chain:
        # What a list leaves out is of the lists before it.
        for name in one.without:
            nouns.pop(name, None)
            qualifiers.pop(name, None)
        nouns.update(one.nouns)
        qualifiers.update(one.qualifiers)
    by_class = ((kind, tuple(w for w, k in qualifiers.items() if k == kind)) for kind in CLASSES)
    return Lexicon(
        own.title,
        tuple(Noun(name, plural) for name, plural in nouns.items()),
        tuple((kind, words) for kind, words in by_class if words),
    )


def _loaded(path: Path) -> Any:
    try:
        if path.stat().st_size > plain_yaml.MOST_BYTES:
            raise AssistantError(
                f"{path}:1: larger than a list of names can be ({plain_yaml.MOST_BYTES} bytes)."
            )
        return plain_yaml.load(path.read_text(encoding="utf-8-sig"))
    except OSError as error:
        raise AssistantError(
            f"{path}: cannot read this list of names: {error.strerror or error}."
        ) from None
    except UnicodeDecodeError as error:
        raise AssistantError(
            f"{path}: not UTF-8 text (byte {error.start}). Save the file as UTF-8."
        ) from None
    except YAMLError as error:
        mark = None
        if isinstance(error, MarkedYAMLError):
            mark = error.problem_mark or error.context_mark
        problem = getattr(error, "problem", None) or str(error)
        line = mark.line + 1 if mark else 1
        raise AssistantError(f"{path}:{line}: {str(problem).splitlines()[0]}.") from None


class _Reader:
    """Reads one file. Names that the store has keep its plural and class."""

    def __init__(self, source: str, tree: Any, store: _Store | None) -> None:
        self._source = source
        self._tree = tree
        self._nouns = dict(store.nouns) if store else {}
        self._qualifiers = dict(store.qualifiers) if store else {}
        self._lists = dict(store.lists) if store else {}
        self._open = store is not None
        """Whether a list may bring words that the store has not."""

    def store(self) -> _Store:
        """Read the file that comes with the program."""
        self._know(self._tree, _STORE_KEYS, 1)
        self._open = True
        self._nouns = self._noun_map(self._tree, "nouns")
        self._qualifiers = self._qualifier_map(self._tree, "qualifiers")
        self._open = False
        common = self._list(self._tree["common"], self._key_line(self._tree, "common"), "common")
        machines = self._tree["machines"]
        for kind in machines:
            self._lists[kind] = self._list(machines[kind], self._key_line(machines, kind), kind)
        return _Store(self._nouns, self._qualifiers, common, self._lists)

    def shop_list(self) -> _List:
        """Read a list of the shop's own."""
        if isinstance(self._tree, CommentedMap) and "machines" in self._tree:
            raise self._error(
                self._key_line(self._tree, "machines"),
                "one file holds the list of one machine; write a file for each, with the keys "
                + ", ".join(_LIST_KEYS),
            )
        return self._list(self._tree, 1, Path(self._source).stem)

    def _list(self, node: Any, line: int, title: str) -> _List:
        self._know(node, _LIST_KEYS, line)
        written = node.get("title", title)
        if not isinstance(written, str) or not 0 < len(plain(written).strip()) <= _LONGEST:
            raise self._error(
                self._key_line(node, "title") if "title" in node else line,
                f"title: expected what the machine is called, at most {_LONGEST} characters",
            )
        like = node.get("like")
        if like is not None and (not isinstance(like, str) or like not in self._lists):
            raise self._error(
                self._key_line(node, "like"),
                f"like: no machine {str(like)[:60]!r} comes with the program; those that do are "
                + ", ".join(self._lists),
            )
        nouns = self._noun_map(node, "nouns")
        qualifiers = self._qualifier_map(node, "qualifiers")
        return _List(plain(written).strip(), nouns, qualifiers, self._without(node), like)

    def _noun_map(self, tree: CommentedMap, key: str) -> dict[str, str]:
        """Read nouns: a list of names, or a map of names to plurals, which may be left empty."""
        found: dict[str, str] = {}
        for name, plural, line in self._named(tree, key):
            name = self._said(name, line, "a name")
            if name in found:
                raise self._error(line, f"the name {name!r} is here twice; delete one")
            if name in self._nouns and plural is None:
                found[name] = self._nouns[name]
            elif self._open:
                found[name] = (
                    grammar_nouns.plural(name)
                    if plural is None
                    else self._said(plural, line, f"the plural of {name!r}")
                )
            else:
                raise self._error(line, f"the name {name!r} is not among the nouns above")
        if len(found) > _MOST_NOUNS:
            raise self._error(
                self._key_line(tree, key), f"more than {_MOST_NOUNS} nouns; keep what is used"
            )
        return found

    def _named(self, tree: CommentedMap, key: str) -> Iterable[tuple[Any, Any, int]]:
        """Yield each entry under a key as (name, plural or None, line)."""
        node = tree.get(key)
        if node is None:
            return
        if isinstance(node, CommentedSeq):
            for place, entry in enumerate(node):
                line = node.lc.item(place)[0] + 1
                if isinstance(entry, CommentedMap):
                    for name, plural in entry.items():
                        yield name, plural, self._key_line(entry, name)
                else:
                    yield entry, None, line
        elif isinstance(node, CommentedMap):
            for name, plural in node.items():
                yield name, plural, self._key_line(node, name)
        else:
            raise self._error(
                self._key_line(tree, key),
                f"{key}: expected a list of names, such as [bolt, nut], or names with their "
                "plurals, such as bush: bushes",
            )

    def _qualifier_map(self, tree: CommentedMap, key: str) -> dict[str, str]:
        """Read qualifiers: by class, or as a list of words that the store has."""
        node = tree.get(key)
        if node is None:
            return {}
        if isinstance(node, CommentedSeq):
            found: dict[str, str] = {}
            for place, entry in enumerate(node):
                line = node.lc.item(place)[0] + 1
                word = self._said(entry, line, "a qualifier")
                if word not in self._qualifiers:
                    raise self._error(
                        line,
                        f"the qualifier {word!r} is new, so it has to stand under what it tells: "
                        + ", ".join(CLASSES),
                    )
                found[word] = self._qualifiers[word]
            return found
        self._know(node, CLASSES, self._key_line(tree, key))
        found = {}
        for kind, words in node.items():
            line = self._key_line(node, kind)
            if not isinstance(words, CommentedSeq):
                raise self._error(line, f"{kind}: expected a list of words, such as [upper, lower]")
            for place, entry in enumerate(words):
                line = words.lc.item(place)[0] + 1
                word = self._said(entry, line, "a qualifier")
                if word in found:
                    raise self._error(line, f"the qualifier {word!r} is here twice; delete one")
                found[word] = kind
        return found

    def _without(self, node: CommentedMap) -> frozenset[str]:
        names = node.get("without")
        if names is None:
            return frozenset()
        if not isinstance(names, CommentedSeq):
            raise self._error(
                self._key_line(node, "without"), "without: expected a list of names to leave out"
            )
        found = set()
        for place, entry in enumerate(names):
            line = names.lc.item(place)[0] + 1
            name = self._said(entry, line, "a name")
            if name not in self._nouns and name not in self._qualifiers:
                known = (*self._nouns, *self._qualifiers)
                raise self._error(
                    line,
                    f"without: there is no name {name!r} to leave out.{did_you_mean(name, known)}",
                )
            found.add(name)
        return frozenset(found)

    def _said(self, value: Any, line: int, what: str) -> str:
        """Return a value as words to be said: small letters, single blanks, no hyphens."""
        text = " ".join(value.lower().replace("-", " ").split()) if isinstance(value, str) else ""
        if not _SAID.fullmatch(text) or len(text) > _LONGEST:
            raise self._error(
                line,
                f"expected {what} to be said aloud (letters only, numbers spelt out, at most "
                f"{_LONGEST} characters), found {str(value)[:60]!r}. Put yes, no, on and off in "
                "quotes",
            )
        return text

    def _know(self, node: Any, keys: Iterable[str], line: int) -> None:
        keys = tuple(keys)
        if not isinstance(node, CommentedMap):
            raise self._error(line, f"expected the keys {', '.join(keys)}")
        for key in node:
            if key not in keys:
                raise self._error(
                    self._key_line(node, key),
                    f"unknown key {str(key)[:60]!r}; known keys are {', '.join(keys)}",
                )

    @staticmethod
    def _key_line(node: Any, key: Any) -> int:
        try:
            return int(node.lc.key(key)[0]) + 1
        except KeyError:
            # A key that came by a merge (<<) has no line of its own here.
            return int(node.lc.line) + 1

    def _error(self, line: int, what: str) -> AssistantError:
        return AssistantError(f"{self._source}:{line}: {what}{'' if what[-1] in '.?' else '.'}")
