"""What a record is made from, and how an entry is made of an event."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from assistant.dialogue import bags, customer, events, ledger, nonconformities, photos, results
from assistant.dialogue.replaying import replay_stored
from assistant.dialogue.withdrawal import what_stands
from assistant.journal.additions import Entry as Added
from assistant.journal.records import Transcript
from assistant.procedure.model import Judged, Procedure, Step, Taken
from assistant.report import wording
from assistant.report.evidence import superseded
from assistant.report.model import Entry
from assistant.trade import units

E = TypeVar("E", bound=Entry)


def in_effect(history: Sequence[events.Event], procedure: Procedure) -> list[bool]:
    """Return for each event whether it is still in effect, withdrawals among them.

    Raises AssistantError for events that do not fit together.
    """
    replay_stored(procedure, history)
    kept = {id(event) for event in what_stands(history)}
    return [id(event) in kept for event in history]


def written(event: events.Base) -> Iterator[tuple[str, object]]:
    """Yield the fields that an event has as data and a record as what is read, by name."""
    if isinstance(event, events.ReadingRecorded | events.ValueWorkedOut):
        yield "limits", wording.limits(event.limits)
    if isinstance(event, events.TorqueRecorded):
        yield "warning", wording.doubts(event)
    if isinstance(event, events.TorqueRecorded | events.ReadingRecorded):
        by = event.instrument
        yield "instrument", by and by.name
        yield "instrument_serial", by and by.serial
        yield "calibrated_until", by and by.calibrated_until
    if hasattr(event, "first_heard"):
        yield "first_heard", wording.first_heard(event.first_heard)


class Sources:
    """What the parts of a record are worked out from."""

    def __init__(
        self,
        history: Sequence[events.Event],
        procedure: Procedure,
        transcripts: Mapping[str, tuple[Transcript, ...]],
        afterwards: Sequence[Added],
    ) -> None:
        self.transcripts = transcripts
        self.afterwards = [e for e in afterwards if isinstance(e, events.OrderMoved)]
        self.questions = customer.questions(history, afterwards)
        self.events = history
        self.procedure = procedure
        self.state = replay_stored(procedure, history)
        self.ledger = ledger.lines(self.state.history)
        self.ledger_now = ledger.lines((*self.state.history, *afterwards))
        self.effective = in_effect(history, procedure)
        self.superseded = superseded(history, self.effective, self.state)
        """By place in `events`, what was told of results and is no longer so."""
        self.photos = photos.shown_with(history)
        self.photos_later = photos.put_in_later(afterwards)
        self.numbers = {step.id: n for n, step in enumerate(procedure.steps, 1)}

    def entry(
        self, kind: type[E], event: events.Base, what: str | None = None, /, **fields: object
    ) -> E:
        """Make an entry from an event: the fields that it shares with it, and those given."""
        shared = {name: getattr(event, name) for name in kind.model_fields if hasattr(event, name)}
        shared |= {name: text for name, text in written(event) if name in kind.model_fields}
        if isinstance(event, events.BagRecorded) and "contents" in kind.model_fields:
            shared["contents"] = wording.contents(bags.put_in(self.state, event))
        if "ucum" in kind.model_fields and "unit" in shared:
            shared["ucum"] = units.ucum(shared["unit"])
        digest = event.heard.clip_sha256 if event.heard else None
        made: dict[str, object] = {
            "number": self.numbers.get(event.step or ""),
            "transcripts": self.transcripts.get(digest or "", ()),
            "what": what or wording.event(event),
        }
        if "photos" in kind.model_fields:
            # The same picture twice is one to look at.
            made["photos"] = tuple(dict.fromkeys(p.sha256 for p in self.photos.get(id(event), ())))
        return kind.model_validate(shared | made | fields)

    def all(self, kind: type[E], of: type[events.Base]) -> tuple[E, ...]:
        """Make an entry from each event of a kind that is in effect."""
        return tuple(self.entry(kind, event) for event in self.state.of_job(of))

    def told(self, result: results.Followed) -> events.Base:
        """Return a result that stands as the event that tells it, with the time, the technician
        and the words of the last reading that went into it.

        Raises TypeError for one that could not be worked out.
        """
        went_in = nonconformities.went_in(self.state, result)
        last = max(went_in, key=lambda event: event.turn, default=self.events[0])
        told = results.as_event(result, last.at, last.turn, last.by)
        if told is None:
            raise TypeError(f"nothing follows from {result!r}")
        return told.model_copy(update={"heard": last.heard})

    def taken(self, event: events.Base, judged: Judged | None = None) -> Taken:
        """Return whether a record tells how the machine came in, or how it leaves."""
        if event.step is None:
            return "as found"
        return self.procedure.taken(event.step, judged or Judged())

    def step(self, event: events.Base) -> Step | None:
        """Return the step at which something happened; None where it was at none."""
        number = self.numbers.get(event.step or "")
        return self.procedure.steps[number - 1] if number else None

    def part(self, name: str) -> str:
        """Return a part's one name, whatever it was called."""
        part = self.procedure.part(name)
        return part.name if part else name

    def lines_of(self, part: str, of: Iterable[ledger.Line]) -> list[ledger.Line]:
        """Return the orders of a part, by whatever name it was ordered."""
        return [line for line in of if self.part(line.name) == part]
