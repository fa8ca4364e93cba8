"""What stands ahead of a record's tables, as data: its head, its summary, its findings by place."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from assistant.grammar import nouns
from assistant.procedure import unwritten
from assistant.report import spans, wording
from assistant.report.model import Finding, FollowedJob, Note, Record, Severity, SignOff, StandsOut

KINDS = {
    "fails": "Fails",
    "conceded": "Conceded",
    "skipped": "Skipped",
    "left undone": "Left undone",
    "outside": "Not as asked",
    "affirmed": "Overridden",
    "doubtful": "Doubtful",
    "questioned": "Asked about",
    "corrected": "Corrected",
    "withdrawn": "Withdrawn",
}
_GRAVE = ("skipped", "left undone", "outside", "affirmed", "doubtful")

_FAILING = ("fails", "conceded")
"""Shown ahead of all, as nonconformities."""

_SEVERITIES: tuple[Severity, ...] = ("serious", "not rated", "moderate", "slight", "none")
"""The gravest first; what nobody has rated may be grave."""


CARE = (
    "This record shows what was said at the bench and kept. It proves nothing about the work "
    "itself. The manufacturer’s current data, local codes and licensed practice come first."
)
JUDGING = (
    "Severity and what is to be done follow from the condition and from what was ordered or "
    "fitted, by a table of common practice, until somebody who has looked at the part says "
    "otherwise."
)


@dataclass(frozen=True)
class Link:
    """Another job, as it is told in the record; the board links to its page."""

    text: str
    job: int | None
    """Its number where the record is from; None where it is not there."""


@dataclass(frozen=True)
class Fact:
    """One line of the record's head."""

    name: str
    text: str = ""
    at: datetime | None = None
    small: str = ""
    broad: bool = False
    links: tuple[Link, ...] = ()
    """Other jobs, told after the text."""


@dataclass(frozen=True)
class Place:
    """The findings at one place of the assembly, the gravest first."""

    name: str
    findings: tuple[Finding, ...] = ()


def verdict(record: Record) -> tuple[str, bool]:
    """Return whether the job is complete, as a sentence and as a truth.

    What was conceded is named in the same breath; what is open makes it incomplete.
    """
    of = record.summary
    conceded = f"; conceded: {_conceded(record)}" if of.conceded else ""
    if of.complete:
        return f"Complete: every step that applies is done{conceded}.", True
    fail = f"{wording.several(of.open, 'result')} {'fails' if of.open == 1 else 'fail'}"
    failing = f", {fail}" if of.open else ""
    if not record.closed:
        return f"Not complete: the job is open{failing}{conceded}.", False
    if of.in_pieces:
        return f"Not complete: closed with the machine in pieces{failing}{conceded}.", False
    work = of.done < of.applicable
    left = f"closed with work left{failing}" if work else f"closed though {fail}"
    return f"Not complete: {left}{conceded}.", False


def signed(record: Record) -> list[str]:
    """Return who signed the job off, and when, one sentence for each sign-off."""
    return [_signed(one) for one in record.sign_offs]


def _signed(of: SignOff) -> str:
    note = f": {of.note}" if of.note else ""
    despite = f" (though {'; '.join(of.despite)})" if of.despite else ""
    return f"Signed off by {of.by}, {of.at:%Y-%m-%d %H:%M}{note}{despite}"


def _conceded(record: Record) -> str:
    given = [one for one in record.nonconformities if one.status == "conceded"]
    return wording.listing(f"{wording.result(one)} at step {one.number}" for one in given)


def headline(record: Record) -> str:
    """Return how many results fail, and how the others stand, as a heading."""
    statuses = Counter(one.status for one in record.nonconformities)
    return ", ".join(f"{count} {status}" for status, count in statuses.items())


def counts(record: Record) -> list[tuple[str, str, bool]]:
    """Return the job in a few numbers: each, what it counts, and whether it has to be looked at."""
    of = record.summary
    serious = sum(1 for finding in record.findings if finding.judgement.severity == "serious")
    undone, found = of.applicable - of.done, len(record.findings)
    to_come = f"{of.to_come} to come"
    if record.afterwards:
        to_come += f" at closing, {of.to_come_now} now"
    return [
        (f"{of.done}/{of.applicable}", "steps done", False),
        (str(undone), "outstanding", undone > 0),
        (str(of.open), _failing(record), of.open > 0),
        (str(of.overridden), "overridden", of.overridden > 0),
        (str(found), f"{nouns.counted(found, 'finding')}, {serious} serious", serious > 0),
        (str(of.to_order), f"{nouns.counted(of.to_order, 'part')}, {to_come}", False),
    ]


def _failing(record: Record) -> str:
    of = record.summary
    also = [f"{n} {word}" for n, word in ((of.conceded, "conceded"), (of.settled, "settled")) if n]
    return "; ".join((nouns.counted(of.open, "nonconformity") + " open", *also))


def outstanding(record: Record) -> str:
    """Return which steps are still to be done, in one phrase; empty for none."""
    undone = [s for s in record.steps if s.status in ("skipped", "started", "not reached")]
    named = [f"{s.number} ({s.status})" for s in undone[:12]]
    more = [f"and {len(undone) - 12} more"] if len(undone) > 12 else []
    return ", ".join(named + more)


def referred(record: Record) -> str:
    """Return the findings on which somebody has to decide, in one phrase; empty for none."""
    undecided = [f for f in record.findings if f.judgement.disposition == "refer"]
    return ", ".join(f"{finding.what} (step {finding.number})" for finding in undecided)


def grave(record: Record) -> list[StandsOut]:
    """Return what whoever answers for the work has to decide on, beside the nonconformities."""
    return [item for item in record.summary.stands_out if item.kind in _GRAVE]


def minor(record: Record) -> list[StandsOut]:
    """Return what was put right on the way."""
    grave = (*_GRAVE, *_FAILING)
    return [item for item in record.summary.stands_out if item.kind not in grave]


def nothing_stands_out(record: Record) -> bool:
    """Return whether there is nothing to decide on at all."""
    return not grave(record) and not record.summary.open and not record.summary.conceded


def places(record: Record) -> list[Place]:
    """Return the findings by place, places in the order in which they first came up."""
    names = dict.fromkeys(finding.place or "" for finding in record.findings)
    return [
        Place(
            name,
            tuple(
                sorted(
                    (f for f in record.findings if (f.place or "") == name),
                    key=lambda f: _SEVERITIES.index(f.judgement.severity),
                )
            ),
        )
        for name in names
    ]


def note_text(note: Note) -> str:
    """Return what is written of a note."""
    return note.text or "Spoken note, kept as sound"


def facts(record: Record) -> list[Fact]:
    """Return what stands in the record's head."""
    worked = wording.duration(spans.at_work(record.spans))
    found = [
        Fact("By", ", ".join(record.by) or "not given"),
        Fact("Procedure", _procedure(record)),
        Fact("Opened", at=record.opened),
        Fact("Closed", at=record.closed)
        if record.closed
        else Fact("Last entry", "; the job is open", at=record.last),
        Fact("At work", f"{worked}, as the time line has it"),
        Fact("Times", f"local to the bench, {' and '.join(_offsets(record))}"),
    ]
    if record.follows:
        found.append(Fact("Follows", broad=True, links=(_followed(record, record.follows),)))
    if record.earlier:
        found.append(Fact("Earlier on this unit", broad=True, links=tuple(_earlier(record))))
    if record.remark:
        found.append(Fact("Remark", record.remark, broad=True))
    if record.seal:
        held = f"hold it against the journal with: assistant verify {record.job} --seal HASH"
        small = f"the hash of the job’s last event; {held}"
        found.append(Fact("Seal", wording.grouped(record.seal), small=small, broad=True))
    elif record.closed is None:
        small = f"its events are in a chain of hashes; see it with: assistant verify {record.job}"
        found.append(Fact("Seal", "none while the job is open", small=small, broad=True))
    return found


def _procedure(record: Record) -> str:
    if record.procedure == unwritten.NAME:
        return "none: what came off goes on again, the last off first"
    first, *later = record.texts
    told = f"{record.procedure}, revision {first.revision}, {wording.stands_for(first)}"
    for one in later:
        since = f"{one.since:%Y-%m-%d %H:%M}"
        told += f"; from {since} revision {one.revision}, {wording.stands_for(one)}"
    return told


def _followed(record: Record, of: FollowedJob) -> Link:
    """Return the job that this one follows: its number, its day, and what differs from this one."""
    differs = [of.title] if of.title != record.title else []
    differs += [f"unit {of.unit or 'not given'}"] if of.unit != record.unit else []
    text = ", ".join([f"job {of.job or of.number_then} of {of.opened:%Y-%m-%d}", *differs])
    if of.job is None:
        text += ", which is not in this journal; the number is the one it had where it was begun"
    return Link(text, of.job)


def _earlier(record: Record) -> Iterator[Link]:
    """Yield each earlier job on the unit: its number, its day and what it was."""
    for one in record.earlier:
        title = "" if one.title == record.title else f", {one.title}"
        still_open = "" if one.closed else ", still open"
        yield Link(f"job {one.job} of {one.opened:%Y-%m-%d}{title}{still_open}", one.job)


def _offsets(record: Record) -> list[str]:
    stops = [at for stop in record.stops for at in (stop.left, stop.taken_up)]
    times = [record.opened, *stops, record.last]
    return sorted({f"UTC{at:%z}"[:6] + ":" + f"{at:%z}"[3:5] for at in times})
