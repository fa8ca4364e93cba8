"""What the assistant tells of where the work stands; none of it changes the job."""

from __future__ import annotations

from assistant.language import wording as say
from assistant.procedure.model import Signal
from assistant.session import events as ev
from assistant.session import intents as it
from assistant.session import kit
from assistant.session import state as st
from assistant.session.state import Mode, State
from assistant.session.turn import Tone, Turn


def present(turn: Turn) -> None:
    """Say the step, or what has to be heard and affirmed before it may be said."""
    step = turn.state.step
    heading = f"Step {say.count(turn.state.number)}"
    items = turn.outstanding()
    first = items[0] if items else None
    if isinstance(first, st.HazardsToHear):
        turn.say(f"{heading}.")
        say_hazards(turn)
        turn.say("Affirm that you heard.", Tone.QUESTION)
        return
    if isinstance(first, st.StepBefore):
        turn.say(say.sentence(f"{heading} has to wait: {say.outstanding(first)}"), Tone.REFUSED)
        return
    if isinstance(first, st.ConditionToAffirm):
        turn.say(say.sentence(f"Before {heading.lower()}: {first.before.affirm}"))
        turn.say("Affirm or negative?", Tone.QUESTION)
        return
    turn.say(say.step_heading(turn.state.number, step))
    if step.id in turn.state.done:
        turn.say("This step is done.")
    elif step.id in turn.state.skipped:
        turn.say(say.sentence(f"This step was skipped, {turn.state.skipped[step.id]}"))
    if not any(h.signal.must_be_affirmed for h in step.hazards):
        say_hazards(turn)
    for sentence in say.briefing(turn.state.procedure, step, turn.state.answers):
        turn.say(sentence)


def say_hazards(turn: Turn) -> None:
    """Say the step's hazards, the gravest first, signal word first."""
    grades = list(Signal)
    for hazard in sorted(turn.state.step.hazards, key=lambda h: grades.index(h.signal)):
        turn.say(say.hazard(hazard.signal.value, hazard.say), Tone.ALERT)


def say_outstanding(turn: Turn, items: tuple[st.Outstanding, ...]) -> None:
    """Say what is outstanding, and that we stay."""
    turn.say(say.sentence(f"Outstanding: {say.all_outstanding(items)}"), Tone.REFUSED)
    turn.say(f"We stay at step {say.count(turn.state.number)}.", Tone.REFUSED)


def on_say_again(turn: Turn, intent: it.SayAgain) -> None:
    """Repeat what was said last."""
    turn.again = True


RECORDS = (
    ev.TorqueRecorded,
    ev.ReadingRecorded,
    ev.ValueWorkedOut,
    ev.LeakJudged,
    ev.FluidMeasured,
    ev.PartChosen,
    ev.BagRecorded,
    ev.PartOrdered,
    ev.OrderMoved,
    ev.KitChecked,
    ev.FindingRecorded,
    ev.NoteRecorded,
    ev.QuestionAnswered,
)


def on_read_back(turn: Turn, intent: it.ReadBack) -> None:
    """Say what is recorded at this step."""
    records = [e for e in turn.state.history if isinstance(e, RECORDS)]
    here = [e for e in records if e.step == turn.state.step_id]
    if not here:
        turn.say(f"Nothing is recorded at step {say.count(turn.state.number)}.")
        return
    turn.say(f"Recorded at step {say.count(turn.state.number)}:")
    for event in here:
        turn.say(say.sentence(say.event(event)))


def on_where(turn: Turn, intent: it.WhereAreWe) -> None:
    """Say the step, the stage and what is outstanding."""
    procedure = turn.state.procedure
    stage = procedure.stage_of(turn.state.step.id)
    turn.say(
        f"Step {say.count(turn.state.number)} of {say.count(len(procedure.steps))}, "
        f"{stage.name.lower()}. {say.sentence(turn.state.step.say)}"
    )
    if turn.state.step.id in turn.state.done:
        turn.say("This step is done.")
        return
    items = turn.outstanding()
    if items:
        turn.say(say.sentence(f"Outstanding: {say.all_outstanding(items)}"))
    else:
        turn.say("Nothing is outstanding here.")


def on_what_is_left(turn: Turn, intent: it.WhatIsLeft) -> None:
    """Say what is left of the job."""
    left = what_remains(turn.state)
    if not left:
        turn.say("Nothing is left. Say close job.")
        return
    for words in left:
        turn.say(say.sentence(words))


def what_remains(state: State) -> list[str]:
    """Word what keeps the job from being complete."""
    words = []
    undone = {s.id for s in state.route()} - state.done - state.skipped.keys()
    for stage in state.procedure.stages:
        number = sum(1 for s in stage.steps if s.id in undone)
        if number:
            words.append(f"{say.several(number, 'step')} of {stage.name.lower()} not done")
    for step_id, reason in state.skipped.items():
        number = state.procedure.index(step_id) + 1
        words.append(f"step {say.count(number)} skipped, {reason}")
    return words


def on_help(turn: Turn, intent: it.Help) -> None:
    """Say what can be said here."""
    turn.say(_HELP[turn.state.mode])


_HELP = {
    Mode.WORKING: "Say next step, previous step, skip step, say again, read back, where are we, "
    "what is left. Ask what torque, what thread locker, what tool, what parts, which bag, "
    "what size, what order, next bolt, what setting, what mix. "
    "Tell me tightened one four, reading two four point nine, bag three, "
    "order two drain plugs, drain plug received, installed or cancelled, "
    "a part and its condition, or note. Before work: kit check. "
    "To mend: correction, or disregard.",
    Mode.QUESTIONING: "Say affirm, negative, or correction and the value.",
    Mode.SKIPPING: "Say a reason, such as waiting for part, already done or not fitted; "
    "note and your own words; or disregard.",
    Mode.NOTING: "Say your note; it ends when you pause.",
    Mode.CLOSING: "Say affirm or negative.",
    Mode.CHECKING: "Say affirm, negative, or short one; go back; or disregard to leave the check.",
    Mode.STANDING_BY: "Say resume.",
    Mode.CLOSED: "The job is closed.",
}


def ask_pending(turn: Turn, intent: it.Intent | None) -> None:
    """Ask again what the session waits for."""
    match turn.state.pending:
        case ev.ValueQuestioned() as asked:
            way = "Affirm, or say correction." if asked.may_affirm else "Say correction."
            turn.say(f"I heard {asked.said}. {asked.why} {way}", Tone.QUESTION)
        case ev.SkipAsked():
            ask_reason(turn, it.Skip())
        case ev.NoteOpened():
            turn.say("Say your note.", Tone.QUESTION)
        case ev.KitOpened():
            turn.say(kit.question(turn.state), Tone.QUESTION)
        case ev.CloseAsked() as asked:
            turn.say(
                say.sentence(f"Not complete: {say.listing(asked.left)}. Close all the same?"),
                Tone.QUESTION,
            )


def ask_reason(turn: Turn, intent: it.Intent) -> None:
    """Ask why the step is skipped."""
    turn.say(
        f"Skip step {say.count(turn.state.number)}. For what reason? "
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
    if isinstance(item, st.TorqueToRecord):
        turn.say(say.sentence(f"Next, {say.target(item.target)}"))
    elif isinstance(item, st.ReadingToTake):
        turn.say(f"Next. {say.reading(item.reading)}")
    else:
        turn.say(say.sentence(f"Next, {say.outstanding(item)}"))
