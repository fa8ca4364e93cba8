"""The record's tables as data: the page and the PDF have the same words in one order."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from itertools import count

from assistant.dialogue import facts, ledger
from assistant.report import charts, figures, grid, photos, spans, wording
from assistant.report.grid import Cell, Column, Row, Section, Table
from assistant.report.model import (
    Affirmed,
    Answer,
    Entry,
    Measured,
    Nonconformity,
    Order,
    PartChosen,
    PersonTime,
    Record,
    Stand,
    StepRecord,
    Timer,
    Torque,
    WorkedOut,
)
from assistant.report.model import Reading as ReadingEntry


def time_spent(record: Record) -> Table:
    """Return how the job's time was spent, as a table; it is empty where no time passed."""
    rows = [
        Row(
            (
                Cell(text=span.kind, strong=True),
                Cell(at=span.begun),
                Cell(at=span.ended),
                Cell(text=wording.duration((span.ended - span.begun).total_seconds())),
            )
        )
        for span in record.spans
    ]
    quiet = wording.duration(spans.QUIET.total_seconds())
    caption = f"At work: something was said at least every {quiet}; quiet: nothing was, for longer"
    heads = (grid.words("What"), Column("From", "when"), Column("To", "when"), grid.number("For"))
    return grid.table("spans", caption, heads, rows)


def time_by_person(record: Record) -> Table:
    """Return how long each person was at the bench, and all of them together where they are
    several; empty where no time passed.
    """
    people = [(one.by or "nobody signed on", one) for one in record.time_by_person]
    if len(people) > 1:
        together = PersonTime(
            by=None,
            at_work=sum(one.at_work for _, one in people),
            quiet=sum(one.quiet for _, one in people),
            standing_by=sum(one.standing_by for _, one in people),
        )
        people.append(("together", together))
    rows = [
        Row(
            (
                Cell(text=name, strong=True),
                *(
                    Cell(text=wording.duration(seconds))
                    for seconds in (one.at_work, one.quiet, one.standing_by)
                ),
            )
        )
        for name, one in people
    ]
    caption = (
        "Time by person: at work is what is booked to the job; each is at the bench from signing "
        "on until another does, or the work stops"
    )
    heads = (grid.words("Who"), *map(grid.number, ("At work", "Quiet", "Standing by")))
    return grid.table("people", caption, heads, rows)


def nonconformities(record: Record) -> Table:
    """Return what failed and how each stands, the open ones first; empty where nothing failed."""
    rows = []
    for one in record.nonconformities:
        told = wording.status(one)
        # The first phrase of an open one may say no more than its mark.
        small = told if told[0] != one.status else told[1:]
        stands_out = one.status in ("open", "conceded")
        clip = one.concession and one.concession.heard and one.concession.heard.clip
        about = wording.upper_first(f"{wording.result(one)}, {one.taken}")
        rows.append(
            Row(
                (
                    Cell(text=_step(one)),
                    Cell(text=about, strong=True),
                    Cell(text=_found(one), small=_some(_against(one))),
                    Cell(
                        flag=one.status if stands_out else "",
                        text="" if stands_out else told[0],
                        small=small if stands_out else told[1:],
                        grave=one.open,
                        entry=one.concession if clip is not None else None,
                    ),
                    Cell(at=one.at, small=_some(one.by)),
                ),
                faint=one.status in ("settled", "taken back"),
            )
        )
    heads = ("Step", grid.words("What"), "Found", grid.words("How it stands"), grid.WHEN)
    caption = "What did not meet its requirement: open, then conceded, then settled or taken back"
    return grid.table("nonconformities", caption, heads, rows)


def _found(of: Nonconformity) -> str:
    if of.kind == "fitted part":
        return f"{of.part} fitted"
    if of.kind in ("condemned part", "missing part"):
        return of.kind.removesuffix(" part")
    return "not worked out" if of.found is None else wording.quantity(of.found, of.unit)


def _against(of: Nonconformity) -> str | None:
    if of.kind == "fitted part":
        return f"{of.wanted} to be fitted"
    if of.kind == "choice":
        return "no part is given for it"
    if of.unit is None or (of.least is None and of.most is None):
        return None
    bounds = [
        None if n is None else facts.Amount(value=n, unit=of.unit) for n in (of.least, of.most)
    ]
    by = "" if of.beyond is None else f", by {wording.quantity(of.beyond, of.unit)}"
    if of.least == of.most and of.least is not None:
        return f"asked {wording.quantity(of.least, of.unit)}{by}"
    return f"{wording.limits(facts.Bounds(least=bounds[0], most=bounds[1]))}{by}"


def sections(record: Record) -> list[Section]:
    """Return all that is shown as tables, in the order of the record."""
    return list(_Sections(record).all())


class _Sections:
    def __init__(self, record: Record) -> None:
        self.record = record
        self.several = len(record.by) > 1
        self._plots = count(1)

    def all(self) -> Iterator[Section]:
        yield Section(
            "orders", "Parts asked for", grid.full(self.orders(), self.afterwards()), "None."
        )
        if asked := grid.full(self.extra_work()):
            yield Section("extra-work", "For the customer to agree to", asked)
        yield Section("fitted", "Parts fitted", grid.full(self.fitted()), "None yet.")
        for name, title, tables in (
            ("parts", "Where each part is", grid.full(self.lives())),
            (
                "readings",
                "Readings",
                grid.full(
                    self.pairs(), self.readings(), self.sets(), self.worked_out(), self.chosen()
                ),
            ),
            ("leaks", "Leak tests and fluids", grid.full(self.leaks())),
            ("torques", "Tightening", grid.full(self.torques())),
            ("kit", "Kit check", grid.full(self.kit())),
            ("bags", "Bags", grid.full(self.bags())),
            ("photos", "Photos of parts and values", grid.full(self.photos())),
            ("timers", "Timers and waits", grid.full(self.timers())),
            ("affirmed", "Cautions heard, conditions, answers", grid.full(self.affirmed())),
            ("withdrawn", "Withdrawn and corrected", grid.full(self.withdrawn())),
            ("steps", "Steps", grid.full(self.steps())),
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
                        _stand(order),
                        Cell(small=tuple(asked)),
                    )
                )
            )
        heads = ("Part", "Part number", grid.number("Count"), "Stand", grid.words("Asked for"))
        caption = "Each part once; orders that were taken back are left out"
        return grid.table("orders", caption, heads, rows)

    def afterwards(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=entry.part, strong=True),
                    Cell(text=f"{entry.count} {entry.state}"),
                    Cell(text=entry.by or "not said"),
                    Cell(at=entry.at),
                )
            )
            for entry in self.record.afterwards
        ]
        heads = ("Part", grid.words("Entered"), "By", grid.WHEN)
        caption = (
            "After closing: entered by the parts desk when the job was closed and sealed already. "
            "It is not part of the sealed record"
        )
        return grid.table("afterwards", caption, heads, rows)

    def extra_work(self) -> Table:
        rows = []
        for one in self.record.extra_work:
            sealed = "answered after closing, not part of the sealed record"
            small = (
                one.name and f"says {one.name}",
                one.answered and f"{one.answered:%Y-%m-%d %H:%M}",
                one.entered_by and f"entered by {one.entered_by}",
                one.note,
                sealed if one.after_closing else None,
            )
            waits = one.stand == "waiting"
            rows.append(
                Row(
                    (
                        Cell(text=_step(one)),
                        Cell(text=wording.upper_first(one.work), strong=True),
                        Cell(
                            flag=one.stand if waits or one.stand == "declines" else "",
                            text="" if waits or one.stand == "declines" else one.stand,
                            small=tuple(text for text in small if text),
                            grave=waits,
                        ),
                        self.when(one),
                    ),
                    faint=one.stand == "taken back",
                )
            )
        heads = ("Step", grid.words("What"), grid.words("How it stands"), grid.WHEN)
        caption = "Extra work that the customer was to be asked about, and what they answered"
        return grid.table("extra-work", caption, heads, rows)

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
        heads = (grid.words("Item"), grid.number("Asked"), "Found", grid.WHEN)
        return grid.table("kit", "Looked for, one thing after another", heads, rows)

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
        heads = ("Step", grid.words("Part"), "Part number", grid.number("Count"), "New", grid.WHEN)
        caption = "By the steps that are done, without what was short; not said again at the bench"
        return grid.table("fitted", caption, heads, rows)

    def lives(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=one.part, strong=True, small=_some(one.size)),
                    Cell(text=one.part_number or "not given"),
                    Cell(text=one.life),
                )
            )
            for one in self.record.parts
        ]
        heads = ("Part", "Part number", grid.words("Where it is"))
        return grid.table(
            "parts", "By all that was said of it; what stayed as it was is left out", heads, rows
        )

    def readings(self) -> Table:
        several = len({r.set for r in self.record.readings}) > 1
        rows = [
            Row(
                (
                    Cell(text=_step(r)),
                    Cell(text=r.name, strong=True, small=_some(self.nth(r))),
                    _taken(r, several),
                    Cell(text=wording.quantity(r.value, r.unit), small=_how(r)),
                    Cell(text=r.limits or "none"),
                    self.drawn(r.name, r.value, r.unit, r.least, r.most),
                    _judged_reading(r),
                    self.when(r),
                ),
                faint=not r.stands,
            )
            for r in self.record.readings
        ]
        heads = (
            "Step",
            grid.words("Reading"),
            "Taken, set" if several else "Taken",
            grid.number("Value"),
            "Limits",
            grid.DRAWN,
            "Judged",
            grid.WHEN,
        )
        return grid.table("readings", "As read from the instrument", heads, rows)

    def nth(self, r: ReadingEntry) -> str | None:
        """Return which of its set a reading is, where there are several."""
        of_set = [
            o for o in self.record.readings if (o.step, o.name, o.set) == (r.step, r.name, r.set)
        ]
        return f"{r.nth} of {len(of_set)}" if len(of_set) > 1 else None

    def sets(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=str(one.number)),
                    Cell(text=one.name, strong=True, small=(f"{one.count} readings",)),
                    *(
                        Cell(text=wording.quantity(value, one.unit), strong=one.use == use)
                        for use, value in (
                            ("mean", one.mean),
                            ("least", one.least),
                            ("greatest", one.greatest),
                        )
                    ),
                    _judged(one.within, "within limits", "by the worst of them"),
                )
            )
            for one in self.record.reading_sets
        ]
        heads: tuple[str | Column, ...] = (
            "Step",
            grid.words("Reading"),
            *map(grid.number, ("Mean", "Least", "Greatest")),
            "Judged",
        )
        caption = "Taken several times; in bold what results are worked out with"
        return grid.table("sets", caption, heads, rows)

    def pairs(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=one.name, strong=True),
                    _value(one.found, one.found_unit, one.found_within, one.found_number),
                    _value(one.left, one.left_unit, one.left_within, one.left_number),
                )
            )
            for one in self.record.found_and_left
        ]
        heads = (grid.words("What"), "As found", "As left")
        return grid.table("pairs", "Measured before the work and after it", heads, rows)

    def worked_out(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(r)),
                    Cell(text=r.name, strong=True),
                    Cell(text=r.taken),
                    Cell(
                        text=wording.quantity(r.value, r.unit),
                        small=_some(
                            f"± {wording.quantity(r.uncertainty, r.unit)}, k = 2"
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
        heads = (
            "Step",
            grid.words("Value"),
            "Taken",
            grid.number("Comes to"),
            "Limits",
            grid.DRAWN,
            "Judged",
        )
        return grid.table("worked-out", "Worked out from the readings that stand", heads, rows)

    def chosen(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(c)),
                    Cell(text=c.part or "none is given", strong=True, small=_some(c.note)),
                    Cell(text=wording.chosen_by(c.chosen_by, c.value, c.unit)),
                    _judged_choice(c),
                )
            )
            for c in self.record.parts_chosen
        ]
        heads = ("Step", grid.words("Part"), "By", "Judged")
        return grid.table("chosen", "Parts chosen by a value", heads, rows)

    def leaks(self) -> Table:
        rows = []
        for test in self.record.leak_tests:
            gauge = None
            if test.thermal:
                gauge = (
                    f"gauge {wording.change(test.measured, test.unit)}, temperature explains "
                    f"{wording.quantity(test.thermal, test.unit)}"
                )
            rate = wording.quantity(test.rate, "mbar·l/s") if test.rate is not None else None
            rows.append(
                Row(
                    (
                        Cell(text=_step(test)),
                        Cell(text="leak test", strong=True),
                        Cell(text=test.taken),
                        Cell(text=wording.change(test.lost, test.unit), small=_some(gauge, rate)),
                        Cell(text=f"at most {wording.quantity(test.allowed, test.unit)}"),
                        Cell(
                            text=test.outcome if test.within else "",
                            flag="" if test.within else test.outcome,
                            small=_some("no temperatures taken" if test.no_temperatures else None),
                            grave=not test.within,
                        ),
                        self.when(test),
                    )
                )
            )
        for fluid in self.record.fluids:
            way = "came out" if fluid.drained else "went in"
            gap = None if fluid.within else wording.missing(fluid.missing, fluid.unit)
            rows.append(
                Row(
                    (
                        Cell(text=_step(fluid)),
                        Cell(text=fluid.fluid, strong=True),
                        Cell(text=fluid.taken),
                        Cell(text=f"{wording.quantity(fluid.value, fluid.unit)} {way}"),
                        Cell(text=wording.quantity(fluid.capacity, fluid.unit)),
                        _judged(fluid.within, "as asked", gap),
                        self.when(fluid),
                    )
                )
            )
        heads = (
            *("Step", grid.words("What"), "Taken", grid.number("Value")),
            *("Asked", "Judged", grid.WHEN),
        )
        return grid.table("leaks", "Judged from the readings that stand", heads, rows)

    def torques(self) -> Table:
        torques = self.record.torques
        several = len({t.set for t in torques}) > 1
        by_bolt = any(t.bolt is not None or t.as_one for t in torques)
        early = any(t.taken == "as found" for t in torques)
        rows = []
        for t in torques:
            setting = t.setting is not None and wording.quantity(t.setting, t.setting_unit)
            rows.append(
                Row(
                    (
                        Cell(text=_step(t)),
                        self.bolts(t),
                        *((_taken(t, several),) if several or early else ()),
                        Cell(text=f"{t.stage} of {t.stages}"),
                        *((_bolt(t),) if by_bolt else ()),
                        Cell(text=wording.quantity(t.asked, t.asked_unit)),
                        Cell(text=setting or "–", small=_some(t.wrench)),
                        Cell(text=wording.quantity(t.value, t.unit), small=_how(t)),
                        self.torque_drawn(t),
                        _judged_torque(t),
                        self.when(t),
                    ),
                    faint=not t.stands,
                )
            )
        heads = (
            *(
                "Step",
                grid.words("Fastener"),
                *(("Taken, set",) if several else ("Taken",) if early else ()),
                "Pass",
                *(("Bolt",) if by_bolt else ()),
                grid.number("Asked"),
                grid.number("Setting"),
                grid.number("Read"),
            ),
            *(grid.DRAWN, "Judged", grid.WHEN),
        )
        caption = (
            "Read: as the technician said it, pass by pass. Setting: worked out from the "
            "procedure’s list of wrenches. Drawn: the value in the tolerance round what was asked"
        )
        return grid.table("torques", caption, heads, rows)

    def bolts(self, t: Torque) -> Cell:
        if not t.bolts or not t.bolts_called or t.bolt is not None:
            small = _some(f"{t.bolts} of them" if t.bolts and t.bolts > 1 else None)
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
                        bag.within,
                        "as said" if bag.asked is None else "as asked",
                        None if bag.within else f"asked: bag {bag.asked}",
                    ),
                    Cell(text=_step(bag)),
                    self.when(bag),
                )
            )
            for bag in self.record.bags
        ]
        heads = ("Bag", grid.words("Contents"), "Judged", "Step", grid.WHEN)
        return grid.table("bags", "What came off, and the bag it is in", heads, rows)

    def photos(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(one)),
                    Cell(
                        text=wording.upper_first(one.of),
                        strong=True,
                        small=_some(
                            None if one.of_stands else "withdrawn since",
                            "put in after closing, not part of the sealed record"
                            if one.after_closing
                            else None,
                        ),
                    ),
                    Cell(photo=one),
                    self.when(one),
                )
            )
            for one in photos.apart(self.record)
        ]
        heads = ("Step", grid.words("Of"), Column("Photo", "plot"), grid.WHEN)
        caption = (
            "Those of findings and notes are shown there, but for what was put in after closing"
        )
        return grid.table("photos", caption, heads, rows)

    def timers(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(timer)),
                    Cell(text=timer.name, strong=True),
                    Cell(text=wording.duration(timer.seconds)),
                    self.when(timer),
                    _ended(timer),
                )
            )
            for timer in self.record.timers
        ]
        heads = (
            "Step",
            grid.words("For"),
            "Length",
            Column("Started", "when"),
            Column("Announced", "when"),
        )
        return grid.table("timers", "Started by voice or on entering the step", heads, rows)

    def affirmed(self) -> Table:
        record = self.record
        entries: list[Affirmed | Answer] = [*record.hazards, *record.conditions, *record.answers]
        rows = []
        for entry in sorted(entries, key=lambda e: e.at):
            if isinstance(entry, Answer):
                cell = Cell(text=entry.question, small=(wording.upper_first(entry.answer),))
                kind = "answered"
            else:
                cell = Cell(text=" ".join(map(wording.upper_first, entry.texts)))
                kind = "affirmed"
            rows.append(Row((Cell(text=_step(entry)), cell, Cell(text=kind), self.when(entry))))
        for hazard in record.job_hazards:
            was = f"affirmed, {hazard.by or 'by somebody not named'}" if hazard.affirmed else "told"
            lacks = hazard.asked and not hazard.affirmed
            rows.insert(
                0,
                Row(
                    (
                        Cell(text="all"),
                        Cell(text=wording.upper_first(hazard.text)),
                        Cell(flag="not affirmed") if lacks else Cell(text=was),
                        Cell(at=hazard.affirmed),
                    )
                ),
            )
        caption = "What was spoken, and the technician affirmed or answered"
        return grid.table("affirmed", caption, ("Step", grid.words("What"), "Was", grid.WHEN), rows)

    def withdrawn(self) -> Table:
        rows = [
            Row(
                (
                    Cell(text=_step(w)),
                    Cell(
                        struck=wording.upper_first(w.what),
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
        heads = ("Step", grid.words("Was"), "Taken back", grid.words("Now"))
        caption = "No longer in effect; nothing is ever removed from the journal"
        return grid.table("withdrawn", caption, heads, rows)

    def steps(self) -> Table:
        rows: list[Row] = []
        stage = None
        for step in self.record.steps:
            if step.stage != stage:
                stage = step.stage
                rows.append(Row(group=wording.upper_first(stage)))
            rows.append(
                Row(
                    (
                        Cell(text=str(step.number), strong=True),
                        Cell(
                            text=step.say,
                            small=_some(step.revision and wording.worked_from(step.revision))
                            if len(self.record.texts) > 1
                            else (),
                            lines=tuple(
                                (
                                    f"{wording.upper_first(line.what)} {line.at:%H:%M}",
                                    line.gone or "",
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
        heads = (
            "No.",
            grid.words("Step"),
            "State",
            Column("Entered", "when"),
            Column("Left", "when"),
        )
        return grid.table("steps", "All steps of the procedure, in its order", heads, rows)


def _taken(of: ReadingEntry | Torque, several: bool) -> Cell:
    """When it was taken, and of which set where there are several."""
    past = None if of.stands else "earlier set"
    return Cell(text=of.taken, small=_some(of.set if several else None, past))


def _value(value: Decimal, unit: str, within: bool | None, number: int) -> Cell:
    text = wording.quantity(value, unit)
    flag = "not within limits" if within is False else ""
    return Cell(text=text, flag=flag, small=(f"step {number}",))


def _bolt(of: Torque) -> Cell:
    if of.bolt is not None:
        return Cell(text=str(of.bolt))
    return Cell(text="rest", flag="said as one") if of.as_one else Cell(text="all")


def _judged_choice(of: PartChosen) -> Cell:
    if of.part is None:
        return Cell(flag="no part", grave=True)
    if of.failed:
        return Cell(flag="doubtful", small=("from a value that fails",))
    if of.unsure:
        return Cell(flag="doubtful", small=(f"might be {of.unsure}",))
    return Cell(text="clear")


def _stand(order: Order) -> Cell:
    return Cell(
        text=_states(order),
        flag="received, not said to be installed" if order.installed_unsaid else "",
        small=(f"after closing: {_states(order.now)}",) if order.now else (),
    )


def _states(of: Order | Stand) -> str:
    counts = [(getattr(of, state), state) for state in ledger.STATES]
    return ", ".join(f"{count} {state}" for count, state in counts if count)


def _some(*texts: str | None) -> tuple[str, ...]:
    return tuple(text for text in texts if text)


def _ended(timer: Timer) -> Cell:
    """When a timer was announced or cancelled."""
    if timer.cancelled:
        return Cell(text="cancelled", at=timer.cancelled)
    return Cell(at=timer.rang) if timer.rang else Cell(text="not announced")


def _first(heard: str | None) -> tuple[str, ...]:
    return (f"first heard “{heard}”",) if heard else ()


def _how(of: Measured) -> tuple[str, ...]:
    """What was heard before the value that stands, and what sent it."""
    return _some(*_first(of.first_heard), wording.sent_by(of))


def _step(entry: Entry) -> str:
    return str(entry.number) if entry.number else "–"


def _judged(within: bool | None, yes: str, *small: str | None) -> Cell:
    if within is None:
        return Cell(small=("no limits",))
    return (
        Cell(text=yes, small=_some(*small))
        if within
        else Cell(flag=f"not {yes}", small=_some(*small), grave=True)
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
