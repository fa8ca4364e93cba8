"""What each intent does in each state: the conversation's rules, without any I/O.

`decide(state, intent, now)` gives the events to record and the replies to speak, in that order.
It reads no clock and opens no file. `TABLE` at the end is the whole of it on one page: for each
mode, what each kind of intent does.
"""

from __future__ import annotations

from datetime import datetime

from assistant.dialogue import events, intents, remaining, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.asking import on_ask
from assistant.dialogue.attention import (
    on_bare_value,
    on_closed,
    on_leave,
    on_listening,
    on_not_asked,
    on_resume,
    on_sign_on,
    on_silence,
    on_speak,
    on_stand_by,
)
from assistant.dialogue.corrections import (
    on_affirm_value,
    on_correct,
    on_disregard,
    on_drop_value,
    on_restate,
)
from assistant.dialogue.moving import (
    enter,
    on_close,
    on_close_all_the_same,
    on_drop_skip,
    on_go_to,
    on_next,
    on_note_as_reason,
    on_previous,
    on_reason,
    on_skip,
    on_stay_open,
)
from assistant.dialogue.recording import (
    on_affirm,
    on_bag,
    on_chosen,
    on_drop_note,
    on_finding,
    on_negative,
    on_note,
    on_order,
    on_reading,
    on_take_note,
)
from assistant.dialogue.state import Mode, State
from assistant.dialogue.supplying import (
    on_item_before,
    on_kit_check,
    on_leave_kit,
    on_not_there,
    on_short,
    on_supply,
    on_there,
    say_lacks,
)
from assistant.dialogue.telling import (
    ask_pending,
    on_help,
    on_read_back,
    on_say_again,
    on_what_is_left,
    on_where,
)
from assistant.dialogue.tightening import on_next_bolt, on_tightened
from assistant.dialogue.timers import (
    on_cancel_timer,
    on_start_timer,
    on_tick,
    on_time_left,
    tell_missed,
)
from assistant.dialogue.turn import Decision, Handler, Tone, Turn
from assistant.procedure.model import Procedure


def decide(state: State, intent: intents.Intent, now: datetime) -> Decision:
    """Decide what an intent leads to in a state. `now` is local time, with its offset."""
    turn = Turn(state, now)
    TABLE[state.mode][type(intent)](turn, intent)
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
) -> Decision:
    """Decide what opening a job leads to. `source` is the procedure's text, kept with the job."""
    turn = Turn(job_state.start(procedure), now)
    turn.record(
        events.JobOpened,
        procedure=procedure.procedure,
        title=procedure.title,
        revision=procedure.revision,
        sample=procedure.sample,
        source=source,
        unit=unit,
        remark=remark,
    )
    turn.say(wording.job.opened(procedure.title, len(procedure.steps)))
    if procedure.sample:
        turn.say(wording.job.SAMPLE, Tone.ALERT)
    turn.say(wording.job.CARE)
    for hazard in procedure.hazards:
        turn.say(wording.steps.hazard(remaining.hazard(hazard)), Tone.ALERT)
    enter(turn, turn.state.route()[0])
    return turn.decision()


def take_up(state: State, now: datetime, stopped: datetime) -> Decision:
    """Decide what going on with a job leads to; `stopped` is the time of its last event."""
    turn = Turn(state, now)
    turn.record(events.JobTakenUp)
    ago = (now - stopped).total_seconds()
    turn.say(wording.job.taken_up(state.procedure.title, ago))
    if state.procedure.sample:
        turn.say(wording.job.SAMPLE, Tone.ALERT)
    tell_missed(turn)
    on_where(turn, intents.WhereAreWe())
    say_lacks(turn)
    if turn.state.pending is not None:
        ask_pending(turn, None)
    return turn.decision()


_WORKING: dict[type[intents.Intent], Handler] = {
    intents.Next: on_next,
    intents.Previous: on_previous,
    intents.Skip: on_skip,
    intents.Reason: on_not_asked,
    intents.GoTo: on_go_to,
    intents.SayAgain: on_say_again,
    intents.ReadBack: on_read_back,
    intents.WhereAreWe: on_where,
    intents.WhatIsLeft: on_what_is_left,
    intents.Help: on_help,
    intents.Ask: on_ask,
    intents.Tightened: on_tightened,
    intents.NextBolt: on_next_bolt,
    intents.Reading: on_reading,
    intents.Bag: on_bag,
    intents.Order: on_order,
    intents.Supply: on_supply,
    intents.KitCheck: on_kit_check,
    intents.Short: on_short,
    intents.Affirm: on_affirm,
    intents.Negative: on_negative,
    intents.Chosen: on_chosen,
    intents.Finding: on_finding,
    intents.Note: on_note,
    intents.Value: on_bare_value,
    intents.Correction: on_correct,
    intents.Disregard: on_disregard,
    intents.StartTimer: on_start_timer,
    intents.CancelTimer: on_cancel_timer,
    intents.TimeLeft: on_time_left,
    intents.Tick: on_tick,
    intents.Speak: on_speak,
    intents.SignOn: on_sign_on,
    intents.StandBy: on_stand_by,
    intents.Resume: on_listening,
    intents.LeaveJob: on_leave,
    intents.CloseJob: on_close,
}


_ANSWERED_ALWAYS: dict[type[intents.Intent], Handler] = {
    kind: _WORKING[kind]
    for kind in (
        intents.SayAgain,
        intents.ReadBack,
        intents.WhereAreWe,
        intents.WhatIsLeft,
        intents.Help,
        intents.Ask,
        intents.TimeLeft,
        intents.Tick,
        intents.Speak,
        intents.SignOn,
        intents.StandBy,
        intents.Resume,
    )
}


def _waiting(own: dict[type[intents.Intent], Handler]) -> dict[type[intents.Intent], Handler]:
    """Return a mode in which an answer is waited for: anything else asks for it again."""
    return {**dict.fromkeys(intents.ALL, ask_pending), **_ANSWERED_ALWAYS, **own}


TABLE: dict[Mode, dict[type[intents.Intent], Handler]] = {
    Mode.WORKING: _WORKING,
    Mode.QUESTIONING: _waiting(
        {
            intents.Affirm: on_affirm_value,
            intents.Negative: on_drop_value,
            intents.Disregard: on_drop_value,
            intents.Correction: on_restate,
            intents.Value: on_restate,
            intents.Tightened: on_restate,
            intents.Reading: on_restate,
            intents.Bag: on_restate,
            intents.Order: on_restate,
            intents.Supply: on_restate,
        }
    ),
    Mode.SKIPPING: _waiting(
        {
            intents.Reason: on_reason,
            intents.Note: on_note_as_reason,
            intents.Negative: on_drop_skip,
            intents.Disregard: on_drop_skip,
        }
    ),
    Mode.NOTING: _waiting({intents.Note: on_take_note, intents.Disregard: on_drop_note}),
    Mode.CLOSING: _waiting(
        {
            intents.Affirm: on_close_all_the_same,
            intents.Negative: on_stay_open,
            intents.Disregard: on_stay_open,
        }
    ),
    Mode.CHECKING: _waiting(
        {
            intents.Affirm: on_there,
            intents.Negative: on_not_there,
            intents.Short: on_short,
            intents.Previous: on_item_before,
            intents.Disregard: on_leave_kit,
        }
    ),
    Mode.STANDING_BY: {
        **dict.fromkeys(intents.ALL, on_silence),
        intents.Resume: on_resume,
        intents.Tick: on_tick,
    },
    Mode.CLOSED: {
        **dict.fromkeys(intents.ALL, on_closed),
        intents.SayAgain: on_say_again,
        intents.WhatIsLeft: on_what_is_left,
        intents.Speak: on_speak,
        intents.Tick: on_silence,
    },
}
"""For each mode, what each kind of intent does."""
