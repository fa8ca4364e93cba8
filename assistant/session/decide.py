"""What each intent does in each state: the conversation's rules, without any I/O.

`decide(state, intent, now)` gives the events to record and the replies to speak, in that order.
It reads no clock and opens no file. `TABLE` at the end is the whole of it on one page: for each
mode, what each kind of intent does.
"""

from __future__ import annotations

from datetime import datetime

from assistant.language import wording as say
from assistant.procedure.model import Procedure
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import state as st
from assistant.session.asking import on_ask
from assistant.session.attention import (
    on_bare_value,
    on_closed,
    on_listening,
    on_not_asked,
    on_resume,
    on_silence,
    on_stand_by,
    on_start_timer,
    on_tick,
    on_time_left,
)
from assistant.session.mending import (
    on_affirm_value,
    on_correct,
    on_disregard,
    on_drop_value,
    on_restate,
)
from assistant.session.moving import (
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
from assistant.session.recording import (
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
from assistant.session.state import Mode, State
from assistant.session.supplying import (
    on_item_before,
    on_kit_check,
    on_leave_kit,
    on_not_there,
    on_short,
    on_supply,
    on_there,
    say_lacks,
)
from assistant.session.telling import (
    ask_pending,
    on_help,
    on_read_back,
    on_say_again,
    on_what_is_left,
    on_where,
)
from assistant.session.tightening import on_next_bolt, on_tightened
from assistant.session.turn import Decision, Handler, Tone, Turn


def decide(state: State, intent: it.Intent, now: datetime) -> Decision:
    """Decide what an intent leads to in a state. `now` is local time, with its offset."""
    turn = Turn(state, now)
    TABLE[state.mode][type(intent)](turn, intent)
    return turn.decision()


def open_job(
    procedure: Procedure,
    source: str,
    now: datetime,
    *,
    unit: str | None = None,
    remark: str | None = None,
) -> Decision:
    """Decide what opening a job leads to. `source` is the procedure's text, kept with the job."""
    turn = Turn(st.start(procedure), now)
    turn.record(
        ev.JobOpened,
        procedure=procedure.procedure,
        title=procedure.title,
        revision=procedure.revision,
        sample=procedure.sample,
        source=source,
        unit=unit,
        remark=remark,
    )
    number = say.count(len(procedure.steps))
    turn.say(say.sentence(f"{procedure.title}, {number} steps"))
    if procedure.sample:
        turn.say("This is an invented sample. Do not work from it.", Tone.ALERT)
    turn.say(
        "The maker's current data, local codes and licensed practice come before what I read out."
    )
    for hazard in procedure.hazards:
        turn.say(say.hazard(hazard.signal.value, hazard.say), Tone.ALERT)
    enter(turn, turn.state.route()[0])
    return turn.decision()


def take_up(state: State, now: datetime, stopped: datetime) -> Decision:
    """Decide what going on with a job leads to; `stopped` is the time of its last event."""
    turn = Turn(state, now)
    turn.record(ev.JobTakenUp)
    ago = say.duration((now - stopped).total_seconds())
    turn.say(say.sentence(f"{state.procedure.title}. Work stopped {ago} ago"))
    if state.procedure.sample:
        turn.say("This is an invented sample. Do not work from it.", Tone.ALERT)
    on_where(turn, it.WhereAreWe())
    say_lacks(turn)
    if turn.state.pending is not None:
        ask_pending(turn, None)
    return turn.decision()


_WORKING: dict[type[it.Intent], Handler] = {
    it.Next: on_next,
    it.Previous: on_previous,
    it.Skip: on_skip,
    it.Reason: on_not_asked,
    it.GoTo: on_go_to,
    it.SayAgain: on_say_again,
    it.ReadBack: on_read_back,
    it.WhereAreWe: on_where,
    it.WhatIsLeft: on_what_is_left,
    it.Help: on_help,
    it.Ask: on_ask,
    it.Tightened: on_tightened,
    it.NextBolt: on_next_bolt,
    it.Reading: on_reading,
    it.Bag: on_bag,
    it.Order: on_order,
    it.Supply: on_supply,
    it.KitCheck: on_kit_check,
    it.Short: on_short,
    it.Affirm: on_affirm,
    it.Negative: on_negative,
    it.Chosen: on_chosen,
    it.Finding: on_finding,
    it.Note: on_note,
    it.Value: on_bare_value,
    it.Correction: on_correct,
    it.Disregard: on_disregard,
    it.StartTimer: on_start_timer,
    it.TimeLeft: on_time_left,
    it.Tick: on_tick,
    it.StandBy: on_stand_by,
    it.Resume: on_listening,
    it.CloseJob: on_close,
}


_ANSWERED_ALWAYS: dict[type[it.Intent], Handler] = {
    kind: _WORKING[kind]
    for kind in (
        it.SayAgain,
        it.ReadBack,
        it.WhereAreWe,
        it.WhatIsLeft,
        it.Help,
        it.Ask,
        it.TimeLeft,
        it.Tick,
        it.StandBy,
        it.Resume,
    )
}


def _waiting(own: dict[type[it.Intent], Handler]) -> dict[type[it.Intent], Handler]:
    """Return a mode in which an answer is waited for: anything else asks for it again."""
    return {**dict.fromkeys(it.ALL, ask_pending), **_ANSWERED_ALWAYS, **own}


TABLE: dict[Mode, dict[type[it.Intent], Handler]] = {
    Mode.WORKING: _WORKING,
    Mode.QUESTIONING: _waiting(
        {
            it.Affirm: on_affirm_value,
            it.Negative: on_drop_value,
            it.Disregard: on_drop_value,
            it.Correction: on_restate,
            it.Value: on_restate,
            it.Tightened: on_restate,
            it.Reading: on_restate,
            it.Bag: on_restate,
            it.Order: on_restate,
            it.Supply: on_restate,
        }
    ),
    Mode.SKIPPING: _waiting(
        {
            it.Reason: on_reason,
            it.Note: on_note_as_reason,
            it.Negative: on_drop_skip,
            it.Disregard: on_drop_skip,
        }
    ),
    Mode.NOTING: _waiting({it.Note: on_take_note, it.Disregard: on_drop_note}),
    Mode.CLOSING: _waiting(
        {
            it.Affirm: on_close_all_the_same,
            it.Negative: on_stay_open,
            it.Disregard: on_stay_open,
        }
    ),
    Mode.CHECKING: _waiting(
        {
            it.Affirm: on_there,
            it.Negative: on_not_there,
            it.Short: on_short,
            it.Previous: on_item_before,
            it.Disregard: on_leave_kit,
        }
    ),
    Mode.STANDING_BY: {
        **dict.fromkeys(it.ALL, on_silence),
        it.Resume: on_resume,
        it.Tick: on_tick,
    },
    Mode.CLOSED: {
        **dict.fromkeys(it.ALL, on_closed),
        it.SayAgain: on_say_again,
        it.WhatIsLeft: on_what_is_left,
        it.Tick: on_silence,
    },
}
"""For each mode, what each kind of intent does."""
