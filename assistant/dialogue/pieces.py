"""A job without a written procedure: a procedure that grows as the machine is taken down.

Each thing that comes off is a piece. A piece is a step of the strip-down, done as soon as it is
said, and, once the build-up begins, a step of that: last off, first on. Everything else is as in a
written procedure, because the state holds a procedure like any other, worked out from the pieces.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from assistant.dialogue import arrangement, events, facts
from assistant.dialogue.arrangement import Arrangement, Group
from assistant.grammar import nouns, numbers
from assistant.procedure.lexicon import Lexicon, Noun
from assistant.procedure.live_names import Names, names
from assistant.procedure.model import (
    Fastener,
    Fit,
    Part,
    Procedure,
    Quantity,
    Remove,
    Stage,
    Step,
    Tighten,
)

_LONGEST_HOW = 300
_LONGEST_SAID = 200

UNNAMED = "piece "
"""How the name begins of what nobody has a name for; its number follows."""


@dataclass(frozen=True)
class Piece:
    """So many of one thing that came off together."""

    id: str
    """Its step of the strip-down."""
    name: str
    plural: str
    count: int
    bag: int | None = None
    thread: str | None = None
    """Such as "M8"; None: nobody said."""
    length: Quantity | None = None
    threads: facts.Threads | None = None
    """What was found on the threads; None: nobody said."""
    notes: tuple[str | None, ...] = ()
    """What was noted with it; None where it was spoken and only its sound is kept."""
    torque: Quantity | None = None
    """What its fasteners are tightened to, as somebody set it; None: nobody did."""

    @property
    def on(self) -> str:
        """Its step of the build-up."""
        return arrangement.goes_on(self.id)

    @property
    def named_by_number(self) -> bool:
        """Whether nobody had a name for it: "piece seven"."""
        return self.name.startswith(UNNAMED)

    @property
    def parts(self) -> facts.Parts:
        """What it is, and how many."""
        return facts.Parts(name=self.name, count=self.count, plural=self.plural)

    @property
    def called(self) -> str:
        """What it is called, as so many of it are."""
        return nouns.counted(self.count, self.name, self.plural)


def step_for(turn: int) -> str:
    """Return the step of what comes off in a turn."""
    return f"{arrangement.OFF}{turn}"


def steps_of(history: Iterable[events.Event]) -> frozenset[str]:
    """Return every step that events brought about, those of what was taken back among them."""
    told = tuple(history)
    off = {e.step for e in told if isinstance(e, events.PieceRemoved) and e.step}
    groups = {arrangement.group_begun_in(e.turn) for e in told if isinstance(e, events.GroupBegun)}
    return frozenset(off | set(map(arrangement.goes_on, off)) | groups)


def begun(procedure: Procedure) -> Procedure:
    """Return a procedure as its job began: of an unwritten one, without what came about since."""
    if procedure.unwritten is None or len(procedure.stages) == 1:
        return procedure
    return procedure.model_copy(
        update={"stages": procedure.stages[:1], "parts": procedure.unwritten.kit}
    )


def follow(pieces: tuple[Piece, ...], event: events.Event) -> tuple[Piece, ...]:
    """Return the pieces after one more event."""
    match event:
        case events.PieceRemoved(step=str(step)):
            return (*pieces, Piece(step, event.name, event.plural, event.count))
        case events.PieceChanged(step=str(step)):
            return _changed(pieces, step, event)
        case events.BagRecorded(step=str(step)):
            return tuple(replace(p, bag=event.number) if p.id == step else p for p in pieces)
        case events.NoteRecorded(step=str(step)):
            return tuple(
                replace(p, notes=(*p.notes, event.text)) if p.id == step else p for p in pieces
            )
        case events.TorqueSet():
            torque = Quantity(value=event.value, unit=event.unit)
            return tuple(replace(p, torque=torque) if p.name == event.name else p for p in pieces)
        case _:
            return pieces


def _changed(pieces: tuple[Piece, ...], step: str, event: events.PieceChanged) -> tuple[Piece, ...]:
    told = {
        "name": event.name,
        "plural": event.plural,
        "count": event.count,
        "thread": event.thread,
        "length": event.length and Quantity(value=event.length.value, unit=event.length.unit),
        "threads": event.threads,
    }
    new = {name: value for name, value in told.items() if value is not None}
    return tuple(replace(p, **new) if p.id == step else p for p in pieces)  # type: ignore[arg-type]


def grown(
    procedure: Procedure, pieces: Sequence[Piece], arranged: Arrangement, building: bool
) -> Procedure:
    """Return a procedure with the steps that pieces bring; `building`: those that fit them too, in
    the order that they are arranged in.
    """
    first = begun(procedure)
    assert first.unwritten is not None
    stages = [*first.stages]
    if pieces:
        off = tuple(map(_off, pieces))
        stages.append(Stage(name="Strip-down", taken="as found", steps=off))
    if building:
        kit = Counter({part.name: part.count for part in first.unwritten.kit})
        on = {piece.on: _on(piece, kit) for piece in reversed(pieces)}
        on |= {g.id: _as_one(g, pieces) for g in arranged.groups if g.has_step}
        order = arranged.arranged([piece.on for piece in reversed(pieces)])
        steps = tuple(on[step] for step in order)
        stages.append(Stage(name="Build-up", taken="as left", steps=steps))
    return first.model_copy(
        update={"stages": tuple(stages), "parts": _parts(first.unwritten.kit, pieces)}
    )


def _parts(kit: Sequence[Part], pieces: Iterable[Piece]) -> tuple[Part, ...]:
    """Return what can be ordered: the kit, and what came off, each name once."""
    found = {part.name: part for part in kit}
    counts: Counter[str] = Counter()
    for piece in pieces:
        counts[piece.name] += piece.count
        if piece.name not in {part.name for part in kit}:
            count = min(counts[piece.name], 999)
            found[piece.name] = Part(name=piece.name, plural=piece.plural, count=count)
    return tuple(found.values())


def _off(piece: Piece) -> Step:
    return Step(
        id=piece.id,
        say=f"Take off {_so_many(piece)}.",
        remove=(Remove(part=piece.name, count=piece.count),),
        fasteners=_fasteners(piece, ((piece.count, False),)),
        bag=piece.bag,
    )


def _so_many(piece: Piece) -> str:
    if piece.count > 1:
        return f"{numbers.cardinal(piece.count)} {piece.called}"
    return piece.called if piece.named_by_number else f"the {piece.called}"


def _on(piece: Piece, kit: Counter[str]) -> Step:
    """Return the step that puts a piece on again, with what the kit has of it in its place."""
    new = min(piece.count, kit[piece.name])
    kit[piece.name] -= new
    how = _how(piece)
    shares = [(n, is_new) for n, is_new in ((new, True), (piece.count - new, False)) if n]
    fits = [Fit(part=piece.name, count=n, new=is_new, how=how) for n, is_new in shares]
    tighten: tuple[Tighten, ...] = ()
    if piece.torque is not None:
        # Nobody said what goes on the threads, so nobody is told that they are dry.
        tighten = (Tighten(fastener=piece.name, torque=piece.torque, lubricated="not stated"),)
    return Step(
        id=piece.on,
        say=f"Fit {_so_many(piece)}.",
        fit=tuple(fits),
        from_bag=piece.bag if new < piece.count else None,
        fasteners=_fasteners(piece, shares),
        tighten=tighten,
    )


def _as_one(group: Group, pieces: Sequence[Piece]) -> Step:
    """Return the step that puts on as one what was put together."""
    *most, last = [_so_many(piece) for piece in pieces if piece.on in group.members]
    say = f"Fit as one {', '.join(most)} and {last}."
    if len(say) > _LONGEST_SAID:
        say = f"Fit as one the {numbers.cardinal(len(most) + 1)} things that were put together."
    return Step(id=group.id, say=say)


def _fasteners(piece: Piece, shares: Iterable[tuple[int, bool]]) -> tuple[Fastener, ...]:
    """Return what came off as fasteners, where a size or a torque shows that it is some; `shares`
    are how many of them are old or new. Those that are renewed may stay in their bag.
    """
    if piece.torque is None and piece.thread is None:
        return ()
    thread, length = piece.thread or "", piece.length
    return tuple(
        Fastener(name=piece.name, count=number, thread=thread, length=length, new=new)
        for number, new in shares
    )


def _how(piece: Piece) -> str | None:
    """Return what was noted and found with it, to be told where it goes on again."""
    told = [words for note in piece.notes if note and (words := note.strip())]
    if None in piece.notes:
        told.append("a note was spoken with it")
    if piece.threads is not None:
        told.append(f"found {piece.threads}" if piece.threads == "dry" else "thread locker found")
    return "; ".join(told)[:_LONGEST_HOW].strip() or None


def live_names(procedure: Procedure) -> Names:
    """Return the names that can be said in an unwritten job now. Of a written one: ValueError."""
    of = procedure.unwritten
    if of is None:
        raise ValueError(f"{procedure.procedure} is written")
    listed = tuple(Noun(name, plural) for name, plural in of.nouns.items())
    lexicon = Lexicon(procedure.title, listed, (("which", of.qualifiers),))
    kit = [Noun(part.name, part.plural_name) for part in of.kit]
    known = names(lexicon, kit)
    # What came off can mostly be named already, by its noun and the words before it.
    job = [
        Noun(part.name, part.plural_name)
        for part in procedure.parts
        if known.named(part.name.split()) is None
    ]
    return names(lexicon, kit, job)
