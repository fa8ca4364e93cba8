"""“Ask customer” at the bench, and what is said where a part is ordered that nobody agreed to."""

from __future__ import annotations

from assistant.dialogue import customer, events, facts, intents, wording
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.withdrawal import place_of


def on_ask(turn: Turn, intent: intents.AskCustomer) -> None:
    """Have the customer asked about what was found last."""
    about = _found_last(turn.state)
    if about is None:
        turn.say(wording.customer.ABOUT_NOTHING, Tone.REFUSED)
        return
    before = next((q for q in customer.questions(turn.state.log) if q.about is about), None)
    if before is not None:
        turn.say(wording.customer.asked_already(before.work, before.answer), Tone.REFUSED)
        return
    work = customer.extra(about)
    ref = facts.EventRef(turn=about.turn, place=place_of(about, turn.state.log))
    turn.record(events.CustomerAsked, of=ref, work=work)
    elsewhere = about.step != turn.state.step_id
    number = customer.found_at(turn.state, about) if elsewhere else None
    turn.say(wording.customer.asked(work, number), Tone.RECORDED)
    if isinstance(about, events.FindingRecorded) and about.disposition is None:
        turn.say(wording.customer.NEEDS_NOT_SAID)


def say_not_agreed(turn: Turn, part: str) -> None:
    """Say of a part that is asked for that the customer has not agreed to it, where that is so."""
    for one in customer.questions(turn.state.log):
        if not isinstance(one.about, events.FindingRecorded):
            continue
        declined = one.answer is not None and one.answer.answer == "declines"
        if (one.open or declined) and _name(turn.state, one.about.part) == part:
            turn.say(wording.customer.not_agreed(one.work, one.answer), Tone.ALERT)


def _found_last(state: State) -> customer.Extra | None:
    """Return the last finding, or a later order of a part that nothing was found of."""
    findings = state.of_job(events.FindingRecorded)
    found = {_name(state, one.part): one for one in findings}
    for event in reversed(state.history):
        if isinstance(event, events.FindingRecorded):
            return event
        if isinstance(event, events.PartOrdered):
            return found.get(_name(state, event.part), event)
    return None


def _name(state: State, part: str) -> str:
    """Return a part's one name, whatever it was called."""
    known = state.procedure.part(part)
    return known.name if known else part
