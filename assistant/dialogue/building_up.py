"""A job without a procedure, on the way up: the last off goes on first."""

from __future__ import annotations

from assistant.dialogue import build_order, events, intents, wording
from assistant.dialogue.moving import done, finished, onward, skip_for
from assistant.dialogue.pieces import Piece
from assistant.dialogue.supplying import say_lacks
from assistant.dialogue.telling import present, say_outstanding
from assistant.dialogue.turn import Tone, Turn
from assistant.trade import units

_MOST_NM = 20_000
"""No fastener that one person tightens takes more (common practice, no source)."""


def on_start(turn: Turn, intent: intents.StartBuildUp) -> None:
    """Begin the build-up: first what is in its way, then the last that came off."""
    off = turn.state.pieces
    if not off:
        turn.say(wording.pieces.NOTHING_OFF, Tone.REFUSED)
        return
    if turn.state.arrangement.open is not None:
        turn.say(wording.pieces.GROUP_OPEN, Tone.REFUSED)
        return
    turn.record(events.BuildUpBegun)
    turn.say(wording.pieces.build_up(len(off)), Tone.RECORDED)
    first = turn.state.procedure.stages[-1].steps[0]
    turn.record(events.StepEntered, step=first.id, came_from=turn.state.step_id)
    say_lacks(turn)
    loose = [piece.parts for piece in reversed(off) if piece.bag is None]
    if loose:
        turn.say(wording.pieces.no_bag(loose))
    present(turn)


def on_begun(turn: Turn, intent: intents.Intent) -> None:
    """Say that the build-up has begun."""
    turn.say(wording.pieces.BUILDING, Tone.REFUSED)


def on_not_begun(turn: Turn, intent: intents.Intent) -> None:
    """Say how the build-up is begun."""
    turn.say(wording.pieces.NOT_BUILDING, Tone.REFUSED)


def on_next(turn: Turn, intent: intents.Next) -> None:
    """Go on with the first that is not on yet; stay where something is outstanding."""
    if turn.state.step.id not in build_order.steps(turn.state) or finished(turn):
        onward(turn)


def on_not_yet(turn: Turn, intent: intents.NotYet) -> None:
    """Leave what would go on now for later: it comes again when the rest is on."""
    here = turn.state.step.id
    if here not in build_order.steps(turn.state):
        turn.say(wording.pieces.NOT_OF_BUILD_UP, Tone.REFUSED)
    elif here in turn.state.done:
        turn.say(wording.refusals.DONE_ALREADY, Tone.REFUSED)
    else:
        skip_for(turn, build_order.LATER)


def on_installed(turn: Turn, intent: intents.Installed) -> None:
    """Put something on out of its turn."""
    order = turn.state.procedure.index
    named = [piece for piece in turn.state.pieces if piece.name == intent.name]
    named.sort(key=lambda piece: order(piece.on))
    if not named:
        turn.say(wording.pieces.not_off(intent.name), Tone.REFUSED)
        return
    # What was put together already goes on with its group.
    groups = [turn.state.arrangement.group_of(piece.on) for piece in named]
    steps = [(piece.on, piece) for piece in named]
    steps += [(of.id, piece) for of, piece in zip(groups, named, strict=True) if of is not None]
    left = [(step, piece) for step, piece in steps if step not in turn.state.done]
    if not left:
        turn.say(wording.pieces.on_already(named[0].called), Tone.REFUSED)
        return
    step, piece = left[0]
    if turn.state.step_id != step:
        turn.record(events.StepEntered, step=step, came_from=turn.state.step_id)
    items = turn.outstanding()
    if items:
        say_outstanding(turn, items)
        return
    done(turn)
    turn.say(wording.pieces.on(piece.called), Tone.RECORDED)
    onward(turn)


def on_locker_too_early(turn: Turn, intent: intents.ThreadLocker) -> None:
    """Say how to record thread-locker that was found on the way down."""
    turn.say(wording.pieces.LOCKER_FOUND, Tone.REFUSED)


def on_thread_locker(turn: Turn, intent: intents.ThreadLocker) -> None:
    """Record the thread-locker that is on what goes on here."""
    here = turn.state.step.id
    piece = next((one for one in turn.state.pieces if one.on == here), None)
    if piece is None:
        turn.say(wording.pieces.NOT_OF_BUILD_UP, Tone.REFUSED)
        return
    before = turn.state.of_step(events.LockerApplied)
    if before:
        turn.say(wording.pieces.locker_already(before[-1].strength), Tone.REFUSED)
        return
    turn.record(
        events.LockerApplied, name=piece.name, plural=piece.plural, strength=intent.strength
    )
    told = wording.pieces.said_of(piece.parts, wording.pieces.locker(intent.strength))
    turn.say(told, Tone.RECORDED)


def on_set_torque(turn: Turn, intent: intents.SetTorque) -> None:
    """Keep a torque out of a manual for what came off by a name, or at this step."""
    named = _named(turn, intent.name)
    if not named:
        return
    unit = intent.unit or "N·m"
    if not units.same_dimension(unit, "N·m"):
        turn.say(wording.pieces.NOT_A_TORQUE, Tone.REFUSED)
        return
    newton_metres = float(units.quantity(float(intent.value), unit).to("N·m").magnitude)
    if not 0 < newton_metres <= _MOST_NM:
        turn.say(wording.pieces.NOT_A_TORQUE, Tone.REFUSED)
        return
    tightened = {e.step for e in turn.state.current(events.TorqueRecorded)}
    for piece in named:
        if piece.on in tightened:
            number = turn.state.procedure.number(piece.on)
            turn.say(wording.pieces.tightened_already(piece.plural, number), Tone.REFUSED)
            return
    first = named[0]
    event = turn.record(
        events.TorqueSet, name=first.name, plural=first.plural, value=intent.value, unit=unit
    )
    told = wording.pieces.torque_set(first.called, event.value, event.unit)
    turn.say(told, Tone.RECORDED)


def _named(turn: Turn, name: str | None) -> list[Piece]:
    """Return what came off by a name, or at this step; say what to do where nothing did."""
    if name is not None:
        named = [piece for piece in turn.state.pieces if piece.name == name]
        if not named:
            turn.say(wording.pieces.not_off(name), Tone.REFUSED)
        return named
    here = turn.state.step_id
    at = [piece for piece in turn.state.pieces if here in (piece.id, piece.on)]
    if not at:
        turn.say(wording.pieces.BEFORE_TIGHTENED, Tone.REFUSED)
        return []
    return [piece for piece in turn.state.pieces if piece.name == at[0].name]
