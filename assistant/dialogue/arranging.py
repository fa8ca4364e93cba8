"""A job without a procedure: what is put together and goes on as one, and what before what."""

from __future__ import annotations

from collections.abc import Sequence

from assistant.dialogue import build_order, events, facts, intents, wording
from assistant.dialogue.arrangement import Group
from assistant.dialogue.moving import enter
from assistant.dialogue.pieces import Piece
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone, Turn


def on_start_group(turn: Turn, intent: intents.StartGroup) -> None:
    """Begin a group: what comes off, or is put on, from here on belongs to it."""
    if turn.state.arrangement.open is not None:
        turn.say(wording.pieces.GROUP_OPEN, Tone.REFUSED)
        return
    # It is of no step: it begins no work at the one that the technician is at.
    turn.record(events.GroupBegun, step=None)
    turn.say(wording.pieces.group_begun(turn.state.building), Tone.RECORDED)


def on_end_group(turn: Turn, intent: intents.EndGroup) -> None:
    """End the group; in the build-up, go on with putting it on as one."""
    group = turn.state.arrangement.open
    if group is None:
        turn.say(wording.pieces.NO_GROUP, Tone.REFUSED)
        return
    parts = _parts_of(turn.state, group)
    turn.record(events.GroupEnded, step=None, parts=parts)
    turn.say(wording.pieces.group_ended(parts), Tone.RECORDED)
    if turn.state.building and group.has_step:
        enter(turn, turn.state.procedure.step(group.id))


def _parts_of(state: State, group: Group) -> tuple[facts.Parts, ...]:
    return tuple(piece.parts for piece in state.pieces if piece.on in group.members)


def on_put_before(turn: Turn, intent: intents.PutBefore) -> None:
    """Move what goes on, and in the build-up go on with what goes on now."""
    ahead_of = _to_go_on(turn, intent.before)
    goes = _to_go_on(turn, intent.name)
    if not ahead_of or not goes:
        return
    before = ahead_of[0]
    later = [piece for piece in goes if piece is not before]
    order = _order(turn.state)
    after = [piece for piece in later if order.index(piece.on) > order.index(before.on)]
    if not after:
        told = wording.pieces.same_thing if not later else wording.pieces.before_already
        first = (later or goes)[0]
        turn.say(told(first.parts, before.parts), Tone.REFUSED)
        return
    event = turn.record(
        events.BuildOrderSaid,
        step=None,
        goes=after[0].on,
        before=before.on,
        parts=after[0].parts,
        before_parts=before.parts,
    )
    turn.say(wording.pieces.goes_before(event.parts, event.before_parts), Tone.RECORDED)
    # Where the order was first said, and is put right now, the technician may be elsewhere already.
    step = build_order.next_step(turn.state) if turn.state.building else None
    if step is not None:
        enter(turn, step)


def _to_go_on(turn: Turn, name: str) -> Sequence[Piece]:
    """Return what is to go on yet by a name, in the order in which it does; say why there is none.

    What is put together goes on with its group.
    """
    state = turn.state
    named = [piece for piece in state.pieces if piece.name == name]
    if not named:
        turn.say(wording.pieces.not_off(name), Tone.REFUSED)
        return ()
    left = [piece for piece in named if not _is_on(state, piece)]
    if not left:
        turn.say(wording.pieces.on_already(named[0].called), Tone.REFUSED)
        return ()
    order = _order(state)
    return sorted(left, key=lambda piece: order.index(piece.on))


def _is_on(state: State, piece: Piece) -> bool:
    groups = (g for g in state.arrangement.groups if g.has_step and piece.on in g.members)
    group = next(groups, None)
    return (piece.on if group is None else group.id) in state.done


def _order(state: State) -> Sequence[str]:
    return state.arrangement.arranged([piece.on for piece in reversed(state.pieces)])
