"""What the assistant tells of where the work stands; none of it changes the job."""

from __future__ import annotations

from assistant.dialogue import events, intents, kit, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.effects import SayAgain
from assistant.dialogue.state import State
from assistant.dialogue.turn import Tone, Turn
from assistant.procedure.model import Signal


def present(turn: Turn) -> None:
    """Say the step, or what has to be heard and affirmed before it may be said."""
    step = turn.state.step
    heading = f"Step {wording.count(turn.state.number)}"
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, job_state.HazardsToHear):
        turn.say(f"{heading}.")
        say_hazards(turn)
        turn.say("Affirm that you heard.", Tone.QUESTION)
        return
    if isinstance(first, job_state.StepBefore):
        turn.say(
            wording.sentence(f"{heading} has to wait: {wording.outstanding(first)}"), Tone.REFUSED
        )
        return
    if isinstance(first, job_state.ConditionToAffirm):
        turn.say(wording.sentence(f"Before {heading.lower()}: {first.before.affirm}"))
        turn.say("Affirm or negative?", Tone.QUESTION)
        return
    turn.say(wording.step_heading(turn.state.number, step))
    if step.id in turn.state.done:
        turn.say("This step is done.")
    elif step.id in turn.state.skipped:
        turn.say(wording.sentence(f"This step was skipped, {turn.state.skipped[step.id]}"))
    if not any(h.signal.must_be_affirmed for h in step.hazards):
        say_hazards(turn)
    for sentence in wording.briefing(turn.state.procedure, step, turn.state.answers):
        turn.say(sentence)


def say_hazards(turn: Turn) -> None:
    """Say the step's hazards, the gravest first, signal word first."""
    grades = list(Signal)
    for hazard in sorted(turn.state.step.hazards, key=lambda h: grades.index(h.signal)):
        turn.say(wording.hazard(hazard.signal.value, hazard.say), Tone.ALERT)


def say_outstanding(turn: Turn, items: tuple[job_state.Outstanding, ...]) -> None:
    """Say what is outstanding, and that we stay."""
    turn.say(wording.sentence(f"Outstanding: {wording.all_outstanding(items)}"), Tone.REFUSED)
    turn.say(f"We stay at step {wording.count(turn.state.number)}.", Tone.REFUSED)


def on_say_again(turn: Turn, intent: intents.SayAgain) -> None:
    """Repeat what was said last."""
    turn.ask_for(SayAgain())


def on_read_back(turn: Turn, intent: intents.ReadBack) -> None:
    """Say what is recorded at this step."""
    records = [e for e in turn.state.history if isinstance(e, turn.rules.read_back)]
    here = [e for e in records if e.step == turn.state.step_id]
    if not here:
        turn.say(f"Nothing is recorded at step {wording.count(turn.state.number)}.")
        return
    turn.say(f"Recorded at step {wording.count(turn.state.number)}:")
    for event in here:
        turn.say(wording.sentence(wording.event(event)))


def on_where(turn: Turn, intent: intents.WhereAreWe) -> None:
    """Say the step, the stage and what is outstanding."""
    procedure = turn.state.procedure
    stage = procedure.stage_of(turn.state.step.id)
    turn.say(
        f"Step {wording.count(turn.state.number)} of {wording.count(len(procedure.steps))}, "
        f"{stage.name.lower()}. {wording.sentence(turn.state.step.say)}"
    )
    if turn.state.step.id in turn.state.done:
        turn.say("This step is done.")
        return
    items = turn.outstanding()
    if items:
        turn.say(wording.sentence(f"Outstanding: {wording.all_outstanding(items)}"))
    else:
        turn.say("Nothing is outstanding here.")


def on_what_is_left(turn: Turn, intent: intents.WhatIsLeft) -> None:
    """Say what is left of the job."""
    left = what_remains(turn.state)
    if not left:
        turn.say("Nothing is left. Say close job.")
        return
    for words in left:
        turn.say(wording.sentence(words))


def what_remains(state: State) -> list[str]:
    """Word what keeps the job from being complete."""
    words = []
    undone = {s.id for s in state.route()} - state.done - state.skipped.keys()
    for stage in state.procedure.stages:
        number = sum(1 for s in stage.steps if s.id in undone)
        if number:
            words.append(f"{wording.several(number, 'step')} of {stage.name.lower()} not done")
    for step_id, reason in state.skipped.items():
        number = state.procedure.index(step_id) + 1
        words.append(f"step {wording.count(number)} skipped, {reason}")
    return words


def on_help(turn: Turn, intent: intents.Help) -> None:
    """Say what can be said here."""
    turn.say(wording.what_can_be_said(turn.state.mode, turn.rules.examples(turn.state.mode)))


def ask_pending(turn: Turn, intent: intents.Intent | None) -> None:
    """Ask again what the session waits for."""
    match turn.state.pending:
        case events.ValueQuestioned() as asked:
            way = "Affirm, or say correction." if asked.may_affirm else "Say correction."
            turn.say(f"I heard {asked.said}. {asked.why} {way}", Tone.QUESTION)
        case events.SkipAsked():
            ask_reason(turn, intents.Skip())
        case events.NoteOpened():
            turn.say("Say your note.", Tone.QUESTION)
        case events.KitOpened():
            turn.say(kit.question(turn.state), Tone.QUESTION)
        case events.CloseAsked() as asked:
            turn.say(
                wording.sentence(
                    f"Not complete: {wording.listing(asked.left)}. Close all the same?"
                ),
                Tone.QUESTION,
            )


def ask_reason(turn: Turn, intent: intents.Intent) -> None:
    """Ask why the step is skipped."""
    turn.say(
        f"Skip step {wording.count(turn.state.number)}. For what reason? "
        "Say waiting for part, already done, not fitted, tool not here, "
        "or note and your own words.",
        Tone.QUESTION,
    )


def say_what_next(turn: Turn) -> None:
    """Say what to do next at this step."""
    items = turn.outstanding()
    if not items:
        turn.say("Nothing more here. Say next step when ready.")
        return
    item = items[0]
    if isinstance(item, job_state.TorqueToRecord):
        turn.say(wording.sentence(f"Next, {wording.target(item.target)}"))
    elif isinstance(item, job_state.ReadingToTake):
        turn.say(f"Next. {wording.reading(item.reading)}")
    else:
        turn.say(wording.sentence(f"Next, {wording.outstanding(item)}"))
