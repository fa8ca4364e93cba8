"""Going from step to step: forward, back, skipping, and closing the job."""

from __future__ import annotations

from assistant.dialogue import bags, events, intents, ledger, wording
from assistant.dialogue.supplying import say_lacks
from assistant.dialogue.telling import (
    ask_pending,
    ask_reason,
    present,
    say_outstanding,
    what_remains,
)
from assistant.dialogue.timers import still_running
from assistant.dialogue.turn import Tone, Turn
from assistant.procedure.model import Step


def enter(turn: Turn, step: Step) -> None:
    """Go to a step and tell it."""
    turn.record(events.StepEntered, step=step.id, came_from=turn.state.step_id)
    say_lacks(turn, step)
    present(turn)  # Last, for it may end with a question.


def on_next(turn: Turn, intent: intents.Next) -> None:
    """Go on, if nothing is outstanding; else say what is, and stay."""
    step = turn.state.step
    if step.id not in turn.state.done:
        items = turn.outstanding()
        if not items:
            turn.record(events.StepDone)
        elif step.id not in turn.state.skipped:
            say_outstanding(turn, items)
            return
    onward(turn)


def onward(turn: Turn) -> None:
    """Go to the next step that applies, or say that there is none."""
    here = turn.state.procedure.index(turn.state.step.id)
    for step in turn.state.route():
        if turn.state.procedure.index(step.id) > here:
            before = turn.state.procedure.stage_of(turn.state.step.id)
            stage = turn.state.procedure.stage_of(step.id)
            if stage is not before:
                turn.say(wording.sentence(stage.name))
            enter(turn, step)
            return
    turn.say("That was the last step.")
    left = what_remains(turn.state)
    if left:
        turn.say(wording.sentence(f"Still open: {wording.listing(left)}"))
    turn.say("Say close job to close it.")


def on_previous(turn: Turn, intent: intents.Previous) -> None:
    """Go back one step."""
    here = turn.state.procedure.index(turn.state.step.id)
    earlier = [s for s in turn.state.route() if turn.state.procedure.index(s.id) < here]
    if not earlier:
        turn.say("This is the first step.", Tone.REFUSED)
        return
    enter(turn, earlier[-1])


def on_go_to(turn: Turn, intent: intents.GoTo) -> None:
    """Go to a step by its number; forward only with nothing outstanding."""
    steps = turn.state.procedure.steps
    if not 1 <= intent.number <= len(steps):
        turn.say(f"There are {wording.count(len(steps))} steps.", Tone.REFUSED)
        return
    step = steps[intent.number - 1]
    if step.id not in {s.id for s in turn.state.route()}:
        turn.say(
            f"Step {wording.count(intent.number)} does not apply to this machine, "
            "or a question before it is still open.",
            Tone.REFUSED,
        )
        return
    here = turn.state.procedure.index(turn.state.step.id)
    forward = intent.number - 1 > here
    settled = turn.state.done | turn.state.skipped.keys()
    items = turn.outstanding()
    if forward and items and turn.state.step.id not in settled:
        say_outstanding(turn, items)
        return
    missed = [
        s
        for s in turn.state.route()
        if here <= turn.state.procedure.index(s.id) < intent.number - 1 and s.id not in settled
    ]
    if forward and missed:
        steps_left = wording.several(len(missed), "step")
        turn.say(wording.sentence(f"{steps_left} before it {_is(len(missed))} not done"))
    enter(turn, step)


def _is(number: int) -> str:
    return "is" if number == 1 else "are"


def on_skip(turn: Turn, intent: intents.Skip) -> None:
    """Ask for the reason to skip the step."""
    if turn.state.step.id in turn.state.done:
        turn.say("This step is done already. Say next step.", Tone.REFUSED)
        return
    turn.record(events.SkipAsked)
    ask_reason(turn, intent)


def on_reason(turn: Turn, intent: intents.Reason) -> None:
    """Skip the step for the reason given."""
    skip_for(turn, intent.text)


def skip_for(turn: Turn, reason: str) -> None:
    """Record the step as skipped, with what was outstanding, and go on."""
    words = tuple(wording.outstanding(item) for item in turn.outstanding())
    turn.record(events.StepSkipped, reason=reason, outstanding=words)
    turn.say(
        wording.sentence(
            f"Step {wording.count(turn.state.number)} skipped, {reason}. It is in the record"
        ),
        Tone.RECORDED,
    )
    onward(turn)


def on_drop_skip(turn: Turn, intent: intents.Intent) -> None:
    """Leave the step as it is."""
    turn.record(events.QuestionDropped, what="skipping the step")
    turn.say(f"Not skipped. We stay at step {wording.count(turn.state.number)}.")


def on_note_as_reason(turn: Turn, intent: intents.Note) -> None:
    """Take free speech as the reason."""
    if intent.text is None and not intent.clipped:
        turn.record(events.NoteOpened, as_reason=True)
        turn.say("Go ahead.", Tone.QUESTION)
        return
    skip_for(turn, intent.text or "as spoken in the clip")


def on_close(turn: Turn, intent: intents.CloseJob) -> None:
    """Close the job, or say what is left and ask."""
    here = turn.state.step.id
    settled = turn.state.done | turn.state.skipped.keys()
    if here not in settled and not turn.outstanding() and turn.state.route()[-1].id == here:
        turn.record(events.StepDone)
    left = [
        *what_remains(turn.state),
        *bags.left_over(turn.state),
        *still_running(turn),
    ]
    if left:
        turn.record(events.CloseAsked, left=tuple(left))
        ask_pending(turn, None)
        return
    _say_closed(turn, ())


def _say_closed(turn: Turn, left: tuple[str, ...]) -> None:
    turn.record(events.JobClosed, left=left)
    waited = [
        wording.parts(turn.state.procedure, line.name, line.to_come)
        for line in ledger.lines(turn.state.history)
        if line.to_come
    ]
    if waited:
        turn.say(wording.sentence(f"Still to come: {wording.listing(waited)}"))
    turn.say("Job closed.", Tone.RECORDED)


def on_close_all_the_same(turn: Turn, intent: intents.Affirm) -> None:
    """Close the job with what is left in the record."""
    asked = turn.state.pending
    assert isinstance(asked, events.CloseAsked)
    _say_closed(turn, asked.left)


def on_stay_open(turn: Turn, intent: intents.Intent) -> None:
    """Leave the job open."""
    turn.record(events.QuestionDropped, what="closing the job")
    turn.say("The job stays open.")
