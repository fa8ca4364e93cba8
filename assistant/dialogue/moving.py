"""Going from step to step: forward, back, skipping, and closing the job."""

from __future__ import annotations

from assistant.dialogue import (
    bags,
    build_order,
    events,
    facts,
    intents,
    lacking,
    ledger,
    remaining,
    second_check,
    wording,
)
from assistant.dialogue.supplying import names, orders_of, say_lacks
from assistant.dialogue.telling import (
    ask_pending,
    ask_reason,
    present,
    say_outstanding,
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
    if finished(turn):
        onward(turn)


def finished(turn: Turn) -> bool:
    """Return whether the step is done now; where something is outstanding, say what, and stay."""
    step = turn.state.step
    if step.id in turn.state.done:
        return True
    items = turn.outstanding()
    if items:
        second_check.claim(turn, items)
        say_outstanding(turn, turn.outstanding())
        if step.id in turn.state.skipped:
            turn.say(wording.remaining.SKIP_AGAIN, Tone.REFUSED)
        return False
    done(turn)
    return True


def done(turn: Turn) -> None:
    """Record that the step is done, what was fitted in it, and which orders that used up."""
    before = turn.state.holdings
    done = turn.record(events.StepDone, fitted=lacking.to_fit(turn.state, turn.state.step))
    after = turn.state.holdings
    for name in dict.fromkeys(fitted.name for fitted in done.fitted):
        key = turn.state.names.key(name, done.step)
        orders = orders_of(turn.state, name)
        used = before.held(key, "received") - after.held(key, "received")
        count = min(used, ledger.movable(orders, "fitted"))
        if count > 0:
            turn.record(
                events.OrderMoved, **names(orders), count=count, state="fitted", by_step=True
            )


def onward(turn: Turn) -> None:
    """Go to the next step that applies, or say that there is none."""
    if turn.state.building:
        _onward_in_build_up(turn)
        return
    here = turn.state.procedure.index(turn.state.step.id)
    for step in turn.state.route():
        if turn.state.procedure.index(step.id) > here:
            before = turn.state.procedure.stage_of(turn.state.step.id)
            stage = turn.state.procedure.stage_of(step.id)
            if stage is not before:
                turn.say(wording.steps.stage(stage.name))
            enter(turn, step)
            return
    turn.say(wording.remaining.LAST_STEP)
    left = remaining.of_job(turn.state)
    if left:
        turn.say(wording.remaining.still_open(left))
    turn.say(wording.remaining.SAY_CLOSE)


def _onward_in_build_up(turn: Turn) -> None:
    """Go to the next thing that goes on; after the last, say that all is on, or what was left."""
    step = build_order.next_step(turn.state)
    if step is not None:
        enter(turn, step)
        return
    if turn.state.arrangement.open is not None:
        turn.say(wording.pieces.GROUP_OPEN)
        return
    left = remaining.of_job(turn.state)
    turn.say(wording.remaining.still_open(left) if left else wording.pieces.ALL_OFF_AGAIN)
    turn.say(wording.remaining.SAY_CLOSE)


def on_previous(turn: Turn, intent: intents.Previous) -> None:
    """Go back one step."""
    here = turn.state.procedure.index(turn.state.step.id)
    earlier = [s for s in turn.state.route() if turn.state.procedure.index(s.id) < here]
    if not earlier:
        turn.say(wording.refusals.FIRST_STEP, Tone.REFUSED)
        return
    enter(turn, earlier[-1])


def on_go_to(turn: Turn, intent: intents.GoTo) -> None:
    """Go to a step by its number; forward only with nothing outstanding."""
    steps = turn.state.procedure.steps
    if not 1 <= intent.number <= len(steps):
        turn.say(wording.refusals.no_such_step(len(steps)), Tone.REFUSED)
        return
    step = steps[intent.number - 1]
    if step.id not in {s.id for s in turn.state.route()}:
        turn.say(wording.refusals.step_does_not_apply(intent.number), Tone.REFUSED)
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
        numbers = [turn.state.procedure.number(s.id) for s in missed]
        turn.say(wording.job.not_done_before(numbers))
    enter(turn, step)


def on_skip(turn: Turn, intent: intents.Skip) -> None:
    """Ask for the reason to skip the step."""
    if turn.state.step.id in turn.state.done:
        turn.say(wording.refusals.DONE_ALREADY, Tone.REFUSED)
        return
    turn.record(events.SkipAsked)
    ask_reason(turn, intent)


def on_reason(turn: Turn, intent: intents.Reason) -> None:
    """Skip the step for the reason given."""
    skip_for(turn, facts.SkipReason.of(intent.text))


def skip_for(turn: Turn, reason: facts.SkipReason) -> None:
    """Record the step as skipped, with what was outstanding, and go on."""
    left = remaining.items(turn.outstanding())
    turn.record(events.StepSkipped, reason=reason, outstanding=left)
    turn.say(wording.record.skipped(turn.state.number, reason), Tone.RECORDED)
    onward(turn)


def on_drop_skip(turn: Turn, intent: intents.Intent) -> None:
    """Leave the step as it is."""
    turn.record(events.QuestionDropped, asked="skip")
    turn.say(wording.job.not_skipped(turn.state.number))


def on_note_as_reason(turn: Turn, intent: intents.Note) -> None:
    """Take free speech as the reason."""
    if intent.text is None and not intent.clipped:
        turn.record(events.NoteOpened, reason_for="skip")
        turn.say(wording.questions.GO_AHEAD, Tone.QUESTION)
        return
    skip_for(turn, facts.SkipReason(note=intent.text))


def on_close(turn: Turn, intent: intents.CloseJob) -> None:
    """Close the job, or say what is left and ask."""
    here = turn.state.step.id
    settled = turn.state.done | turn.state.skipped.keys()
    if here not in settled and not turn.outstanding() and turn.state.route()[-1].id == here:
        done(turn)
    left = _left(turn)
    if left:
        turn.record(events.CloseAsked, left=left)
        ask_pending(turn, None)
        return
    _close(turn, ())


def _left(turn: Turn) -> tuple[facts.Left, ...]:
    """Return all that keeps the job from being complete, what fails first."""
    return (
        *remaining.of_job(turn.state),
        *bags.left_over(turn.state),
        *lacking.left_over(turn.state),
        *still_running(turn),
    )


def _close(turn: Turn, left: tuple[facts.Left, ...]) -> None:
    """Close the job with what is left in the record; say which parts are still to come."""
    turn.record(events.JobClosed, left=left)
    waited = ledger.to_come(turn.state.history)
    if waited:
        turn.say(wording.job.still_to_come(waited))
    turn.say(wording.job.CLOSED, Tone.RECORDED)


def on_close_all_the_same(turn: Turn, intent: intents.Affirm) -> None:
    """Close the job with what is left now, perhaps days after it was asked, in the record."""
    _close(turn, _left(turn))


def on_stay_open(turn: Turn, intent: intents.Intent) -> None:
    """Leave the job open."""
    turn.record(events.QuestionDropped, asked="close")
    turn.say(wording.job.STAYS_OPEN)
