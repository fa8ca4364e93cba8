"""A command as it was said, and how its numbers, names and units are read."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from assistant.dialogue import facts, pieces, vocabulary
from assistant.dialogue.pieces import Piece
from assistant.dialogue.state import State
from assistant.grammar import nouns, numbers, units
from assistant.grammar.jsgf import Node
from assistant.procedure.lexicon import Noun

if TYPE_CHECKING:
    from assistant.dialogue.intents import Intent


@dataclass(frozen=True)
class Said:
    """One command's part of a sentence, in the state that it was said in."""

    node: Node
    state: State
    understand: Callable[[Node, State], Intent]
    """What another command's part means: a correction has one inside."""

    def has(self, rule: str) -> bool:
        """Return whether a rule was used in it."""
        return self.node.find(rule) is not None

    def words(self, rule: str) -> str | None:
        """Return the words of a rule; None where it was not used."""
        found = self.node.find(rule)
        return " ".join(found.words()) if found else None

    def tag(self, rule: str | None = None) -> str:
        """Return the last tag in it, or in a rule of it. No tag: ValueError."""
        within = self.node if rule is None else self.node.find(rule)
        tags = [tag for inner in within.walk() for tag in inner.tags] if within else []
        if not tags:
            raise ValueError(f"rule {rule or self.node.rule} carries no tag")
        return tags[-1]

    def count(self, rule: str) -> int | None:
        """Return a number of things; None where none was said."""
        found = self.node.find(rule)
        return numbers.parse_count(found.words()) if found else None

    def whole(self, rule: str) -> int:
        """Return a number of things, one where none was said."""
        found = self.count(rule)
        return 1 if found is None else found

    def number(self, rule: str) -> Decimal:
        """Return a number. None was said: ValueError."""
        found = self.node.find(rule)
        if found is None:
            raise ValueError(f"no {rule} was said")
        return numbers.parse(found.words())

    def quantity(self) -> tuple[Decimal, str | None]:
        """Return a value and its unit, None where none was said."""
        value, unit, _ = self.quantity_with_slip()
        return value, unit

    def quantity_with_slip(self) -> tuple[Decimal, str | None, Decimal | None]:
        """Return a value, its unit, and a slip before it: "four zero correction one four"."""
        said = list(self.node.find_all("quantity")) or [self.node]
        last = said[-1]
        unit = self._unit(last) or self._unit(said[0])
        return _value(last), unit, _value(said[0]) if len(said) > 1 else None

    def part(self) -> str:
        """Return the name of the part, the first of its names where the procedure lists it; or of
        a fastener, whether one was said or several.
        """
        fastener = self.words("other_fastener") or self.words("asked_fastener")
        if fastener is not None:
            names = vocabulary.other_fasteners(self.state.procedure.steps, self.state.procedure)
            return next(one for one in names if fastener in (one, nouns.plural(one)))
        if self.state.procedure.unwritten is not None:
            return self.noun().name
        said = self.words("one_part") or self.words("many_parts") or ""
        part = self.state.procedure.part(said)
        return part.name if part else said

    def noun(self) -> Noun:
        """Return what a part is called and what several of it are, in a job without a procedure.

        No part was said: ValueError.
        """
        found = self.node.find("one_part") or self.node.find("many_parts")
        noun = pieces.live_names(self.state.procedure).named(found.words()) if found else None
        if noun is None:
            raise ValueError("no part was said")
        return noun

    def piece(self, rule: str) -> Piece:
        """Return what came off by the name that is said as a rule, in a job without a procedure.

        Nothing did: ValueError.
        """
        name = self.words(rule)
        for piece in self.state.pieces:
            if name in (piece.name, piece.plural):
                return piece
        raise ValueError(f"no {name} came off")

    def taken(self) -> facts.Taken | None:
        """Return whether it was said to be as found or as left."""
        if not self.has("taken_said"):
            return None
        return "as found" if self.tag("taken_said") == "as found" else "as left"

    def technician(self) -> str:
        """Return the technician's name as the shop's list writes it."""
        said = self.words("technician")
        return next(name for name in self.state.technicians if name.lower() == said)

    def inner(self) -> Intent:
        """Return what the command inside this one means."""
        node = next(child for child in self.node.children if isinstance(child, Node))
        return self.understand(node, self.state)

    def _unit(self, node: Node) -> str | None:
        found = node.find("step_unit")
        return units.parse(found.words(), vocabulary.step_units(self.state)) if found else None


def _value(node: Node) -> Decimal:
    found = node.find("value")
    if found is None:
        raise ValueError("no number was said")
    return numbers.parse(found.words())
