"""The catalogue for the eye: how events, values, limits and what is left are written.

The log, the page, the PDF, CSV and the display at the bench take their words from here: figures and
unit symbols ("0.95 L", "14 N·m", "24.95–25.05 mm"), phrases without a full stop. What is spoken has
a catalogue of its own, `assistant.dialogue.wording`, and nothing here takes words from it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from assistant.dialogue import events, facts, pieces
from assistant.dialogue.instrument import Instrument
from assistant.dialogue.withdrawal import named
from assistant.grammar import nouns
from assistant.procedure import unwritten
from assistant.procedure.model import Limits, Tighten
from assistant.report.model import Measured, Nonconformity, TextUsed

# Numbers

# Both l and L are symbols of the litre (SI Brochure, table 8); L is not taken for a one.
_SYMBOLS = {"l": "L", "ml": "mL", "mbar·l/s": "mbar·L/s"}


def symbol(unit: str) -> str:
    """Return a unit's symbol as it is shown: "L" for litres."""
    return _SYMBOLS.get(unit, unit)


def quantity(value: Decimal, unit: str | None = None) -> str:
    """Write a value with its unit: "14 N·m", "90°"."""
    figures = f"{value:f}"
    if not unit:
        return figures
    return figures + unit if unit == "°" else f"{figures} {symbol(unit)}"


def limits(of: Limits | facts.Bounds | None) -> str | None:
    """Write limits: "24.95–25.05 mm"; None where there are none."""
    if of is None:
        return None
    if of.least and of.most:
        same = of.least.unit == of.most.unit
        low = quantity(of.least.value, None if same else of.least.unit)
        # A dash between figures that may be negative is read as a minus.
        dash = "–" if same and of.least.value >= 0 and of.least.unit != "°" else " to "
        return f"{low}{dash}{quantity(of.most.value, of.most.unit)}"
    if of.least:
        return f"at least {quantity(of.least.value, of.least.unit)}"
    if of.most:
        return f"at most {quantity(of.most.value, of.most.unit)}"
    return None


def change(lost: Decimal, unit: str) -> str:
    """Write what a leak test lost: "lost 0.01 bar", or "gained 0.01 bar" for a negative loss."""
    return f"{'gained' if lost < 0 else 'lost'} {quantity(abs(lost), unit)}"


def missing(of: Decimal, unit: str) -> str:
    """Write how much is missing: "0.2 L missing", or "0.2 L too much" for a negative one."""
    return f"{quantity(abs(of), unit)} {'too much' if of < 0 else 'missing'}"


def duration(seconds: float) -> str:
    """Write a time span in its largest unit and the next: "1 h 30 min"; up to 48 h in hours."""
    left = max(0, round(seconds))
    units = ((86400, "d"), (3600, "h"), (60, "min"), (1, "s"))
    written: list[str] = []
    for size, name in units if left > 48 * 3600 else units[1:]:
        number, left = divmod(left, size)
        if written:
            return " ".join(written + ([f"{number} {name}"] if number else []))
        if number:
            written.append(f"{number} {name}")
    return " ".join(written) or "0 s"


def grouped(seal: str) -> str:
    """Write a seal in groups of four digits, to be compared by eye and typed."""
    return " ".join(seal[at : at + 4] for at in range(0, len(seal), 4))


def upper_first(text: str) -> str:
    """Return the text with a capital letter at its beginning."""
    return text[:1].upper() + text[1:]


def listing(things: Iterable[str]) -> str:
    """Join with commas and a final "and"."""
    items = list(things)
    if len(items) < 2:
        return "".join(items)
    return f"{', '.join(items[:-1])} and {items[-1]}"


def several(number: int, one: str, many: str | None = None) -> str:
    """Write a count of things: "1 bush", "4 bushes"; `many` goes before the usual plural."""
    return f"{number} {nouns.counted(number, one, many)}"


# Parts and fasteners


def parts(of: facts.Parts) -> str:
    """Write a count of parts: "2 circlips"; "gear oil, 1.1 L" for what is not counted."""
    if not of.countable:
        return of.name + (f", {quantity(of.amount.value, of.amount.unit)}" if of.amount else "")
    if of.count == 1 and of.name.startswith(pieces.UNNAMED):
        return of.name
    return several(of.count, of.name, of.plural)


def life(of: Sequence[facts.PartsAt]) -> str:
    """Write where all parts of a kind are: "1 condemned; 1 fitted new at step 5"."""
    return "; ".join(
        f"{one.parts.count} {one.place}"
        + (f", bag {one.bag}" if one.bag is not None else "")
        + (", fitted" if one.place == "condemned" and one.number else "")
        + (f" at step {one.number}" if one.number is not None else "")
        for one in of
    )


def contents(of: Sequence[facts.Parts]) -> str | None:
    """Write what is in a bag; None where nobody says."""
    return listing(map(parts, of)) or None


def locker(tighten: Tighten) -> str:
    """Write the thread-locker of a tightening; empty where nobody said."""
    if tighten.locker is None:
        return "" if tighten.lubricated == "not stated" else "no thread-locker"
    return f"thread-locker, {tighten.locker.strength} strength"


def condition_of_threads(tighten: Tighten) -> str | None:
    """Write whether the threads are dry or lubricated; None where thread-locker says it, or nobody
    said.
    """
    if tighten.lubricated in ("thread-locker", "not stated"):
        return None
    return "threads dry" if tighten.lubricated == "dry" else f"threads with {tighten.lubricated}"


_ORDERS = {
    "star": "in a star, opposite bolts in turn",
    "spiral": "in a spiral, from the centre outwards",
    "circle": "around the circle, one after the other",
    "as numbered": "in the order of their numbers",
}


def order(of: str | tuple[int, ...]) -> str:
    """Write the order that bolts are tightened in."""
    if isinstance(of, str):
        return _ORDERS[of]
    return f"in the order {', '.join(map(str, of))}"


def torque_pass(stage: int, stages: int) -> str:
    """Write which pass of tightening it is: ", pass 1 of 2"; nothing where there is but one."""
    return f", pass {stage} of {stages}" if stages > 1 else ""


# Events


def event(of: events.Base) -> str:
    """Write an event in one phrase, without full stop."""
    match of:
        case events.TorqueRecorded():
            verb = "turned" if of.unit == "°" else "tightened"
            over = "" if of.within else f", asked {quantity(of.asked, of.asked_unit)}"
            stage = torque_pass(of.stage, of.stages)
            bolt = f", bolt {of.bolt}" if of.bolt is not None else ""
            one = ", all said as one" if of.as_one else ""
            value = quantity(of.value, of.unit)
            which = f"{stage}{bolt}"
            tightened = f"{which}, {verb}" if which else f" {verb}"
            return f"{of.fastener}{tightened} {value}{one}{over}{_sent_by(of)}"
        case events.ReadyForCheck():
            return "said to be done, and ready for the second check"
        case events.SecondChecked():
            return f"second check by {of.by}, of the work of {listing(of.done_by)}"
        case events.PieceRemoved():
            return f"{parts(of.parts)} off"
        case events.PieceChanged():
            return _piece(of)
        case events.TorqueSet():
            return f"torque set: {of.plural} {quantity(of.value, of.unit)}"
        case events.LockerApplied():
            return f"{of.plural}: thread-locker, {of.strength} strength"
        case events.BuildUpBegun():
            return "build-up begun"
        case events.GroupBegun():
            return "group begun"
        case events.GroupEnded():
            together = f": {listing(map(parts, of.parts))}" if of.parts else ""
            return f"group ended, to go on as one{together}"
        case events.BuildOrderSaid():
            return f"goes on before {parts(of.before_parts)}: {parts(of.parts)}"
        case events.RetestBegun():
            return f"retest: {failed_names(of.results)}"
        case events.ReworkBegun():
            names = f", for {failed_names(of.results)}" if of.results else ""
            return f"rework{names}"
        case events.ConcessionAsked():
            return f"concession asked for: {failure(of.failed)}"
        case events.Conceded():
            because = f"because: {of.reason}" if of.reason else "reason in the clip"
            return f"conceded: {failure(of.failed)}, {because}"
        case events.ReviewOpened():
            return "went through what was recorded"
        case events.BoltCalled():
            return f"bolt {of.bolt} called, {of.place} of {of.of}"
        case events.ReadingRecorded():
            out = ", outside the limits" if of.within is False else ""
            return f"{of.name} {quantity(of.value, of.unit)}{out}{_sent_by(of)}"
        case events.ValueWorkedOut():
            out = ", outside the limits" if of.within is False else ""
            return f"{of.name} comes to {quantity(of.value, of.unit)}{out}"
        case events.LeakJudged():
            allowed = quantity(of.allowed, of.unit)
            return f"leak test: {of.outcome}, {change(of.lost, of.unit)}, {allowed} allowed"
        case events.FluidMeasured():
            way = "came out" if of.drained else "went in"
            gap = "" if of.within else f", {missing(of.missing, of.unit)}"
            return f"{of.fluid}: {of.value:f} of {quantity(of.capacity, of.unit)} {way}{gap}"
        case events.PartChosen():
            if of.part is None:
                return f"no part is given for {of.chosen_by} {quantity(of.value, of.unit)}"
            bad = f", though {of.chosen_by} fails" if of.failed else ""
            return f"use {of.part}{bad}"
        case events.BagRecorded():
            return f"bag {of.number}" + ("" if of.within else f", asked bag {of.asked}")
        case events.PartOrdered():
            return f"order {parts(of.parts)}"
        case events.OrderMoved():
            back = " back from repair" if of.from_repair else ""
            return f"{parts(of.parts)} {of.state}{back}"
        case events.CustomerAsked():
            return f"customer to be asked: {extra_work(of.work)}"
        case events.CustomerAnswered():
            return f"customer {answered(of)}: {extra_work(of.work)}"
        case events.KitOpened():
            return "kit check begun"
        case events.KitItemChecked():
            return f"{of.name}: {_found(of)}"
        case events.KitChecked():
            short = listing(map(parts, of.short))
            return f"kit checked, {f'short of {short}' if short else 'all there'}"
        case events.FindingRecorded():
            found = several(of.count, of.part, of.plural) if of.count > 1 else of.part
            told = [f"{found} {of.condition}", of.place, of.disposition]
            return ", ".join(words for words in told if words)
        case events.NoteRecorded():
            return f"note: {of.text}" if of.text else "spoken note"
        case events.PictureTaken():
            return "photo"
        case events.QuestionAnswered():
            return f"answered: {of.answer}"
        case events.HazardsHeard():
            return f"hazards affirmed: {' '.join(map(hazard, of.hazards))}"
        case events.ConditionAffirmed():
            return f"affirmed: {of.condition}"
        case events.TimerStarted():
            return f"{of.name} started, {duration(of.seconds)}"
        case events.TimerRang():
            return f"{of.name} is up"
        case events.TimerCancelled():
            return f"{of.name} cancelled"
        case events.StepEntered():
            return "went to the step"
        case events.StepDone():
            return "step done"
        case events.StepSkipped():
            return f"step skipped: {reason(of.reason)}"
        case events.ValueSent():
            names = " or ".join((*of.readings, *of.fasteners))
            value = quantity(of.value, of.unit)
            return f"sent: {value}, from the {of.instrument.name}; asked what it is of: {names}"
        case events.ValueQuestioned():
            return f"asked about {heard(of)}: {why(of)}"
        case events.Withdrawn():
            return "corrected" if of.corrected else "withdrawn"
        case events.JobOpened():
            after = f", follows job {of.follows.job}" if of.follows else ""
            if of.procedure == unwritten.NAME:
                return f"job opened: {of.title}, which nobody has written up{after}"
            return f"job opened: {of.title}, revision {of.revision}{after}"
        case events.JobTakenUp():
            return "job taken up again"
        case events.RevisionOffered():
            return f"revision {of.revision} of the procedure offered"
        case events.RevisionTaken():
            return f"worked from revision {of.revision} from here on, no longer {of.superseded}"
        case events.JobClosed():
            work = "; ".join(map(left, of.left))
            return f"job closed with work left: {work}" if work else "job closed"
        case events.QuestionDropped():
            return _DROPPED[of.asked]
        case events.CloseAsked():
            return "asked to close the job"
        case events.SkipAsked():
            return "asked to skip the step"
        case events.NoteOpened():
            return "note opened"
        case events.SignedOn():
            return f"{of.name} signed on"
        case events.StoodBy():
            return "standing by"
        case events.Resumed():
            return "listening again"
    raise TypeError(f"nothing to write for {of!r}")


def afterwards(of: events.Base, history: Sequence[events.Base]) -> str:
    """Write what was entered after a job was closed, in one phrase; `history` is its events."""
    if isinstance(of, events.PictureTaken):
        shown = named(history, of.of)
        return f"photo put in{f' of {event(shown)}' if shown else ''}, {of.sha256[:16]}…"
    if isinstance(of, events.PictureTakenBack):
        return f"photo taken back, {of.sha256[:16]}…"
    return event(of)


def extra_work(of: facts.ExtraWork) -> str:
    """Write what a customer has to agree to: "gear worn, upper, renew"."""
    if of.condition is None:
        return f"order {parts(of.parts)}"
    found = parts(of.parts) if of.parts.count > 1 else of.parts.name
    return ", ".join(words for words in (f"{found} {of.condition}", of.place, of.needs) if words)


def answered(of: events.CustomerAnswered) -> str:
    """Write what a customer answered, who for them, and what was noted."""
    if of.answer == "waiting":
        return "answer taken back"
    note = f" ({of.note})" if of.note else ""
    return f"{of.answer}, says {of.name}{note}"


def _piece(of: events.PieceChanged) -> str:
    """Write what was said more of what came off."""
    length = f" × {quantity(of.length.value, of.length.unit)}" if of.length else ""
    told = (
        None if of.count is None else f"{of.count} of them",
        of.name and f"called {of.name}",
        of.thread and f"{of.thread}{length}",
        of.threads and f"threads: {of.threads}",
    )
    return "; ".join(words for words in told if words)


_DROPPED: dict[events.Asked, str] = {
    "revision": "newer revision not taken",
    "value": "value in question dropped",
    "skip": "step not skipped",
    "close": "job not closed",
    "note": "note not kept",
    "kit check": "kit check left",
    "concession": "not conceded",
    "review": "nothing more put right",
    "value sent": "value sent, and not recorded",
}


def failed_names(of: Iterable[facts.ResultRef]) -> str:
    """Write what failed, by name."""
    return listing(
        dict.fromkeys("leak test" if one.kind == "leak test" else one.name for one in of)
    )


def failure(of: facts.Failed) -> str:
    """Write a result that fails, and its requirement: "bore 25.20 mm, limits 24.95–25.05 mm"; where
    it failed in an earlier set, that it is to be had anew.
    """
    anew = {None: "", "retest": ", to be retested", "rework": ", to be done again"}
    return f"{_failure(of)}{anew[of.again.by if of.again else None]}"


def _failure(of: facts.Failed) -> str:
    result = of.result
    if of.parts is not None:
        lost = "missing" if result.kind == "missing part" else "condemned"
        to_come = f", {of.to_come} on order" if of.to_come else ""
        return (
            f"{parts(of.parts)} {lost}{' and fitted' if of.fitted else ', not replaced'}{to_come}"
        )
    if result.kind == "fitted part":
        return f"{of.part} fitted, {of.wanted} to be fitted"
    name = f"{result.name} torque" if result.kind == "torque" else result.name
    if result.bolt is not None:
        name += f", bolt {result.bolt}"
    if result.kind == "leak test":
        name = "leak test"
    if of.found is None:
        return f"{name} cannot be worked out"
    found = f"{name} {quantity(of.found.value, of.found.unit)}"
    if result.kind == "choice":
        return f"no part is given for {found}"
    if of.required is None:
        return found
    if of.required.least is not None and of.required.least == of.required.most:
        return f"{found}, asked {quantity(of.required.least.value, of.required.least.unit)}"
    both = of.required.least is not None and of.required.most is not None
    return f"{found}, {'limits ' if both else ''}{limits(of.required)}"


def beyond(of: facts.Failed) -> str | None:
    """Write by how much a result misses its limit: "0.05 mm too much"; None where that is no number
    of the limit's own unit.
    """
    if of.found is None or of.required is None:
        return None
    for limit, sign, way in (
        (of.required.most, 1, "too much"),
        (of.required.least, -1, "too little"),
    ):
        if limit is not None and limit.unit == of.found.unit:
            gap = (of.found.value - limit.value) * sign
            if gap > 0:
                return f"{quantity(gap, limit.unit)} {way}"
    return None


def result(of: Nonconformity) -> str:
    """Write what a result is of: "long bolt torque, pass 1, bolt 3", "leak test", "backlash"."""
    match of.kind:
        case "torque":
            stage = f", pass {of.stage}" if of.stage is not None else ""
            bolt = f", bolt {of.bolt}" if of.bolt is not None else ""
            return f"{of.name} torque{stage}{bolt}"
        case "leak test":
            return "leak test"
        case "choice":
            return f"part chosen by {of.name}"
        case "fitted part":
            return "wrong part fitted"
        case _:
            return of.name


def status(of: Nonconformity) -> tuple[str, ...]:
    """Write how a nonconformity stands: a phrase for each thing that is to be known of it."""
    told: list[str] = []
    given = of.concession
    if of.status == "open":
        told.append(f"open: {of.again} begun, no new result yet" if of.again else "open")
    elif of.status == "settled":
        told.append(f"settled by {of.settled_by}, now {of.now}")
    elif of.status == "taken back":
        told.append("taken back" + (f", now {of.now}" if of.now else ""))
    if given is not None:
        by, when = given.by or "somebody not named", f"{given.at:%Y-%m-%d %H:%M}"
        why = given.reason or "; ".join(made.text for made in given.transcripts)
        if not why:
            clip = given.heard.clip if given.heard else None
            why = "reason spoken" if clip is None else f"reason spoken, clip {clip}"
        elif not given.reason:
            why = f"transcript, not verified: {why}"
        lapsed = "; lapsed, the result is another one since" if given.lapsed else ""
        told.append(f"conceded by {by}, {when}: {why}{lapsed}")
    told += [f"failed before: {one}" for one in of.before]
    return tuple(told)


def _found(of: events.KitItemChecked) -> str:
    if not of.short:
        return "there"
    return f"{of.short} of {of.asked} missing" if of.countable else "missing"


def taken_back(shown: Sequence[events.Base]) -> str:
    """Write the records that a withdrawal took back."""
    return "; ".join(map(event, shown)) or "nothing"


def going_to(number: int) -> str:
    """Write a move that a withdrawal took back."""
    return f"going to step {number}"


def hazard(of: facts.Hazard) -> str:
    """Write a hazard: the signal word, then what to beware of."""
    return f"{of.signal}: {of.text}"


def reason(of: facts.SkipReason) -> str:
    """Write why a step was skipped."""
    return of.code or of.note or "as spoken in the clip"


def doubts(of: events.TorqueRecorded) -> str | None:
    """Write what makes the wrench of a torque doubtful; None where nothing does."""
    wrench = of.wrench or "wrench"
    return "; ".join(_doubt(doubt, wrench) for doubt in of.doubts) or None


def instrument(of: Instrument, overdue: bool = False) -> str:
    """Write an instrument with what is known of it: "micrometer, serial M-17, calibrated until
    2031-01-15"; `overdue` where that day had passed.
    """
    until = of.calibrated_until
    how = "out of calibration since" if overdue else "calibrated until"
    told = (
        of.name,
        of.serial and f"serial {of.serial}",
        until and f"{how} {until.isoformat()}",
    )
    return ", ".join(words for words in told if words)


def _sent_by(of: events.TorqueRecorded | events.ReadingRecorded) -> str:
    return f" (from the {instrument(of.instrument, of.overdue)})" if of.instrument else ""


def sent_by(of: Measured) -> str | None:
    """Write what sent the value of an entry; None where it was said."""
    if of.instrument is None:
        return None
    known = Instrument(
        name=of.instrument, serial=of.instrument_serial, calibrated_until=of.calibrated_until
    )
    return f"from the {instrument(known, of.overdue)}"


def _doubt(of: facts.WrenchDoubt, wrench: str) -> str:
    match of:
        case facts.OutOfCalibration():
            return f"{wrench} out of calibration since {of.due.isoformat()}"
        case facts.CalibratedAhead():
            return f"calibration of the {wrench} is dated ahead, {of.calibrated.isoformat()}"
        case facts.OutsideGoodRange():
            return f"outside the good range of the {wrench}"


def chosen_by(name: str, value: Decimal, unit: str) -> str:
    """Write the value that a part was chosen by."""
    return f"{name} {quantity(value, unit)}"


# Values that were heard and not taken at once

FirstHeard = facts.SaidValue | facts.Parts | facts.Moved | int | None


def first_heard(of: FirstHeard) -> str | None:
    """Write what was heard first of a thing recorded otherwise; None where nothing was."""
    match of:
        case None:
            return None
        case facts.SaidValue():
            return quantity(of.value, of.unit)
        case facts.Parts():
            return parts(of)
        case facts.Moved():
            return f"{of.count} {of.state}"
        case number:
            return f"bag {number}"


def heard(of: events.ValueQuestioned) -> str:
    """Write what was heard of a value that was asked about."""
    candidate = of.candidate
    match candidate:
        case events.TorqueRecorded() | events.ReadingRecorded():
            unit = of.said.unit if of.said else candidate.unit
            return quantity(candidate.value, unit)
        case events.BagRecorded():
            return f"bag {candidate.number}"
        case events.PartOrdered():
            return parts(candidate.parts)
        case events.OrderMoved():
            return event(candidate)


def why(of: events.ValueQuestioned) -> str:
    """Write why a value was asked about: "the step says 14 N·m"."""
    candidate = of.candidate
    match of.doubt, candidate:
        case ((facts.NotAsAsked() | facts.WrongKind()), events.TorqueRecorded()):
            return f"the step says {quantity(candidate.asked, candidate.asked_unit)}"
        case facts.WrongKind(), _:
            return f"the step asks for {symbol(of.doubt.unit)}"
        case facts.Implausible(), _:
            return f"{limits(of.doubt.expected)} would be expected"
        case facts.OutsideLimits(), events.ReadingRecorded():
            close = ", too close to call" if candidate.too_close else ""
            return f"the limits are {limits(candidate.limits)}{close}"
        case facts.BetterThanNew(), _:
            return "better than new"
        case facts.WrongBag(), events.BagRecorded():
            used = f"; bag {candidate.number} is in use" if of.doubt.in_use else ""
            return f"the step says bag {candidate.asked}{used}"
        case facts.MoreThanHeld(), events.PartOrdered():
            held = candidate.parts.model_copy(update={"count": of.doubt.held})
            return f"the assembly holds {parts(held)}"
        case facts.TakenAlready(), _:
            return f"{quantity(of.doubt.value, of.doubt.unit)} is recorded already"
        case facts.CountNotSaid(), _:
            return "scanned, and nobody said how many"
        case facts.OrderedAlready(), events.PartOrdered():
            there = candidate.parts.model_copy(update={"count": of.doubt.to_come})
            return f"{parts(there)} on order already"
        case facts.NotReceived(), _:
            return f"{of.doubt.received or 'none'} of them received, by the record"
    raise TypeError(f"nothing to write for {of.doubt!r} about {candidate!r}")


# What is left


_WHY: dict[facts.Lacking, str] = {
    "condemned": "condemned",
    "missing": "missing",
    "away for repair": "away for repair",
    "short in the kit": "short in the kit",
    "ordered": "ordered and not received",
    "asked": "asked for and not received",
}


def outstanding(item: facts.Outstanding) -> str:
    """Write what keeps a step from being done: "long bolt, pass 1 of 2: 7 N·m"."""
    match item:
        case facts.GateToPass():
            return f"step {item.number} first: {item.text}"
        case facts.FailureToSettle():
            where = "" if item.here else f", at step {item.failed.number}"
            return f"{_fails(item.failed)}{where}: {failure(item.failed)}"
        case facts.HazardsToHear():
            signals = dict.fromkeys(hazard.signal for hazard in item.hazards)
            return f"{listing(signals)} to affirm"
        case facts.StepBefore():
            return f"step {item.number} first: {item.text}"
        case facts.GroupToEnd():
            return "group not ended"
        case facts.ConditionToAffirm():
            return f"to affirm: {item.condition}"
        case facts.QuestionToAnswer():
            return f"question: {item.question}"
        case facts.PartsLacking():
            return f"{parts(item.parts)}, {_WHY[item.why]}"
        case facts.ReadingToTake():
            return f"reading: {item.name}"
        case facts.TorqueToRecord():
            stage = torque_pass(item.stage, item.stages)
            which = f", {'bolt' if len(item.missing) == 1 else 'bolts'} " if item.missing else ""
            bolts = which + ", ".join(map(str, item.missing))
            return f"{item.fastener}{stage}{bolts}: {quantity(item.value, item.unit)}"
        case facts.BagToRecord():
            return f"bag {item.number}"
        case facts.TimeToPass():
            if item.due is None:
                return f"{item.purpose}, {duration(item.seconds)}, not started"
            return f"{item.purpose}, until {item.due:%Y-%m-%d %H:%M}"
        case facts.SecondCheckToMake():
            who = f" than {listing(item.done_by)}" if item.done_by else ""
            return (
                f"second check by somebody other{who}" if who else "second check by somebody else"
            )


def _fails(of: facts.Failed) -> str:
    return "failed" if of.again else "fails"


def worked_from(revision: str) -> str:
    """Write which revision of the procedure a step was worked from."""
    return f"worked from revision {revision}"


def stands_for(of: TextUsed) -> str:
    """Write who stands for a revision of a procedure, and its day."""
    told = f"approved by {of.approver}" if of.approver else "not approved"
    return f"{told}, of {of.date}" if of.date else told


def signed_off(of: events.SignedOff) -> str:
    """Write a sign-off: who, what they noted, and what failed then."""
    note = f": {of.note}" if of.note else ""
    return f"signed off by {of.by}{note}{_despite(of)}"


def _despite(of: events.SignedOff) -> str:
    return f" (though {'; '.join(map(left, of.despite))})" if of.despite else ""


def left(of: facts.Left) -> str:
    """Write one thing that keeps a job from being complete."""
    match of:
        case facts.Failed():
            return f"step {of.number} {_fails(of)}: {failure(of)}"
        case facts.StepsNotDone():
            steps = ", ".join(map(str, of.numbers))
            half = f", {', '.join(map(str, of.begun))} half done" if of.begun else ""
            which = "step" if of.count == 1 else "steps"
            return f"{which} {steps} of {of.stage.lower()} not done{half}"
        case facts.SkippedStep():
            return f"step {of.number} skipped, {reason(of.reason)}"
        case facts.CustomerToAnswer():
            where = f", at step {of.number}" if of.number is not None else ""
            return f"customer to answer: {extra_work(of.work)}{where}"
        case facts.BagNotOpened():
            return f"bag {of.number} not opened"
        case facts.BagUneven():
            gap = f"{of.gap} left over" if of.gap > 0 else f"{-of.gap} more than went in"
            went_in, fitted = (contents(things) or "nothing" for things in (of.went_in, of.fitted))
            return f"bag {of.number}: {went_in} went in, {fitted} fitted from it, {gap}"
        case facts.PartsLeftOver():
            return f"{parts(of.parts)} left over, {of.place}"
        case facts.TimerRunning():
            return f"{of.name}, {duration(of.left)} left" if of.left > 0 else f"{of.name} is up"
