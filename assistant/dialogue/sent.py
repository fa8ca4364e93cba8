"""What an instrument sends: a value that nobody has said.

At a step that waits for it, it is the reading or the torque, as if it had been said without a name:
the same handler checks and records it. What it is of has to be clear for that. Where it is not, it
is asked, and until that is answered nothing is recorded (`events.ValueSent`).
"""

from __future__ import annotations

from assistant.dialogue import corrections, events, intents, outstanding_work, wording
from assistant.dialogue.questioning import refuse_before_hazards
from assistant.dialogue.recording import on_reading
from assistant.dialogue.telling import ask_pending, reviewed, say_what_next
from assistant.dialogue.tightening import on_tightened
from assistant.dialogue.turn import Tone, Turn
from assistant.trade import units

_MEASURED = (events.TorqueRecorded, events.ReadingRecorded)


def on_sent(turn: Turn, intent: intents.Sent) -> None:
    """Take a value as the reading or the torque that is waited for, or ask what it is of."""
    if refuse_before_hazards(turn):
        _drop(turn)
        return
    waiting = turn.outstanding()
    readings = [i.reading for i in waiting if isinstance(i, outstanding_work.ReadingToTake)]
    targets = [i.target for i in waiting if isinstance(i, outstanding_work.TorqueToRecord)]
    # A value of the wrong kind is of what is waited for all the same, and questioned as that.
    fit_readings = [r for r in readings if _fits(intent, r.unit)]
    fit_targets = [t for t in targets if _fits(intent, t.unit)]
    if fit_readings and fit_targets:
        names = dict.fromkeys(t.tighten.fastener for t in fit_targets)
        _ask(turn, intent, [r.name for r in fit_readings], list(names))
    elif fit_readings or (readings and not fit_targets):
        _as_reading(turn, intent, (fit_readings or readings)[0].name)
    elif targets:
        _as_torque(turn, intent, (fit_targets or targets)[0].tighten.fastener)
    else:
        _at_no_time(turn, intent)
    _drop(turn)


def _at_no_time(turn: Turn, intent: intents.Sent) -> None:
    """Ask about a value that nothing at this step waits for, or refuse it."""
    taken = [r.name for r in turn.state.readings() if _fits(intent, r.unit)]
    if len(taken) == 1:
        _as_reading(turn, intent, taken[0])
    elif taken:
        _ask(turn, intent, taken, [])
    elif turn.state.targets() or _torque_to_set(turn, intent):
        _as_torque(turn, intent, None)
    else:
        what = wording.sent.value(intent.value, intent.unit, intent.instrument)
        turn.say(wording.sent.not_asked(what, turn.state.number), Tone.REFUSED)


def _torque_to_set(turn: Turn, intent: intents.Sent) -> bool:
    """Whether it is a torque that only waits for the manual's to be set, in a job without a
    procedure.
    """
    unwritten = turn.state.procedure.unwritten is not None
    return unwritten and intent.unit is not None and units.same_dimension(intent.unit, "N·m")


def _fits(intent: intents.Sent, unit: str) -> bool:
    return intent.unit is None or units.same_dimension(intent.unit, unit)


def _as_reading(turn: Turn, intent: intents.Sent, name: str) -> None:
    said = intents.Reading(intent.value, intent.unit, name, instrument=intent.instrument)
    on_reading(turn, said)


def _as_torque(turn: Turn, intent: intents.Sent, fastener: str | None) -> None:
    said = intents.Tightened(intent.value, intent.unit, fastener, instrument=intent.instrument)
    on_tightened(turn, said)


def _ask(turn: Turn, intent: intents.Sent, readings: list[str], fasteners: list[str]) -> None:
    turn.record(
        events.ValueSent,
        value=intent.value,
        unit=intent.unit,
        instrument=intent.instrument,
        readings=tuple(readings),
        fasteners=tuple(fasteners),
    )
    ask_pending(turn, None)


def _drop(turn: Turn) -> None:
    """End the question about a value sent before, where another came and asked nothing."""
    asked = turn.state.pending
    if isinstance(asked, events.ValueSent) and asked not in turn.events:
        turn.record(events.QuestionDropped, asked="value sent")


def on_which(turn: Turn, intent: intents.Which) -> None:
    """Take the value that was asked about as that of a reading, or of a fastener."""
    asked = turn.state.pending
    assert isinstance(asked, events.ValueSent)
    sent = intents.Sent(asked.value, asked.unit, asked.instrument)
    if intent.name in asked.readings:
        _as_reading(turn, sent, intent.name)
    elif intent.name in asked.fasteners:
        _as_torque(turn, sent, intent.name)
    else:
        ask_pending(turn, None)
        return
    _drop(turn)


def on_drop(turn: Turn, intent: intents.Intent) -> None:
    """Record nothing of the value that was asked about."""
    turn.record(events.QuestionDropped, asked="value sent")
    turn.say(wording.refusals.NOTHING_RECORDED)
    say_what_next(turn)


def on_answer(turn: Turn, intent: intents.Sent) -> None:
    """Take a value in place of the reading or the torque that is questioned or gone through."""
    match turn.state.pending:
        case events.ValueQuestioned(candidate=asked) if isinstance(asked, _MEASURED):
            corrections.on_restate(turn, _bare(intent))
        case events.ReviewOpened() as asked if isinstance(
            reviewed(turn, asked.of)[asked.place], _MEASURED
        ):
            corrections.on_review_value(turn, _bare(intent))
        case _:
            on_meanwhile(turn, intent)


def _bare(intent: intents.Sent) -> intents.Value:
    return intents.Value(intent.value, intent.unit, instrument=intent.instrument)


def on_meanwhile(turn: Turn, intent: intents.Sent) -> None:
    """Leave a value that comes while something else is asked, and ask that again."""
    turn.say(wording.sent.meanwhile(intent.instrument), Tone.REFUSED)
    ask_pending(turn, None)


def on_standing_by(turn: Turn, intent: intents.Sent) -> None:
    """Say that nothing is recorded: whoever pressed the button waits for an answer."""
    turn.say(wording.sent.standing_by(intent.instrument), Tone.REFUSED)
