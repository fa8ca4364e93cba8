"""What is shown of a record, as data: the page and the PDF have the same words in one order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from itertools import count
from typing import Literal

from assistant.report import charts, figures, spans, svg, writing
from assistant.report.model import (
    Affirmed,
    Answer,
    Entry,
    Finding,
    Note,
    Order,
    Record,
    Severity,
    StandsOut,
    StepRecord,
    Timer,
    Torque,
    WorkedOut,
)
from assistant.report.model import Reading as ReadingEntry
from assistant.session import ledger

KINDS = {
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
class Fact:
    """One line of the record's head."""

    name: str
    text: str = ""
    at: datetime | None = None
    small: str = ""
    broad: bool = False


@dataclass(frozen=True)
class Column:
    """A column's head, and what it holds: words take what room there is, the rest what it needs."""

    head: str
    kind: Literal["text", "words", "number", "when", "plot"] = "text"


@dataclass(frozen=True)
class Cell:
    """What stands in a cell, from top to bottom; each may be left out."""

    struck: str = ""
    """Taken back."""
    text: str = ""
    strong: bool = False
    """Whether it names its row."""
    flag: str = ""
    """What has to be looked at."""
    at: datetime | None = None
    plot: svg.Drawing | None = None
    small: tuple[str, ...] = ()
    lines: tuple[tuple[str, bool], ...] = ()
    """A list in small print, each with whether it was taken back."""
    entry: Entry | None = None
    """Whose clip is played here."""


@dataclass(frozen=True)
class Row:
    """A row; one with a `group` alone heads the rows that follow."""

    cells: tuple[Cell, ...] = ()
    group: str = ""
    faint: bool = False


@dataclass(frozen=True)
class Table:
    """A table with its caption; it has at least one row."""

    name: str
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]


@dataclass(frozen=True)
class Section:
    """A headed part of the record, and what stands in it where there are no tables."""

    name: str
    title: str
    tables: tuple[Table, ...]
    otherwise: str = ""


@dataclass(frozen=True)
class Place:
    """The findings at one place of the assembly, the gravest first."""

    name: str
    findings: tuple[Finding, ...] = field(default=())


def verdict(record: Record) -> tuple[str, bool]:
    """Return whether the job is complete, as a sentence and as a truth."""
    if record.summary.complete:
        return "Complete: every step that applies is done.", True
    if record.closed:
        return "Not complete: closed with work left.", False
    return "Not complete: the job is open.", False


def counts(record: Record) -> list[tuple[str, str, bool]]:
    """Return the job in a few numbers: each, what it counts, and whether it has to be looked at."""
    of = record.summary
    serious = sum(1 for finding in record.findings if finding.judgement.severity == "serious")
    undone = of.applicable - of.done
    return [
        (f"{of.done}/{of.applicable}", "steps done", False),
        (str(undone), "outstanding", undone > 0),
        (str(of.outside), "not as asked", of.outside > 0),
        (str(of.overridden), "overridden", of.overridden > 0),
        (str(len(record.findings)), f"findings, {serious} serious", serious > 0),
        (str(of.to_order), f"parts asked for, {of.to_come} to come", False),
    ]


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
    """Return what whoever answers for the work has to decide on."""
    return [item for item in record.summary.stands_out if item.kind in _GRAVE]


def minor(record: Record) -> list[StandsOut]:
    """Return what was put right on the way."""
    return [item for item in record.summary.stands_out if item.kind not in _GRAVE]


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
    worked = writing.duration(spans.at_work(record.spans))
    found = [
        Fact("By", ", ".join(record.by) or "not given"),
        Fact("Procedure", f"{record.procedure}, revision {record.revision}"),
        Fact("Opened", at=record.opened),
        Fact("Closed", at=record.closed)
        if record.closed
        else Fact("Last entry", "; the job is open", at=record.last),
        Fact("At work", f"{worked}, as the time line has it"),
        Fact("Times", f"local to the bench, {' and '.join(_offsets(record))}"),
    ]
    if record.remark:
        found.append(Fact("Remark", record.remark, broad=True))
    if record.seal:
        held = f"hold it against the journal with: assistant verify {record.job} --seal HASH"
        small = f"the hash of the job’s last event; {held}"
        found.append(Fact("Seal", writing.grouped(record.seal), small=small, broad=True))
    return found


def _offsets(record: Record) -> list[str]:
    stops = [at for stop in record.stops for at in (stop.left, stop.taken_up)]
    times = [record.opened, *stops, record.last]
    return sorted({f"UTC{at:%z}"[:6] + ":" + f"{at:%z}"[3:5] for at in times})


def time_spent(record: Record) -> Table:
    """Return how the job's time was spent, as a table; it is empty where no time passed."""
    rows = [
        Row(
            (
                Cell(text=span.kind, strong=True),
                Cell(at=span.begun),
                Cell(at=span.ended),
                Cell(text=writing.duration((span.ended - span.begun).total_seconds())),
            )
        )
        for span in record.spans
    ]
    quiet = writing.duration(spans.QUIET.total_seconds())
    caption = f"At work: something was said at least every {quiet}; quiet: nothing was, for longer"
    heads = (_words("What"), Column("From", "when"), Column("To", "when"), _number("For"))
    return _table("spans", caption, heads, rows)


def sections(record: Record) -> list[Section]:
    """Return all that is shown as tables, in the order of the record."""
    return list(_Sections(record).all())


class _Sections:
    def __init__(self, record: Record) -> None:
        self.record = record
        self.several = len(record.by) > 1
        self._plots = count(1)

    def all(self) -> Iterator[Section]:
        yield Section("orders", "Parts asked for", _full(self.orders()), "None.")
        yield Section("fitted", "Parts fitted", _full(self.fitted()), "None yet.")
        for name, title, tables in (
            (
                "readings",
                "Readings",
                _full(self.readings(), self.worked_out(), self.chosen()),
            ),
            ("leaks", "Leak tests and fluids", _full(self.leaks())),
            ("torques", "Tightening", _full(self.torques())),
            ("kit", "Kit check", _full(self.kit())),
            ("bags", "Bags", _full(self.bags())),
            ("timers", "Timers and waits", _full(self.timers())),
            ("affirmed", "Cautions heard, conditions, answers", _full(self.affirmed())),
            ("withdrawn", "Withdrawn and corrected", _full(self.withdrawn())),
            ("steps", "Steps", _full(self.steps())),
        ):
            if tables:
                yield Section(name, title, tables)

    def when(self, entry: Entry) -> Cell:
        """Who is said in the heading; on each line only where there were several."""
        return Cell(at=entry.at, small=_some(entry.by if self.several else None))

    def drawn(
        self,
        what: str,
        value: Decimal,
        unit: str,
        least: Decimal | None,
        most: Decimal | None,
        asked: Decimal | None = None,
    ) -> Cell:
        if least is None and most is None:
            return Cell()
        name = f"plot-{next(self._plots)}"
        return Cell(plot=charts.against(name, what, value, unit, least, most, asked))

    def orders(self) -> Table:
        rows = []
        for order in self.record.orders:
            asked = [
                f"{one.count} at step {_step(one)}, {one.at:%Y-%m-%d %H:%M}"
                + (f", {one.by}" if one.by else "")
                + (f", first heard “{one.first_heard}”" if one.first_heard else "")
                for one in order.orders
            ]
            rows.append(
                Row(
                    (
                        Cell(text=order.part, strong=True),
                        Cell(text=order.part_number or "not given"),
                        Cell(text=str(order.count)),
                        Cell(text=_states(order)),
                        Cell(small=tuple(asked)),
                    )
                )
            )
        heads = ("Part", "Part number", _number("Count"), "Stand", _words("Asked for"))
        caption = (
            "Each part once; orders that were taken back are left out. What the parts desk entered "
            "after the job was closed is in: assistant orders"
        )
        return _table("orders", caption, heads, rows)

    def kit(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=item.name, strong=True),
                    Cell(text=str(item.asked)),
                    Cell(flag=f"{item.short} short") if item.short else Cell(text="there"),
                    self.when(item),
                )
            )
            for item in self.record.kit
        ]
        heads = (_words("Item"), _number("Asked"), "Found", _WHEN)
        return _table("kit", "Looked for, one thing after another", heads, rows)

    def fitted(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=str(one.number)),
                    Cell(text=one.part, strong=True, small=_some(one.how)),
                    Cell(text=one.part_number or "not given"),
                    Cell(text=str(one.count)),
                    Cell(text="new" if one.new else "refitted"),
                    Cell(at=one.at, small=_some(one.by if self.several else None)),
                )
            )
            for one in self.record.fitted
        ]
        heads = ("Step", _words("Part"), "Part number", _number("Count"), "New", _WHEN)
        caption = "By the steps that are done, as the procedure says; not said again at the bench"
        return _table("fitted", caption, heads, rows)

    def readings(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(r)),
                    Cell(text=r.name, strong=True),
                    Cell(text=writing.quantity(r.value, r.unit), small=_first(r.first_heard)),
                    Cell(text=r.limits or "none"),
                    self.drawn(r.name, r.value, r.unit, r.least, r.most),
                    _judged_reading(r),
                    self.when(r),
                )
            )
            for r in self.record.readings
        ]
        heads = ("Step", _words("Reading"), _number("Value"), "Limits", _DRAWN, "Judged", _WHEN)
        return _table("readings", "As read from the instrument", heads, rows)

    def worked_out(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(r)),
                    Cell(text=r.name, strong=True),
                    Cell(
                        text=writing.quantity(r.value, r.unit),
                        small=_some(
                            f"± {writing.quantity(r.uncertainty, r.unit)}, k = 2"
                            if r.uncertainty
                            else None
                        ),
                    ),
                    Cell(text=r.limits or "none"),
                    self.drawn(r.name, r.value, r.unit, r.least, r.most),
                    _judged_reading(r),
                )
            )
            for r in self.record.worked_out
        ]
        heads = ("Step", _words("Value"), _number("Comes to"), "Limits", _DRAWN, "Judged")
        return _table("worked-out", "Worked out from readings", heads, rows)

    def chosen(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(c)),
                    Cell(text=c.part, strong=True, small=_some(c.note)),
                    Cell(text=c.by_value),
                    Cell(flag="doubtful", small=(f"might be {c.unsure}",))
                    if c.unsure
                    else Cell(text="clear"),
                )
            )
            for c in self.record.parts_chosen
        ]
        return _table(
            "chosen", "Parts chosen by a value", ("Step", _words("Part"), "By", "Judged"), rows
        )

    def leaks(self) -> Table:
        rows = []
        for test in self.record.leak_tests:
            gauge = None
            if test.thermal:
                gauge = (
                    f"gauge {writing.change(test.measured, test.unit)}, temperature explains "
                    f"{writing.quantity(test.thermal, test.unit)}"
                )
            rate = writing.quantity(test.rate, "mbar·l/s") if test.rate is not None else None
            rows.append(
                Row(
                    (
                        Cell(text=_step(test)),
                        Cell(text="leak test", strong=True),
                        Cell(text=writing.change(test.lost, test.unit), small=_some(gauge, rate)),
                        Cell(text=f"at most {writing.quantity(test.allowed, test.unit)}"),
                        Cell(text=test.outcome) if test.within else Cell(flag=test.outcome),
                        self.when(test),
                    )
                )
            )
        for fluid in self.record.fluids:
            way = "came out" if fluid.drained else "went in"
            gap = None if fluid.within else writing.missing(fluid.missing, fluid.unit)
            rows.append(
                Row(
                    (
                        Cell(text=_step(fluid)),
                        Cell(text=fluid.fluid, strong=True),
                        Cell(text=f"{writing.quantity(fluid.value, fluid.unit)} {way}"),
                        Cell(text=writing.quantity(fluid.capacity, fluid.unit)),
                        _judged(fluid.within, "as asked", gap),
                        self.when(fluid),
                    )
                )
            )
        heads = ("Step", _words("What"), _number("Value"), "Asked", "Judged", _WHEN)
        return _table("leaks", "Judged from readings", heads, rows)

    def torques(self) -> Table:
        rows = []
        for t in self.record.torques:
            setting = t.setting is not None and writing.quantity(t.setting, t.setting_unit)
            rows.append(
                Row(
                    (
                        Cell(text=_step(t)),
                        self.bolts(t),
                        Cell(text=f"{t.stage} of {t.stages}"),
                        Cell(text=writing.quantity(t.asked, t.asked_unit)),
                        Cell(text=setting or "–", small=_some(t.wrench)),
                        Cell(text=writing.quantity(t.value, t.unit), small=_first(t.first_heard)),
                        self.torque_drawn(t),
                        _judged_torque(t),
                        self.when(t),
                    )
                )
            )
        heads = (
            *(
                "Step",
                _words("Fastener"),
                "Pass",
                _number("Asked"),
                _number("Set"),
                _number("Read"),
            ),
            *(_DRAWN, "Judged", _WHEN),
        )
        caption = (
            "Read: as the technician said it, pass by pass. Set: worked out from the procedure’s "
            "list of wrenches. Drawn: the value in the tolerance round what was asked"
        )
        return _table("torques", caption, heads, rows)

    def bolts(self, t: Torque) -> Cell:
        if not t.bolts or not t.bolts_called:
            small = _some(f"{t.bolts} of them" if t.bolts else None)
            return Cell(text=t.fastener, strong=True, small=small)
        name, what = f"plot-{next(self._plots)}", f"{t.fastener}, pass {t.stage} of {t.stages}"
        plot = charts.bolts(name, what, t.bolts, t.bolts_called)
        return Cell(text=t.fastener, strong=True, plot=plot, small=(plot.told,))

    def torque_drawn(self, t: Torque) -> Cell:
        value = figures.converted(t.value, t.unit, t.asked_unit)
        if t.tolerance is None or value is None:
            return Cell()
        off = t.asked * t.tolerance / 100
        what = f"{t.fastener}, pass {t.stage} of {t.stages}"
        return self.drawn(what, value, t.asked_unit, t.asked - off, t.asked + off, t.asked)

    def bags(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=str(bag.bag), strong=True, small=_first(bag.first_heard)),
                    Cell(text=bag.contents or "not stated"),
                    _judged(
                        bag.within, "as asked", None if bag.within else f"asked: bag {bag.asked}"
                    ),
                    Cell(text=_step(bag)),
                    self.when(bag),
                )
            )
            for bag in self.record.bags
        ]
        heads = ("Bag", _words("Contents"), "Judged", "Step", _WHEN)
        return _table("bags", "What came off, and the bag it is in", heads, rows)

    def timers(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(timer)),
                    Cell(text=timer.name, strong=True),
                    Cell(text=writing.duration(timer.seconds)),
                    self.when(timer),
                    _ended(timer),
                )
            )
            for timer in self.record.timers
        ]
        heads = ("Step", _words("For"), "Length", Column("Started", "when"), Column("Up", "when"))
        return _table("timers", "Started by voice or on entering the step", heads, rows)

    def affirmed(self) -> Table:
        record = self.record
        entries: list[Affirmed | Answer] = [*record.hazards, *record.conditions, *record.answers]
        rows = []
        for entry in sorted(entries, key=lambda e: e.at):
            if isinstance(entry, Answer):
                cell = Cell(text=entry.question, small=(writing.upper_first(entry.answer),))
                kind = "answered"
            else:
                cell = Cell(text=" ".join(map(writing.upper_first, entry.texts)))
                kind = "affirmed"
            rows.append(Row((Cell(text=_step(entry)), cell, Cell(text=kind), self.when(entry))))
        caption = "What was spoken, and the technician affirmed or answered"
        return _table("affirmed", caption, ("Step", _words("What"), "Was", _WHEN), rows)

    def withdrawn(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(w)),
                    Cell(
                        struck=writing.upper_first(w.what),
                        small=_some(f"{w.at:%Y-%m-%d %H:%M}" + (f", {w.by}" if w.by else "")),
                        entry=w,
                    ),
                    Cell(
                        text="corrected" if w.corrected else "withdrawn",
                        small=_some(f"{w.withdrawn_at:%Y-%m-%d %H:%M}", w.withdrawn_by),
                    ),
                    Cell(text=w.instead or "nothing in its place"),
                )
            )
            for w in self.record.withdrawn
        ]
        heads = ("Step", _words("Was"), "Taken back", _words("Now"))
        caption = "No longer in effect; nothing is ever removed from the journal"
        return _table("withdrawn", caption, heads, rows)

    def steps(self) -> Table:
        rows: list[Row] = []
        stage = None
        for step in self.record.steps:
            if step.stage != stage:
                stage = step.stage
                rows.append(Row(group=writing.upper_first(stage)))
            rows.append(
                Row(
                    (
                        Cell(text=str(step.number), strong=True),
                        Cell(
                            text=step.say,
                            lines=tuple(
                                (
                                    f"{writing.upper_first(line.what)} {line.at:%H:%M}",
                                    line.withdrawn,
                                )
                                for line in step.lines
                            ),
                        ),
                        _state(step),
                        Cell(at=step.entered),
                        Cell(at=step.done or step.skipped),
                    ),
                    faint=step.status in ("not reached", "not applicable"),
                )
            )
        heads = ("No.", _words("Step"), "State", Column("Entered", "when"), Column("Left", "when"))
        return _table("steps", "All steps of the procedure, in its order", heads, rows)


_WHEN = Column("When", "when")
_DRAWN = Column("Drawn", "plot")


def _states(order: Order) -> str:
    counts = [(getattr(order, state), state) for state in ledger.STATES]
    return ", ".join(f"{count} {state}" for count, state in counts if count)


def _words(head: str) -> Column:
    return Column(head, "words")


def _number(head: str) -> Column:
    return Column(head, "number")


def _table(name: str, caption: str, heads: Iterable[str | Column], rows: Iterable[Row]) -> Table:
    columns = (head if isinstance(head, Column) else Column(head) for head in heads)
    return Table(name, caption, tuple(columns), tuple(rows))


def _full(*tables: Table) -> tuple[Table, ...]:
    return tuple(table for table in tables if table.rows)


def _some(*texts: str | None) -> tuple[str, ...]:
    return tuple(text for text in texts if text)


def _first(heard: str | None) -> tuple[str, ...]:
    return (f"first heard “{heard}”",) if heard else ()


def _step(entry: Entry) -> str:
    return str(entry.number) if entry.number else "–"


def _ended(timer: Timer) -> Cell:
    if timer.cancelled:
        return Cell(text="cancelled", at=timer.cancelled)
    return Cell(at=timer.rang) if timer.rang else Cell(text="not announced")


def _judged(within: bool | None, yes: str, *small: str | None) -> Cell:
    if within is None:
        return Cell(small=("no limits",))
    return (
        Cell(text=yes, small=_some(*small))
        if within
        else Cell(flag=f"not {yes}", small=_some(*small))
    )


def _judged_reading(of: ReadingEntry | WorkedOut) -> Cell:
    wear = of.wear if isinstance(of, ReadingEntry) else None
    used = None if wear is None else f"{wear} % of the wear used"
    if of.within and of.too_close:
        return Cell(text="within limits", flag="too close to call", small=_some(used))
    return _judged(of.within, "within limits", used)


def _judged_torque(of: Torque) -> Cell:
    if of.within and of.warning:
        return Cell(text="as asked", flag="doubtful", small=(of.warning,))
    return _judged(of.within, "as asked", of.warning)


def _state(step: StepRecord) -> Cell:
    if step.status == "skipped":
        return Cell(flag="skipped", small=_some(step.reason))
    return Cell(flag="not done") if step.status == "started" else Cell(text=step.status)
