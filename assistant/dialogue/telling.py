"""What the assistant tells about where the work stands. Nothing here changes the job."""

from __future__ import annotations

from typing import get_args

from assistant.dialogue import (
    events,
    fitting,
    intents,
    kit,
    ledger,
    nonconformities,
    outstanding_work,
    remaining,
    results,
    wording,
)
from assistant.dialogue.command import AT_WORK
from assistant.dialogue.effects import SayAgain, TellLastTime
from assistant.dialogue.state import Mode
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.withdrawal import first_said
from assistant.procedure.model import Signal


def present(turn: Turn) -> None:
    """Say the step, or what has to be heard and affirmed before it may be said."""
    step, number = turn.state.step, turn.state.number
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, outstanding_work.GateToPass):
        turn.say(wording.failures.gated(number, remaining.gate(first)), Tone.REFUSED)
        return
    if isinstance(first, outstanding_work.FailureToSettle) and not first.here:
        failed = nonconformities.failed(first.failure)
        turn.say(wording.failures.held_by(number, failed), Tone.REFUSED)
        return
    if isinstance(first, outstanding_work.HazardsToHear):
        turn.say(wording.steps.number_alone(number))
        ask_to_affirm(turn)
        return
    if isinstance(first, outstanding_work.StepBefore):
        turn.say(wording.remaining.step_waits(number, remaining.before(first)), Tone.REFUSED)
        return
    if isinstance(first, outstanding_work.ConditionToAffirm):
        turn.say(wording.steps.condition(number, first.before.affirm or ""))
        turn.say(wording.questions.AFFIRM_OR_NEGATIVE, Tone.QUESTION)
        return
    turn.say(wording.steps.heading(number, step))
    if step.id in turn.state.done:
        turn.say(wording.job.STEP_DONE)
    elif step.id in turn.state.skipped:
        turn.say(wording.job.already_skipped(turn.state.skipped[step.id]))
    if not any(map(turn.state.procedure.must_be_affirmed, step.hazards)):
        say_hazards(turn)
    for sentence in wording.steps.briefing(
        turn.state.procedure, step, turn.state.answers, fitting.fits_of(turn.state, step)
    ):
        turn.say(sentence)
    if items and remaining.begun(turn.state):
        turn.say(wording.remaining.begun(remaining.items(items)))


def hazards_due(turn: Turn) -> tuple[outstanding_work.HazardsToHear, ...]:
    """Return the hazards to be affirmed now: those of the procedure and of the step together,
    unless something else comes between.
    """
    found = []
    for item in turn.outstanding():
        if not isinstance(item, outstanding_work.HazardsToHear):
            break
        found.append(item)
    return tuple(found)


def ask_to_affirm(turn: Turn) -> None:
    """Say the hazards that are to be affirmed now, if any are."""
    due = hazards_due(turn)
    for item in due:
        if item.of_job:
            for hazard in item.hazards:
                turn.say(wording.steps.hazard(remaining.hazard(hazard)), Tone.ALERT)
        else:
            say_hazards(turn)
    if due:
        turn.say(wording.questions.AFFIRM_HEARD, Tone.QUESTION)


def say_hazards(turn: Turn) -> None:
    """Say the step's hazards, the gravest first, signal word first."""
    grades = list(Signal)
    for hazard in sorted(turn.state.step.hazards, key=lambda h: grades.index(h.signal)):
        turn.say(wording.steps.hazard(remaining.hazard(hazard)), Tone.ALERT)


def say_outstanding(turn: Turn, items: tuple[outstanding_work.Outstanding, ...]) -> None:
    """Say what is outstanding, and that we stay."""
    turn.say(wording.remaining.told(remaining.items(items)), Tone.REFUSED)
    turn.say(wording.remaining.stay(turn.state.number), Tone.REFUSED)


def on_say_again(turn: Turn, intent: intents.SayAgain) -> None:
    """Repeat what was said last."""
    turn.ask_for(SayAgain())


def on_last_time(turn: Turn, intent: intents.AskLastTime) -> None:
    """Have the bench say what earlier jobs found: they are in its journal, not in this job."""
    turn.ask_for(TellLastTime())


def on_read_back(turn: Turn, intent: intents.ReadBack) -> None:
    """Say what is recorded at this step."""
    state = turn.state
    # What follows is told as it follows now, and not as it was told at the time.
    apart = (*get_args(results.Evidence), events.Conceded)
    here: list[events.Base] = [
        e for e in state.of_step(turn.rules.read_back) if not isinstance(e, apart)
    ]
    followed = (results.as_event(e, turn.now, turn.number) for e in state.results.at(state.step.id))
    here += [event for event in followed if event is not None]
    # A concession that has lapsed is not among them.
    failing = [each for each in state.nonconformities if each.step is state.step]
    here += [each.conceded for each in failing if each.conceded is not None]
    if not here:
        turn.say(wording.record.nothing_read_back(turn.state.number))
        return
    turn.say(wording.record.read_back(turn.state.number))
    for event in here:
        turn.say(wording.record.told(event))


def on_where(turn: Turn, intent: intents.WhereAreWe) -> None:
    """Say the step, the stage and what is outstanding."""
    procedure = turn.state.procedure
    stage = procedure.stage_of(turn.state.step.id)
    number, of = turn.state.number, len(procedure.steps)
    turn.say(wording.steps.where(number, of, stage.name, turn.state.step))
    if turn.state.arrangement.open is not None:
        turn.say(wording.pieces.GROUP_OPEN)
    if turn.state.step.id in turn.state.done:
        turn.say(wording.job.STEP_DONE)
        return
    turn.say(wording.remaining.told(remaining.items(turn.outstanding())))


def on_what_is_left(turn: Turn, intent: intents.WhatIsLeft) -> None:
    """Say what is left of the job."""
    left = remaining.of_job(turn.state)
    if not left:
        turn.say(wording.remaining.NOTHING_LEFT)
        return
    for words in wording.remaining.each_left(left):
        turn.say(wording.sentence(words))


def reviewed(turn: Turn, step: str) -> tuple[events.Base, ...]:
    """Return what was recorded at a step and can be corrected by a number, in the order in which it
    was first said: what is put right keeps its place.
    """
    log = turn.state.log
    places = {id(event): place for place, event in enumerate(log)}
    found = turn.state.of_step(turn.rules.corrected_by_number, step)
    said = (event for event in found if not ledger.followed_from_step(event))
    return tuple(sorted(said, key=lambda event: places[id(first_said(event, log))]))


def on_help(turn: Turn, intent: intents.Help) -> None:
    """Say what fits at this point of the work, or all that can be said."""
    mode = turn.state.mode
    if intent.all or mode not in AT_WORK:
        turn.say(wording.help.what_can_be_said(mode, turn.rules.examples(mode)))
    else:
        for sentence in wording.help.what_fits(mode, remaining.items(turn.outstanding())):
            turn.say(sentence)


def ask_pending(turn: Turn, intent: intents.Intent | None) -> None:
    """Ask again what the session waits for."""
    match turn.state.pending:
        case events.ValueQuestioned() as asked:
            turn.say(wording.questions.value(asked), Tone.QUESTION)
        case events.ValueSent() as asked:
            what = wording.sent.value(asked.value, asked.unit, asked.instrument)
            turn.say(wording.sent.which(what, asked.readings, asked.fasteners), Tone.QUESTION)
        case events.SkipAsked():
            ask_reason(turn, intents.Skip())
        case events.NoteOpened():
            turn.say(wording.questions.SAY_NOTE, Tone.QUESTION)
        case events.ConcessionAsked() as asked:
            turn.say(wording.failures.ask_concession(asked.failed), Tone.QUESTION)
        case events.ReviewOpened() as asked:
            number = turn.state.procedure.number(asked.of)
            event = reviewed(turn, asked.of)[asked.place]
            turn.say(wording.changes.review(number, event), Tone.QUESTION)
        case events.KitOpened():
            item = kit.present_item(turn.state)
            if item is not None:
                turn.say(wording.kit.ask(item), Tone.QUESTION)
            else:
                turn.say(wording.kit.ask_to_order(kit.short(turn.state)), Tone.QUESTION)
        case events.RevisionOffered() as asked:
            turn.say(wording.revisions.ask(asked.revision, asked.changed), Tone.QUESTION)
        case events.CloseAsked() as asked:
            turn.say(wording.job.close_all_the_same(asked.left), Tone.QUESTION)


def ask_reason(turn: Turn, intent: intents.Intent) -> None:
    """Ask why the step is skipped."""
    turn.say(wording.questions.skip_reason(turn.state.number), Tone.QUESTION)


def say_what_next(turn: Turn) -> None:
    """Say what to do next at this step."""
    if turn.elsewhere or turn.state.mode is Mode.TAKING_DOWN:
        return
    items = turn.outstanding()
    if not items:
        turn.say(wording.remaining.NOTHING_MORE)
        return
    item = items[0]
    if isinstance(item, outstanding_work.ReadingToTake):
        taken = turn.state.of_step(events.ReadingRecorded)
        place = 1 + sum(event.name == item.reading.name for event in taken)
        turn.say(wording.remaining.next_reading(item.reading, place))
    elif isinstance(item, outstanding_work.FailureToSettle):
        what = wording.sentence(wording.failures.what(nonconformities.failed(item.failure)))
        # Where it has just been told, so have the ways out.
        if not any(what in reply.text for reply in turn.replies):
            turn.say(wording.sentence(wording.remaining.outstanding(remaining.item(item))))
    else:
        turn.say(wording.remaining.next_thing(remaining.item(item)))
