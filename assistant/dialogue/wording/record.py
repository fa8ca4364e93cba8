"""What is in the record, as it is read back."""

from __future__ import annotations

from collections.abc import Iterable

from assistant.dialogue import events, facts
from assistant.dialogue.instrument import Instrument
from assistant.dialogue.wording import customer, failures, pieces, remaining, revisions, steps
from assistant.dialogue.wording.quantities import (
    count,
    date,
    digits,
    duration,
    figures,
    in_both,
    inside,
    limits,
    listing,
    percent,
    quantity,
    sentence,
)
from assistant.grammar import nouns


def event(of: events.Base) -> str:
    """Word an event as it is read back; no full stop."""
    match of:
        case events.TorqueRecorded():
            return _torque(of)
        case events.BoltCalled():
            return f"bolt {count(of.bolt)}"
        case events.ReadingRecorded():
            worn = "" if of.wear is None else f", worn {percent(of.wear)}"
            value = in_both(of.value, of.unit, of.asked_unit)
            return f"{of.name}{_taken(of.taken)} {value}{beyond(of)}{worn}{_sent_by(of)}"
        case events.ValueWorkedOut():
            return f"{of.name} comes to {quantity(of.value, of.unit)}{beyond(of)}"
        case events.LeakJudged():
            return _leak_test(of)
        case events.FluidMeasured():
            return _fluid(of)
        case events.ReadyForCheck():
            return "ready for the second check"
        case events.SecondChecked():
            return f"second check by {of.by}, of the work of {listing(of.done_by)}"
        case events.PieceRemoved():
            return f"{steps.parts(of.parts)} off"
        case events.PieceChanged():
            return _piece(of)
        case events.TorqueSet():
            return f"torque for {of.plural}, {quantity(of.value, of.unit)}"
        case events.LockerApplied():
            return f"{of.plural}, {pieces.locker(of.strength)}"
        case events.BuildUpBegun():
            return "build up begun"
        case events.GroupBegun():
            return "group started"
        case events.GroupEnded():
            return f"group ended, {steps.all_of(of.parts)}" if of.parts else "group ended"
        case events.BuildOrderSaid():
            return pieces.before_words(of.parts, of.before_parts)
        case events.RetestBegun():
            return f"retest of {_results(of.results)}"
        case events.ReworkBegun():
            return "rework"
        case events.ConcessionAsked():
            return f"asked for a concession for {failures.named(of.failed.result)}"
        case events.Conceded():
            return f"{failures.named(of.failed.result)} conceded"
        case events.ReviewOpened():
            return "went through what was recorded"
        case events.PartChosen(part=None):
            return f"no part is given for {of.chosen_by} {quantity(of.value, of.unit)}"
        case events.PartChosen():
            note = f", {of.note}" if of.note else ""
            close = f", but it is close to {of.unsure}: measure again" if of.unsure else ""
            bad = f", but {of.chosen_by} fails" if of.failed else ""
            return f"use {of.part}{note}{close}{bad}"
        case events.BagRecorded():
            over = "" if of.within else f", where bag {count(of.asked or 0)} was asked"
            return f"bag {count(of.number)}{over}"
        case events.PartOrdered():
            return f"order {steps.parts(of.parts)}"
        case events.OrderMoved():
            back = " back from repair" if of.from_repair else ""
            return f"{steps.parts(of.parts)} {of.state}{back}"
        case events.CustomerAsked() | events.CustomerAnswered():
            return customer.event(of)
        case events.KitOpened():
            return "kit check"
        case events.KitItemChecked():
            return f"{of.name}, {_short(of)}"
        case events.KitChecked():
            missing = f", short {steps.all_of(of.short)}" if of.short else ", all there"
            return f"kit checked{missing}"
        case events.FindingRecorded():
            number = f"{count(of.count)} " if of.count > 1 else ""
            name = nouns.counted(of.count, of.part, of.plural)
            told = [f"{number}{name} {of.condition}", of.place, of.disposition, of.taken]
            return ", ".join(words for words in told if words)
        case events.NoteRecorded():
            return f"note: {figures(of.text)}" if of.text else "a spoken note"
        case events.PictureTaken():
            return "a photo"
        case events.QuestionAnswered():
            return of.answer
        case events.HazardsHeard():
            texts = [f"{hazard.signal}: {inside(hazard.text)}" for hazard in of.hazards]
            return f"heard: {listing(texts)}"
        case events.ConditionAffirmed():
            return f"affirmed: {inside(of.condition)}"
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
            return f"step skipped, {remaining.reason(of.reason)}"
        case events.ValueQuestioned():
            return f"questioned: heard {heard(of)}"
        case events.Withdrawn():
            return "corrected" if of.corrected else "withdrawn"
        case events.JobOpened():
            after = f", follows job {count(of.follows.job)}" if of.follows else ""
            return f"job opened: {of.title}, revision {figures(of.revision)}{after}"
        case events.JobTakenUp():
            return "job taken up again"
        case events.RevisionOffered():
            return f"{revisions.name(of.revision)} offered"
        case events.RevisionTaken():
            return f"{revisions.name(of.revision)} taken, in place of {figures(of.superseded)}"
        case events.JobClosed():
            left = f" with {listing(remaining.each_left(of.left))}" if of.left else ""
            return f"job closed{left}"
        case events.QuestionDropped():
            return f"dropped: {_ASKED[of.asked]}"
        case events.CloseAsked():
            return "asked to close the job"
        case events.ValueSent():
            return f"sent: {quantity(of.value, of.unit)}{_from(of.instrument)}"
        case events.SkipAsked():
            return "asked to skip the step"
        case events.NoteOpened():
            return "note opened"
        case events.SignedOn():
            return f"{of.name} at the bench"
        case events.StoodBy():
            return "standing by"
        case events.Resumed():
            return "listening again"
    raise TypeError(f"no words for {of!r}")


_ASKED: dict[events.Asked, str] = {
    "value": "the value in question",
    "skip": "skipping the step",
    "close": "closing the job",
    "note": "the note",
    "kit check": "the rest of the kit check",
    "concession": "the concession",
    "review": "going through what was recorded",
    "revision": "the newer revision",
    "value sent": "the value that was sent",
}


def _piece(of: events.PieceChanged) -> str:
    """Word what was said more of what came off."""
    told = []
    if of.count is not None:
        told.append(f"make that {count(of.count)}")
    if of.name is not None:
        told.append(f"call it {of.name}")
    if of.thread is not None:
        told.append(f"size {pieces.size(of.thread, of.length)}")
    if of.threads is not None:
        told.append(pieces.threads(of.threads))
    return listing(told)


def _results(of: Iterable[facts.ResultRef]) -> str:
    return listing(dict.fromkeys(map(failures.named, of)))


def stands_again(of: events.Base) -> str:
    """Word that a record stands again, because what replaced it was taken back."""
    return sentence(f"{event(of)} stands again")


def heard(of: events.ValueQuestioned) -> str:
    """Word what was heard of a value that is questioned."""
    candidate = of.candidate
    match candidate:
        case events.TorqueRecorded() | events.ReadingRecorded():
            said = of.said or facts.SaidValue(value=candidate.value, unit=candidate.unit)
            return in_both(said.value, said.unit, candidate.asked_unit)
        case events.BagRecorded():
            return f"bag {count(candidate.number)}"
        case events.PartOrdered():
            return steps.parts(candidate.parts)
        case events.OrderMoved():
            return event(candidate)


def _torque(of: events.TorqueRecorded) -> str:
    stage = f", pass {count(of.stage)} of {count(of.stages)}," if of.stages > 1 else ""
    over = "" if of.within else f", where {quantity(of.asked, of.asked_unit)} was asked"
    if of.bolt is not None:
        stage += f"{'' if stage else ','} bolt {count(of.bolt)},"
    one = ", all said as one" if of.as_one else ""
    doubts = listing(_doubt(doubt, of.wrench or "wrench") for doubt in of.doubts)
    but = f", but {doubts}" if doubts else ""
    value = in_both(of.value, of.unit, of.asked_unit)
    stage += _taken(of.taken)
    if of.at_nut:
        value += " at the nut"
    return f"{of.fastener}{stage} {steps.tightened(of.unit)} {value}{one}{over}{but}{_sent_by(of)}"


def _sent_by(of: events.TorqueRecorded | events.ReadingRecorded) -> str:
    """Word what sent a value, and that its calibration had run out; nothing where it was said."""
    if of.instrument is None:
        return ""
    until = of.instrument.calibrated_until
    over = f", out of calibration since {date(until)}" if until and of.overdue else ""
    return f"{_from(of.instrument)}{over}"


def _from(instrument: Instrument) -> str:
    return f", from the {figures(instrument.name)}"


def _taken(of: facts.Taken | None) -> str:
    return f" {of}" if of else ""


def _doubt(of: facts.WrenchDoubt, wrench: str) -> str:
    match of:
        case facts.OutOfCalibration():
            return f"the {wrench} is out of calibration, since {date(of.due)}"
        case facts.CalibratedAhead():
            return f"the calibration of the {wrench} is dated ahead, {date(of.calibrated)}"
        case facts.OutsideGoodRange():
            return f"this is outside the good range of the {wrench}"


def beyond(of: events.ReadingRecorded | events.ValueWorkedOut) -> str:
    """Word that a value is outside its limits, or too close to call; nothing where it is within."""
    if of.within is False:
        return f", outside the limits {limits(of.limits)}"
    return f", too close to the limits to call, {limits(of.limits)}" if of.too_close else ""


def _short(of: events.KitItemChecked) -> str:
    if not of.short:
        return "there"
    return f"{count(of.short)} short" if of.countable else "not there"


_OUTCOMES = {
    "pass": "passed",
    "fail": "failed",
    "doubtful": "doubtful",
    "too close to call": "is too close to call",
}


def _leak_test(of: events.LeakJudged) -> str:
    """Word how a leak test came out, what was lost of what is allowed last."""
    said = f"leak test {_OUTCOMES[of.outcome]}"
    if of.no_temperatures:
        said += ", no temperatures were taken"
    if of.thermal:
        said += f", the gauge lost {digits(of.measured)}, temperature explains {digits(of.thermal)}"
    if of.outcome == "doubtful":
        return f"{said}, check gauge and temperature, gained {quantity(abs(of.lost), of.unit)}"
    if of.rate is not None:
        said += f", leak rate {quantity(of.rate, 'mbar·l/s')}"
    return f"{said}, lost {digits(of.lost)} of {quantity(of.allowed, of.unit)} allowed"


def _fluid(of: events.FluidMeasured) -> str:
    """Word how much came out or went in, of how much: "zero point nine of one point one litres"."""
    way = "came out" if of.drained else "went in"
    said = f"{of.fluid}, {digits(of.value)} of {quantity(of.capacity, of.unit)} {way}"
    if of.within:
        return said
    gap = quantity(abs(of.missing), of.unit)
    if of.missing < 0:
        return f"{said}, {gap} too much"
    return f"{said}, {gap} is missing: look for the reason"


# Saying that something is recorded


def recorded(of: events.Base) -> str:
    """Word what was just recorded."""
    return sentence(f"{event(of)}. Recorded")


def affirmed(of: events.Base) -> str:
    """Word what was recorded because the technician affirmed it."""
    return sentence(f"{event(of)}. Recorded as you affirm")


def told(of: events.Base) -> str:
    """Word what follows from readings, or what is read back, as a sentence."""
    return sentence(event(of))


def bag(number: int) -> str:
    """Word a bag that was recorded."""
    return f"Bag {count(number)}. Recorded."


RECORDED = "Recorded."
NOTE_KEPT = "Note kept."
NO_NOTE = "No note kept."


def skipped(number: int, reason: facts.SkipReason) -> str:
    """Word that a step is skipped."""
    why = remaining.reason(reason)
    return sentence(f"{steps.name(number)} skipped, {why}. It is in the record")


def nothing_read_back(number: int) -> str:
    """Word that a step has no record yet."""
    return f"Nothing is recorded at {steps.name(number)}."


def read_back(number: int) -> str:
    """Word what comes before the records of a step."""
    return f"Recorded at {steps.name(number)}:"


# Taking back


def going_to(number: int) -> str:
    """Word a move that is taken back."""
    return f"going to {steps.name(number)}"


def disregarded(what: str) -> str:
    """Word that something was taken back; `what` is the event or the move as worded here."""
    return sentence(f"disregarded: {what}")


def corrected(what: str, number: int | None = None, place: tuple[int, int] | None = None) -> str:
    """Word what a correction replaces, and at which step where that is another one; `place` is
    which of how many readings of one thing it is, from 1.
    """
    where = f" at {steps.name(number)}" if number is not None else ""
    which = f" of reading {count(place[0])} of {count(place[1])}" if place else ""
    return sentence(f"correction{which}{where}. Was: {what}")


def back_at(number: int) -> str:
    """Word the step that a withdrawal led back to."""
    return f"Back at {steps.name(number)}."
