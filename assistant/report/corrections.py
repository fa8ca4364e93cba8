"""What was questioned, and what was taken back or corrected."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assistant.dialogue import events, facts, ledger
from assistant.report import log, wording
from assistant.report.entries import Sources
from assistant.report.model import Questioned, Withdrawn
from assistant.report.steps import NOT_LISTED

Question = tuple[Questioned, events.Event | None]
"""A question, and the event that was recorded in answer to it."""

RECORDED = (
    events.TorqueRecorded,
    events.ReadingRecorded,
    events.BagRecorded,
    events.PartOrdered,
    events.OrderMoved,
)
_IN_PLACE = (*RECORDED, events.FindingRecorded, events.QuestionAnswered)


def questioned(of: Sources) -> Iterator[Question]:
    """Yield each question with the event that was then recorded.

    One that only asks how many raises no doubt, and is left out.
    """
    for place, event in enumerate(of.events):
        if not isinstance(event, events.ValueQuestioned):
            continue
        if isinstance(event.doubt, facts.CountNotSaid):
            continue
        found = _outcome(of, place)
        outcome, recorded, since_withdrawn = "open", None, False
        if found and isinstance(found[1], events.QuestionDropped):
            stands = event.replaces or isinstance(event.doubt, facts.TakenAlready)
            outcome = "left as it was" if stands else "nothing recorded"
        elif found and isinstance(found[1], events.ValueQuestioned):
            outcome = "questioned again"
        elif found:
            recorded = found[1]
            outcome = "said anew"
            if _same(event.candidate, recorded):
                again = isinstance(event.doubt, facts.TakenAlready | facts.OrderedAlready)
                outcome = "a further one" if again else "affirmed"
            since_withdrawn = not of.effective[found[0]]
        yield (
            of.entry(
                Questioned,
                event,
                first_heard=wording.heard(event),
                why=wording.why(event),
                outcome=outcome,
                recorded=wording.event(recorded) if recorded else None,
                since_withdrawn=since_withdrawn,
            ),
            recorded,
        )


def withdrawn(of: Sources) -> Iterator[Withdrawn]:
    """Yield what was taken back, and what was recorded instead or stands again.

    A withdrawal that was itself taken back took nothing back, and is left out.
    """
    for place, event in enumerate(of.events):
        if not isinstance(event, events.Withdrawn) or not of.effective[place]:
            continue
        taken = log.taken_from(of.events[:place], event)
        shown = [e for e in taken if not isinstance(e, (*NOT_LISTED, events.Withdrawn))]
        first = (shown or taken)[0]
        yield of.entry(
            Withdrawn,
            first,
            log.taken_back(of.events[:place], event, of.numbers),
            withdrawn_at=event.at,
            withdrawn_by=event.by,
            corrected=event.corrected,
            instead=_instead(of, place) if event.corrected else _again(of, taken),
        )


def _instead(of: Sources, place: int) -> str | None:
    """Return what was recorded in place of what the correction at this place took back: they are of
    one turn.
    """
    turn = of.events[place].turn
    later = (event for event in of.events[place + 1 :] if event.turn == turn)
    return next((wording.event(e) for e in later if isinstance(e, _IN_PLACE)), None)


def _again(of: Sources, taken: Sequence[events.Base]) -> str | None:
    """Return what stands again because the correction that had replaced it was taken back."""
    again = [
        wording.event(old)
        for undone in taken
        if isinstance(undone, events.Withdrawn)
        for old in log.taken_from(of.events, undone)
        if isinstance(old, _IN_PLACE)
    ]
    return f"again: {'; '.join(again)}" if again else None


def _outcome(of: Sources, place: int) -> tuple[int, events.Event] | None:
    """Return what ended the question at this place among the events, and its place."""
    for number, event in enumerate(of.events[place + 1 :], place + 1):
        ends = isinstance(event, (*RECORDED, events.QuestionDropped, events.ValueQuestioned))
        if ends and not ledger.from_desk(event):
            return number, event
    return None


def _same(candidate: events.Base, recorded: events.Base) -> bool:
    """Whether what was recorded is what was asked about."""
    moment = {"at", "turn", "heard", "by"}
    return type(candidate) is type(recorded) and (
        candidate.model_dump(exclude=moment) == recorded.model_dump(exclude=moment)
    )
