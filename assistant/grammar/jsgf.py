"""Grammars in JSGF 1.0, the JSpeech Grammar Format (W3C Note, 5 June 2000).

Reads and checks a grammar, parses sentences with it, and builds the finite-state network that a
recogniser searches. One rule is added to the Note: `<GARBAGE>` of W3C SRGS 1.0, which stands for
any speech. Case does not matter in words.

A grammar may come from a stranger's file, so its size, its nesting and its recursion are bounded.
"""

import math
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache, cached_property
from pathlib import Path
from typing import TypeAlias

from lark import Lark, Token, Tree
from lark.exceptions import UnexpectedCharacters, UnexpectedInput, UnexpectedToken

from assistant.errors import AssistantError
from assistant.grammar.network import GARBAGE, Arc, Network, cover

__all__ = ["GARBAGE", "Arc", "Grammar", "Network", "Node", "Rule", "cover", "parse", "read"]

_SYNTAX = r"""
start: HEADER name import_* rule*
name: "grammar" TOKEN ";"
import_: "import" RULENAME ";"
rule: [PUBLIC] RULENAME "=" alternatives ";"
alternatives: branch ("|" branch)*
branch: [WEIGHT] sequence
sequence: item+
item: (TOKEN | STRING | RULENAME | group | option) (STAR | PLUS | TAG)*
group: "(" alternatives ")"
option: "[" alternatives "]"

HEADER: /#JSGF[ \t]+[Vv]1\.0[^;\n]*;/
PUBLIC: "public"
RULENAME: /<[^<>\s]+>/
WEIGHT: /\/\s*(\d+\.?\d*|\.\d+)([eE][-+]?\d+)?[fFdD]?\s*\//
STAR: "*"
PLUS: "+"
TAG: /\{([^\\}]|\\(.|\n))*\}/
STRING: /"([^\\"]|\\(.|\n))*"/
TOKEN: /([^\s;=|*+<>()\[\]{}\/"\\]|\\.)+/
COMMENT: /\/\/[^\n]*/ | /\/\*(.|\n)*?\*\//
%import common.WS
%ignore WS
%ignore COMMENT
"""

_PLAIN_NAMES = {
    "HEADER": "the header '#JSGF V1.0;'",
    "GRAMMAR": "'grammar NAME;'",
    "IMPORT": "'import'",
    "PUBLIC": "'public'",
    "RULENAME": "a rule name like <this>",
    "TOKEN": "a word",
    "STRING": "a quoted word",
    "WEIGHT": "a weight like /2/",
    "TAG": "a {tag}",
    "STAR": "'*'",
    "PLUS": "'+'",
    "EQUAL": "'='",
    "SEMICOLON": "';'",
    "VBAR": "'|'",
    "LPAR": "'('",
    "RPAR": "')'",
    "LSQB": "'['",
    "RSQB": "']'",
    "$END": "the end of the file",
}


@dataclass(frozen=True, eq=False)
class Word:
    """One word, casefolded."""

    text: str


@dataclass(frozen=True, eq=False)
class Reference:
    """A reference to a rule, by its name without brackets, or to NULL, VOID or GARBAGE."""

    name: str
    line: int


@dataclass(frozen=True, eq=False)
class Sequence_:
    """Parts said one after another. An empty sequence is silence, and so is `<NULL>`."""

    parts: "tuple[Expansion, ...]"


@dataclass(frozen=True, eq=False)
class Alternatives:
    """Branches, of which one is said. Their weights are relative and need not add up to 1."""

    branches: "tuple[Expansion, ...]"
    weights: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Option:
    """A part that may be left out."""

    part: "Expansion"


@dataclass(frozen=True, eq=False)
class Repeat:
    """A part said any number of times, at least `least` (0 for `*`, 1 for `+`)."""

    part: "Expansion"
    least: int


@dataclass(frozen=True, eq=False)
class Tagged:
    """A part with the tags attached to it, in order."""

    part: "Expansion"
    tags: tuple[str, ...]


Expansion: TypeAlias = Word | Reference | Sequence_ | Alternatives | Option | Repeat | Tagged

_MOST_BYTES = 1_000_000
_MOST_RULES = 1000
_MOST_DEPTH = 40
_MOST_PARTS = 200_000
"""Bounds on a grammar: bytes, rules, levels, and parts with every rule written out. A rule that
uses another one twice can double the parts with each line. The largest grammar that a bench
listens for has a hundredth of these parts."""

_SPECIAL = {"NULL", "VOID", "GARBAGE"}


@dataclass(frozen=True, eq=False)
class Rule:
    """A rule: its name without brackets, its expansion, and the line on which it starts."""

    name: str
    public: bool
    expansion: Expansion
    line: int


@dataclass(frozen=True)
class Node:
    """A node of a parse tree: one rule, its tags, and the words and rules that it consists of.

    `start` is the index of its first word in the sentence, from 0. The tags of the rules inside it
    belong to their own nodes.
    """

    rule: str
    tags: tuple[str, ...]
    children: "tuple[Node | str, ...]"
    start: int = 0

    def words(self) -> tuple[str, ...]:
        """Return all words under this node, casefolded."""
        said: list[str] = []
        for child in self.children:
            if isinstance(child, str):
                said.append(child)
            else:
                said.extend(child.words())
        return tuple(said)

    def walk(self) -> "Iterator[Node]":
        """Yield this node and all nodes under it, each before its children."""
        yield self
        for child in self.children:
            if isinstance(child, Node):
                yield from child.walk()

    def find(self, rule: str) -> "Node | None":
        """Return the first node of a rule, at or under this one; None if there is none."""
        return next(self.find_all(rule), None)

    def find_all(self, rule: str) -> "Iterator[Node]":
        """Yield every node of a rule, at or under this one, in the order of the words."""
        return (node for node in self.walk() if node.rule == rule)


@dataclass(frozen=True, eq=False)
class Grammar:
    """A checked grammar.

    `rules` holds every rule by its name; imported rules have the name of their grammar in front.
    `public` names the public rules; a sentence is whatever one of them allows. Raises
    AssistantError if the rules are too many, too deep, or recursive in a way that JSGF forbids.
    """

    name: str
    rules: dict[str, Rule]
    public: tuple[str, ...]
    source: str = "<grammar>"
    _facts: "_Facts" = field(init=False, repr=False)

    def __post_init__(self) -> None:
        if len(self.rules) > _MOST_RULES:
            raise AssistantError(
                f"{self.source}: has {len(self.rules)} rules, with the imported ones; at most "
                f"{_MOST_RULES} are allowed."
            )
        with _bounded_depth(self.source):
            object.__setattr__(self, "_facts", _Facts(self.rules, self.source))
            for rule in self.rules.values():
                self._facts.first(rule.expansion)

    def words(self) -> set[str]:
        """Return every word that a sentence can contain, casefolded."""
        return {arc.word for arc in self.network().arcs if arc.word and arc.word != GARBAGE}

    def network(self) -> Network:
        """Return the network of all sentences, with tags on its arcs; built once."""
        return self._network

    @cached_property
    def _network(self) -> Network:
        with _bounded_depth(self.source):
            return _Builder(self.rules, self._facts, self.source).build(self.public)

    def parse_words(self, words: Sequence[str]) -> Iterator[Node]:
        """Yield every parse of these words as a sentence; none if they are not one.

        The first parse takes the earliest alternative that leads to a sentence, takes an optional
        part rather than leaving it out, and repeats as often as possible. Raises AssistantError
        for a sentence too long to parse.
        """
        heard = tuple(word.casefold() for word in words)
        return _Parser(self.rules, self._facts, heard).sentences(self.public)

    def parse_first(self, words: Sequence[str]) -> Node | None:
        """Return the first parse of these words, or None if they are not a sentence."""
        return next(self.parse_words(words), None)


@contextmanager
def _bounded_depth(source: str) -> Iterator[None]:
    try:
        yield
    except RecursionError:
        raise AssistantError(
            f"{source}: rules are nested in rules too deeply; make the grammar flatter."
        ) from None


def read(path: Path) -> Grammar:
    """Read a grammar from a file, in the encoding that its header names, or else in UTF-8.

    Raises AssistantError, with file and line, if it cannot be read or is wrong.
    """
    return parse(_text(path), str(path))


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise AssistantError(f"{path}:1: larger than a grammar can be ({_MOST_BYTES} bytes).")
        data = path.read_bytes()
    except OSError as error:
        raise AssistantError(
            f"{path}: cannot read this grammar: {error.strerror or error}."
        ) from None
    header = re.match(rb"(?:\xef\xbb\xbf)?#JSGF\s+\S+[ \t]+([\w.:-]+)", data.split(b";")[0])
    encoding = header.group(1).decode() if header else "utf-8-sig"
    try:
        return data.decode("utf-8-sig" if encoding.lower() in ("utf-8", "utf8") else encoding)
    except LookupError:
        raise AssistantError(
            f"{path}:1: unknown character encoding {encoding!r} in the header; "
            "expected one such as UTF-8."
        ) from None
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise AssistantError(
            f"{path}:{line}: this is not text in {error.encoding}; save the grammar as UTF-8, or "
            "name its encoding in the header."
        ) from None
    except UnicodeError:
        raise AssistantError(
            f"{path}:1: this is not text in {encoding}; save the grammar as UTF-8."
        ) from None


def parse(text: str, source: str = "<grammar>") -> Grammar:
    """Read a grammar from a text; imported grammars are looked for beside the file `source`.

    `import <com.shop.numbers.*>` is read from `com/shop/numbers.gram`, `com.shop.numbers.gram` or
    `numbers.gram`, the first that exists. Raises AssistantError, with file and line, for any
    mistake.
    """
    module = _read_module(text, source, ())
    public = tuple(
        rule.name for rule in module.rules.values() if rule.public and rule.name in module.own
    )
    if not public:
        raise AssistantError(
            f"{source}:{text.count(chr(10)) + 1}: expected at least one public rule, found none; "
            "write 'public' before the rule that can be said."
        )
    return Grammar(module.name, module.rules, public, source)


_GRAMMAR_NAME = re.compile(r"[\w$-]+(\.[\w$-]+)*")


@dataclass
class _Module:
    name: str
    rules: dict[str, Rule]
    own: set[str]


@cache
def _lark() -> Lark:
    return Lark(_SYNTAX, parser="lalr", propagate_positions=True)


def _read_module(text: str, source: str, importing: tuple[str, ...]) -> _Module:
    if len(text) > _MOST_BYTES:
        raise AssistantError(f"{source}:1: larger than a grammar can be ({_MOST_BYTES} bytes).")
    try:
        tree = _lark().parse(text.removeprefix("\ufeff"))
    except UnexpectedInput as error:
        raise AssistantError(_syntax_error(error, text, source)) from None
    name = str(tree.children[1].children[0])  # type: ignore[union-attr]
    rule_trees = [
        child for child in tree.children if isinstance(child, Tree) and child.data == "rule"
    ]
    own: set[str] = set()
    for rule_tree in rule_trees:
        token = _token(rule_tree.children[1])
        rule_name = token[1:-1]
        if rule_name in _SPECIAL:
            raise AssistantError(
                f"{source}:{token.line}: <{rule_name}> is built in and cannot be defined; "
                "expected another name."
            )
        if rule_name in own:
            raise AssistantError(
                f"{source}:{token.line}: <{rule_name}> is defined a second time; expected each "
                "rule once."
            )
        own.add(rule_name)
    rules: dict[str, Rule] = {}
    imported: dict[str, str] = {}
    for child in tree.children:
        if isinstance(child, Tree) and child.data == "import_":
            token = _token(child.children[0])
            _import(token, source, (*importing, name), rules, imported)
    reader = _ExpansionReader(source, name, own, imported)
    for rule_tree in rule_trees:
        token = _token(rule_tree.children[1])
        expansion = reader.alternatives(_tree(rule_tree.children[2]))
        public = rule_tree.children[0] is not None
        rules[token[1:-1]] = Rule(token[1:-1], public, expansion, token.line or 0)
    return _Module(name, rules, own)


def _import(
    token: Token,
    source: str,
    importing: tuple[str, ...],
    rules: dict[str, Rule],
    imported: dict[str, str],
) -> None:
    where = f"{source}:{token.line}"
    grammar_name, _, wanted = token[1:-1].rpartition(".")
    if not grammar_name:
        raise AssistantError(
            f"{where}: expected import <GRAMMAR.RULE> or <GRAMMAR.*>, found {token}."
        )
    if not _GRAMMAR_NAME.fullmatch(grammar_name):
        # A name with slashes could lead out of the grammar's own folder.
        raise AssistantError(
            f"{where}: {grammar_name} is not the name of a grammar; expected words with dots "
            "between them."
        )
    if grammar_name in importing:
        raise AssistantError(
            f"{where}: {grammar_name} imports itself, directly or through others; remove one of "
            "the imports."
        )
    folder = Path(source).parent
    candidates = [
        folder / (grammar_name.replace(".", "/") + ".gram"),
        folder / (grammar_name + ".gram"),
        folder / (grammar_name.rpartition(".")[2] + ".gram"),
    ]
    path = next((candidate for candidate in candidates if candidate.is_file()), None)
    if path is None:
        looked = ", ".join(str(candidate) for candidate in dict.fromkeys(candidates))
        raise AssistantError(
            f"{where}: cannot find the imported grammar {grammar_name}; expected one of {looked}."
        )
    module = _read_module(_text(path), str(path), importing)
    if module.name != grammar_name:
        raise AssistantError(
            f"{path}:1: expected the grammar {grammar_name} that {source} imports, found "
            f"{module.name}."
        )

    def full(rule: str) -> str:
        return f"{grammar_name}.{rule}" if rule in module.own else rule

    for rule in module.rules.values():
        rules[full(rule.name)] = Rule(
            full(rule.name), rule.public, _renamed(rule.expansion, full), rule.line
        )
    chosen = [name for name in module.own if module.rules[name].public and wanted in ("*", name)]
    if not chosen:
        raise AssistantError(
            f"{where}: {path} has no public rule {'at all' if wanted == '*' else f'<{wanted}>'}; "
            "only public rules can be imported."
        )
    last_name = grammar_name.rpartition(".")[2]
    for name in chosen:
        for alias in (name, f"{last_name}.{name}", f"{grammar_name}.{name}"):
            imported[alias] = f"{grammar_name}.{name}"


def _renamed(expansion: Expansion, full: Callable[[str], str]) -> Expansion:
    """Return the expansion with every reference under its full name."""
    match expansion:
        case Word():
            return expansion
        case Reference(name, line):
            return expansion if name in _SPECIAL else Reference(full(name), line)
        case Sequence_(parts):
            return Sequence_(tuple(_renamed(part, full) for part in parts))
        case Alternatives(branches, weights):
            return Alternatives(tuple(_renamed(branch, full) for branch in branches), weights)
        case Option(part):
            return Option(_renamed(part, full))
        case Repeat(part, least):
            return Repeat(_renamed(part, full), least)
        case Tagged(part, tags):
            return Tagged(_renamed(part, full), tags)


def _token(child: object) -> Token:
    assert isinstance(child, Token)
    return child


def _tree(child: object) -> "Tree[Token]":
    assert isinstance(child, Tree)
    return child


def _syntax_error(error: UnexpectedInput, text: str, source: str) -> str:
    expected: set[str] = set()
    found = "the end of the file"
    line = error.line
    if isinstance(error, UnexpectedToken):
        expected = set(error.accepts or error.expected)
        if error.token.type != "$END":
            found = repr(str(error.token).split("\n")[0])
    elif isinstance(error, UnexpectedCharacters):
        expected = set(error.allowed or ())
        found = repr(text[error.pos_in_stream or 0])
    if line is None or line < 1:
        line = text.count("\n") + 1
    names = sorted(_PLAIN_NAMES[name] for name in expected if name in _PLAIN_NAMES)
    wanted = " or ".join(filter(None, [", ".join(names[:-1]), *names[-1:]]))
    return f"{source}:{line}: expected {wanted or 'something else'}, found {found}."


class _ExpansionReader:
    """Turns the syntax tree of one grammar into expansions, with every reference resolved."""

    def __init__(self, source: str, grammar: str, own: set[str], imported: dict[str, str]) -> None:
        self.source = source
        self.imported = imported
        self.depth = 0
        self.names = {name: name for name in own}
        self.names |= {f"{grammar}.{name}": name for name in own}
        self.names |= {f"{grammar.rpartition('.')[2]}.{name}": name for name in own}

    def alternatives(self, tree: "Tree[Token]") -> Expansion:
        self.depth += 1
        self._bound(self.depth, tree)
        branches, weights = [], []
        for child in tree.children:
            weight, sequence = _tree(child).children
            number = "1" if weight is None else _token(weight)[1:-1].strip().rstrip("fFdD")
            branches.append(self.sequence(_tree(sequence)))
            weights.append(float(number))
        self.depth -= 1
        if not 0 < sum(weights) < math.inf:
            raise AssistantError(
                f"{self.source}:{tree.meta.line}: expected at least one weight above zero, and "
                "none that is infinite."
            )
        return branches[0] if len(branches) == 1 else Alternatives(tuple(branches), tuple(weights))

    def _bound(self, levels: int, tree: "Tree[Token]") -> None:
        if levels > _MOST_DEPTH:
            raise AssistantError(
                f"{self.source}:{tree.meta.line}: nested too deeply; expected at most "
                f"{_MOST_DEPTH} levels."
            )

    def sequence(self, tree: "Tree[Token]") -> Expansion:
        parts: list[Expansion] = []
        for child in tree.children:
            part = self.item(_tree(child))
            if isinstance(part, Sequence_):
                parts.extend(part.parts)
            else:
                parts.append(part)
        return parts[0] if len(parts) == 1 else Sequence_(tuple(parts))

    def item(self, tree: "Tree[Token]") -> Expansion:
        self._bound(len(tree.children), tree)
        part = self.atom(tree.children[0])
        for child in tree.children[1:]:
            operator = _token(child)
            if operator.type == "TAG":
                tag = re.sub(r"\\(.)", r"\1", operator[1:-1], flags=re.DOTALL).strip()
                earlier = part.tags if isinstance(part, Tagged) else ()
                inner = part.part if isinstance(part, Tagged) else part
                part = Tagged(inner, (*earlier, tag))
            else:
                part = Repeat(part, 1 if operator.type == "PLUS" else 0)
        return part

    def atom(self, child: "Token | Tree[Token]") -> Expansion:
        if isinstance(child, Tree):
            inner = self.alternatives(_tree(child.children[0]))
            return Option(inner) if child.data == "option" else inner
        if child.type == "RULENAME":
            name = child[1:-1]
            if name in _SPECIAL:
                return Sequence_(()) if name == "NULL" else Reference(name, child.line or 0)
            resolved = self.names.get(name) or self.imported.get(name)
            if resolved is None:
                raise AssistantError(
                    f"{self.source}:{child.line}: expected a rule that is defined or imported, "
                    f"found <{name}>."
                )
            return Reference(resolved, child.line or 0)
        text = child[1:-1] if child.type == "STRING" else str(child)
        words = re.sub(r"\\(.)", r"\1", text, flags=re.DOTALL).casefold().split()
        if not words:
            raise AssistantError(f"{self.source}:{child.line}: expected a word between the quotes.")
        return Word(words[0]) if len(words) == 1 else Sequence_(tuple(map(Word, words)))


class _Facts:
    """Facts about a set of rules, each worked out once.

    For every expansion they say whether it can be silent, and the words with which it can start
    (GARBAGE among them if it can start with any speech). Raises AssistantError for recursion that a
    finite-state network cannot represent.
    """

    def __init__(self, rules: dict[str, Rule], source: str) -> None:
        self.rules = rules
        self.source = source
        self.silent_rules: set[str] = set()
        while True:
            more = {
                name
                for name, rule in rules.items()
                if name not in self.silent_rules and self.silent(rule.expansion)
            }
            if not more:
                break
            self.silent_rules |= more
        self.mutual = self._mutual()
        self._check_recursion()
        self._first: dict[Expansion, frozenset[str]] = {}

    def silent(self, expansion: Expansion) -> bool:
        """Whether the expansion can be said without a word."""
        match expansion:
            case Word():
                return False
            case Reference(name):
                return name == "GARBAGE" or name in self.silent_rules
            case Sequence_(parts):
                return all(map(self.silent, parts))
            case Alternatives(branches):
                return any(map(self.silent, branches))
            case Option():
                return True
            case Repeat(part, least):
                return least == 0 or self.silent(part)
            case Tagged(part):
                return self.silent(part)

    def first(self, expansion: Expansion) -> frozenset[str]:
        """Return the words with which the expansion can start."""
        known = self._first.get(expansion)
        if known is None:
            known = self._first[expansion] = self._work_out_first(expansion)
        return known

    def _work_out_first(self, expansion: Expansion) -> frozenset[str]:
        match expansion:
            case Word(text):
                return frozenset((text,))
            case Reference("VOID"):
                return frozenset()
            case Reference("GARBAGE"):
                return frozenset((GARBAGE,))
            case Reference(name):
                return self.first(self.rules[name].expansion)
            case Sequence_(parts):
                words: frozenset[str] = frozenset()
                for part in parts:
                    words |= self.first(part)
                    if not self.silent(part):
                        break
                return words
            case Alternatives(branches):
                return frozenset().union(*map(self.first, branches))
            case Option(part) | Repeat(part) | Tagged(part):
                return self.first(part)

    def _mutual(self) -> dict[str, set[str]]:
        """Return, for each rule, the rules it refers to at any depth that also refer back to it."""
        direct = {
            name: {reference.name for reference, *_ in _references(rule.expansion, self)}
            for name, rule in self.rules.items()
        }
        reach: dict[str, set[str]] = {}
        for name in direct:
            seen: set[str] = set()
            waiting = [name]
            while waiting:
                for other in direct.get(waiting.pop(), ()):
                    if other not in seen:
                        seen.add(other)
                        waiting.append(other)
            reach[name] = seen
        return {
            name: {other for other in seen if name in reach.get(other, ())}
            for name, seen in reach.items()
        }

    def _check_recursion(self) -> None:
        starting: dict[str, list[Reference]] = {}
        for name, rule in self.rules.items():
            for reference, head, tail in _references(rule.expansion, self):
                if reference.name not in self.mutual[name]:
                    continue
                if not tail:
                    raise AssistantError(
                        f"{self.source}:{reference.line}: <{name}> comes back to itself through "
                        f"<{reference.name}> before its end; expected recursion only as the last "
                        "part of a rule (right recursion). Use '*' or '+' instead."
                    )
                if head:
                    starting.setdefault(name, []).append(reference)
        for name, references in starting.items():
            waiting, seen = list(references), set()
            while waiting:
                reference = waiting.pop()
                if reference.name == name:
                    raise AssistantError(
                        f"{self.source}:{reference.line}: <{name}> starts with itself (left "
                        "recursion); expected a word before it comes back to itself. Use '*' or "
                        "'+' instead."
                    )
                if reference.name not in seen:
                    seen.add(reference.name)
                    waiting.extend(starting.get(reference.name, ()))


def _references(
    expansion: Expansion, facts: _Facts, head: bool = True, tail: bool = True
) -> Iterator[tuple[Reference, bool, bool]]:
    """Yield each reference to a rule, whether it can come first, and whether it must come last."""
    match expansion:
        case Reference(name):
            if name not in _SPECIAL:
                yield expansion, head, tail
        case Sequence_(parts):
            for place, part in enumerate(parts):
                yield from _references(part, facts, head, tail and place == len(parts) - 1)
                head = head and facts.silent(part)
        case Alternatives(branches):
            for branch in branches:
                yield from _references(branch, facts, head, tail)
        case Repeat(part):
            yield from _references(part, facts, head, False)
        case Option(part) | Tagged(part):
            yield from _references(part, facts, head, tail)


class _Builder:
    """Builds the network: it writes out rules where they are used, and loops for right recursion.

    `_add` never adds an arc that leaves its `end` or enters its `start`, so branches can share the
    two.
    """

    def __init__(self, rules: dict[str, Rule], facts: _Facts, source: str) -> None:
        self.rules = rules
        self.facts = facts
        self.source = source
        self.parts = 0
        self.arcs: list[Arc] = []
        self.states = 0
        self.entries: dict[str, int] = {}

    def build(self, public: tuple[str, ...]) -> Network:
        start, end = self._state(), self._state()
        for name in public:
            self._rule(name, start, end, 1 / len(public))
        return Network(start, frozenset((end,)), tuple(self.arcs), self.states).trimmed()

    def _state(self) -> int:
        self.states += 1
        return self.states - 1

    def _arc(
        self,
        source: int,
        target: int,
        probability: float = 1.0,
        word: str | None = None,
        tags: tuple[str, ...] = (),
    ) -> None:
        self.arcs.append(Arc(source, target, probability, word, tags))

    def _rule(self, name: str, start: int, end: int, probability: float) -> None:
        if name in self.entries:
            self._arc(start, self.entries[name], probability)
        elif self.facts.mutual[name]:
            self.entries[name] = entry = self._state()
            self._arc(start, entry, probability)
            self._add(self.rules[name].expansion, entry, end)
            del self.entries[name]
        else:
            self._add(self.rules[name].expansion, start, end, probability)

    def _add(self, expansion: Expansion, start: int, end: int, probability: float = 1.0) -> None:
        self.parts += 1
        if self.parts > _MOST_PARTS:
            raise AssistantError(
                f"{self.source}: written out, its rules have more than {_MOST_PARTS} parts; make "
                "the grammar smaller."
            )
        match expansion:
            case Word(text):
                self._arc(start, end, probability, text)
            case Reference("VOID"):
                pass
            case Reference("GARBAGE"):
                self._arc(start, end, probability, GARBAGE)
            case Reference(name):
                self._rule(name, start, end, probability)
            case Sequence_(()):
                self._arc(start, end, probability)
            case Sequence_(parts):
                for part in parts[:-1]:
                    between = self._state()
                    self._add(part, start, between, probability)
                    start, probability = between, 1.0
                self._add(parts[-1], start, end, probability)
            case Alternatives(branches, weights):
                for branch, weight in zip(branches, weights, strict=True):
                    if weight > 0:
                        self._add(branch, start, end, probability * weight / sum(weights))
            case Option(part):
                self._add(part, start, end, probability / 2)
                self._arc(start, end, probability / 2)
            case Repeat(part, least):
                before, after = self._state(), self._state()
                self._arc(start, before, probability if least else probability / 2)
                if not least:
                    self._arc(start, end, probability / 2)
                self._add(part, before, after)
                self._arc(after, before, 0.5)
                self._arc(after, end, 0.5)
            case Tagged(Word(text), tags):
                self._arc(start, end, probability, text, tags)
            case Tagged(part, tags) if self._recursive_tail(part):
                # A loop has no end of its own to put the tags on, so they go to its start.
                inside = self._state()
                self._arc(start, inside, probability, None, tags)
                self._add(part, inside, end)
            case Tagged(part, tags):
                inside = self._state()
                self._add(part, start, inside, probability)
                self._arc(inside, end, 1.0, None, tags)

    def _recursive_tail(self, part: Expansion) -> bool:
        return any(
            tail and self.facts.mutual[reference.name]
            for reference, _, tail in _references(part, self.facts)
        )


_Pieces: TypeAlias = "tuple[tuple[str, ...], tuple[Node | str, ...]]"
"""The tags and children that an expansion adds to the node of its rule."""


class _Parser:
    """Finds the parses of one sentence: first where each part can end, then the parse trees.

    The ends are worked out once for each part and start, so that only paths that lead to a sentence
    are followed.
    """

    def __init__(self, rules: dict[str, Rule], facts: _Facts, words: tuple[str, ...]) -> None:
        self.rules = rules
        self.facts = facts
        self.words = words
        self._ends: dict[tuple[object, int], frozenset[int]] = {}

    def sentences(self, public: tuple[str, ...]) -> Iterator[Node]:
        whole = len(self.words)
        try:
            for name in public:
                if whole in self._reach(self.rules[name].expansion, 0):
                    yield from self._rule(name, 0, whole)
        except RecursionError:
            raise AssistantError(
                f"A phrase of {whole} words is too long for this grammar; say it in shorter "
                "phrases."
            ) from None

    def _can_start(self, expansion: Expansion, place: int) -> bool:
        if self.facts.silent(expansion):
            return True
        first = self.facts.first(expansion)
        return place < len(self.words) and (self.words[place] in first or GARBAGE in first)

    def _reach(self, expansion: Expansion, place: int) -> frozenset[int]:
        """Return the places where the expansion can end if it starts at this place."""
        key = (expansion, place)
        known = self._ends.get(key)
        if known is None:
            known = frozenset(self._work_out(expansion, place))
            self._ends[key] = known
        return known

    def _work_out(self, expansion: Expansion, place: int) -> set[int] | frozenset[int]:
        match expansion:
            case Word(text):
                found = place < len(self.words) and self.words[place] == text
                return {place + 1} if found else set()
            case Reference("VOID"):
                return set()
            case Reference("GARBAGE"):
                return set(range(place, len(self.words) + 1))
            case Reference(name):
                return self._reach(self.rules[name].expansion, place)
            case Sequence_(parts):
                return self._reach_through(expansion, 0, place) if parts else {place}
            case Alternatives(branches, weights):
                ends: set[int] = set()
                for branch, weight in zip(branches, weights, strict=True):
                    if weight > 0 and self._can_start(branch, place):
                        ends |= self._reach(branch, place)
                return ends
            case Option(part):
                return self._reach(part, place) | {place}
            case Repeat(part, least):
                ends = set() if least else {place}
                waiting, seen = [place], {place}
                while waiting:
                    after = self._reach(part, waiting.pop())
                    ends |= after
                    waiting.extend(after - seen)
                    seen |= after
                return ends
            case Tagged(part):
                return self._reach(part, place)

    def _reach_through(self, sequence: Sequence_, index: int, place: int) -> frozenset[int]:
        """Return the places where the parts of a sequence from `index` on can end."""
        if index == len(sequence.parts):
            return frozenset((place,))
        key = ((sequence, index), place)
        known = self._ends.get(key)
        if known is None:
            ends: set[int] = set()
            if self._can_start(sequence.parts[index], place):
                for middle in self._reach(sequence.parts[index], place):
                    ends |= self._reach_through(sequence, index + 1, middle)
            known = self._ends[key] = frozenset(ends)
        return known

    def _rule(self, name: str, place: int, end: int) -> Iterator[Node]:
        for tags, children in self._derive(self.rules[name].expansion, place, end):
            yield Node(name, tags, children, place)

    def _derive(self, expansion: Expansion, place: int, end: int) -> Iterator[_Pieces]:
        """Yield every way in which the expansion covers exactly these places; there is one."""
        match expansion:
            case Word() | Reference("GARBAGE"):
                yield (), self.words[place:end]
            case Reference(name):
                for node in self._rule(name, place, end):
                    yield (), (node,)
            case Sequence_():
                yield from self._derive_through(expansion, 0, place, end)
            case Alternatives(branches, weights):
                for branch, weight in zip(branches, weights, strict=True):
                    if (
                        weight > 0
                        and self._can_start(branch, place)
                        and end in self._reach(branch, place)
                    ):
                        yield from self._derive(branch, place, end)
            case Option(part):
                if end in self._reach(part, place):
                    yield from self._derive(part, place, end)
                if place == end and not self.facts.silent(part):
                    yield (), ()
            case Repeat(part, least):
                yield from self._derive_repeat(part, least, place, end)
            case Tagged(part, tags):
                for inner, children in self._derive(part, place, end):
                    yield (*inner, *tags), children

    def _derive_through(
        self, sequence: Sequence_, index: int, place: int, end: int
    ) -> Iterator[_Pieces]:
        if index == len(sequence.parts):
            yield (), ()
            return
        part = sequence.parts[index]
        for middle in sorted(self._reach(part, place), reverse=True):
            if middle <= end and end in self._reach_through(sequence, index + 1, middle):
                for tags, children in self._derive(part, place, middle):
                    for more, rest in self._derive_through(sequence, index + 1, middle, end):
                        yield (*tags, *more), (*children, *rest)

    def _derive_repeat(
        self, part: Expansion, least: int, place: int, end: int
    ) -> Iterator[_Pieces]:
        """Yield every way of repeating a part over these places.

        Each repetition takes at least one word. A silent one is taken only if `least` demands it.
        """
        if place == end:
            if least:
                yield from self._derive(part, place, end)
            else:
                yield (), ()
            return
        for middle in sorted(self._reach(part, place), reverse=True):
            if place < middle <= end and self._repeats(part, middle, end):
                for tags, children in self._derive(part, place, middle):
                    for more, rest in self._derive_repeat(part, 0, middle, end):
                        yield (*tags, *more), (*children, *rest)

    def _repeats(self, part: Expansion, place: int, end: int) -> bool:
        """Whether any number of repetitions of this part can fill these places."""
        waiting, seen = [place], {place}
        while waiting:
            here = waiting.pop()
            if here == end:
                return True
            after = {middle for middle in self._reach(part, here) if middle <= end} - seen
            waiting.extend(after)
            seen |= after
        return False
