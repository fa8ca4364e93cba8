"""What each intent does in each state: the conversation's rules, without any I/O.

`decide(state, intent, now)` gives the events to record and the replies to speak, in that order.
It reads no clock and opens no file. `TABLE` at the end is the whole of it on one page: for each
mode, what each kind of intent does.
"""

from __future__ import annotations

from datetime import datetime
from itertools import takewhile

from assistant.dialogue import (
    events,
    facts,
    intents,
    ledger,
    remaining,
    revising,
    second_check,
    wording,
)
from assistant.dialogue import state as job_state
from assistant.dialogue.attention import on_closed, on_silence
from assistant.dialogue.command import WAITING
from assistant.dialogue.commands import RULEBOOK
from assistant.dialogue.earlier import EarlierJob
from assistant.dialogue.moving import enter
from assistant.dialogue.state import Mode, State
from assistant.dialogue.supplying import say_lacks
from assistant.dialogue.telling import ask_pending, ask_to_affirm, on_where
from assistant.dialogue.timers import tell_missed
from assistant.dialogue.turn import Decision, Tone, Turn
from assistant.procedure.model import Procedure


def decide(state: State, intent: intents.Intent, now: datetime) -> Decision:
    """Decide what an intent leads to in a state. `now` is local time, with its offset."""
    turn = Turn(state, now, RULEBOOK)
    TABLE[state.mode][type(intent)](turn, intent)
    second_check.say_void(turn, state)
    return turn.decision()


def fits(state: State, intent: intents.Intent, now: datetime) -> bool:
    """Return whether an intent would be taken without questioning its value."""
    return not any(isinstance(e, events.ValueQuestioned) for e in decide(state, intent, now).events)


def open_job(
    procedure: Procedure,
    source: str,
    now: datetime,
    *,
    unit: str | None = None,
    remark: str | None = None,
    follows: facts.FollowedJob | None = None,
    before: EarlierJob | None = None,
    file: str | None = None,
    practice: bool = False,
) -> Decision:
    """Decide what opening a job leads to. `source` is the procedure's text, kept with the job, and
    `file` the whole path of the file that it was read from.

    `follows` is the job that it is a follow-up of, kept with it too; `before` is what that one
    found and left, which is told and not kept. In `practice` it is said that nothing is kept.
    """
    turn = Turn(job_state.start(procedure), now, RULEBOOK)
    turn.record(
        events.JobOpened,
        procedure=procedure.procedure,
        title=procedure.title,
        revision=procedure.revision,
        sample=procedure.sample,
        source=source,
        file=file,
        unit=unit,
        remark=remark,
        follows=follows,
    )
    if practice:
        turn.say(wording.job.PRACTICE, Tone.ALERT)
    turn.say(wording.job.opened(procedure.title, len(procedure.steps)))
    if before is not None:
        for words in wording.last_time.followed(before):
            turn.say(words)
    _say_standing(turn)
    turn.say(wording.job.CARE)
    for hazard in procedure.hazards:
        if not procedure.must_be_affirmed(hazard):
            turn.say(wording.steps.hazard(remaining.hazard(hazard)), Tone.ALERT)
    enter(turn, turn.state.route()[0])
    return turn.decision()


def take_up(
    state: State, now: datetime, stopped: datetime, newer: revising.Newer | None = None
) -> Decision:
    """Decide what going on with a job leads to; `stopped` is the time of its last event, and
    `newer` a newer revision of its procedure, which is offered.
    """
    turn = Turn(state, now, RULEBOOK)
    turn.record(events.JobTakenUp)
    ago = (now - stopped).total_seconds()
    turn.say(wording.job.taken_up(state.procedure.title, ago))
    _say_standing(turn)
    tell_missed(turn)
    meanwhile = takewhile(ledger.from_desk, reversed(state.log))
    answers = [event for event in meanwhile if isinstance(event, events.CustomerAnswered)]
    for words in wording.entered.told(answers[::-1]):
        turn.say(words)
    on_where(turn, intents.WhereAreWe())
    say_lacks(turn)
    if turn.state.pending is None and newer is not None:
        revising.offer(turn, newer)
    if turn.state.pending is None:
        ask_to_affirm(turn)
    if turn.state.pending is not None:
        ask_pending(turn, None)
    return turn.decision()


def _say_standing(turn: Turn) -> None:
    """Say where a text is invented, a draft or not approved."""
    if turn.state.procedure.sample:
        turn.say(wording.job.SAMPLE, Tone.ALERT)
    told = wording.job.standing(turn.state.procedure)
    if told is not None:
        turn.say(told, Tone.ALERT)


TABLE = RULEBOOK.table(
    usual={
        **dict.fromkeys(WAITING, ask_pending),
        Mode.STANDING_BY: on_silence,
        Mode.CLOSED: on_closed,
    }
)
"""For each mode, what each kind of intent does. Where an answer is waited for, whatever is no
answer asks for it again; while it stands by, it does nothing; a closed job says that it is closed.
"""
