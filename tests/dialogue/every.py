"""One of every kind of event, and of every fact, with all that it can hold: for the catalogues."""

from __future__ import annotations

from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, get_args

from assistant.dialogue import events, facts
from assistant.dialogue.instrument import Instrument

AT = datetime(2031, 3, 4, 9, 30, tzinfo=UTC)
_OF: dict[str, Any] = {"at": AT, "turn": 7, "step": "close", "by": "sam"}

MM = facts.Bounds(
    least=facts.Amount(value=Decimal("24.95"), unit="mm"),
    most=facts.Amount(value=Decimal("25.05"), unit="mm"),
)
BUSHES = facts.Parts(name="bush", count=2)
OIL = facts.Parts(
    name="gear oil",
    count=1,
    countable=False,
    amount=facts.Amount(value=Decimal("1.1"), unit="l"),
)
EXTRA_WORK = facts.ExtraWork(parts=BUSHES, condition="worn", place="drive side", needs="renew")
HAZARD = facts.Hazard(signal="warning", text="The spring is under load.")
REASONS = (
    *(facts.SkipReason(code=code) for code in facts.SKIP_CODES),
    facts.SkipReason(note="the puller is lent out until Friday"),
    facts.SkipReason(),
)

FAILED: tuple[facts.Failed, ...] = (
    facts.Failed(
        result=facts.ResultRef(kind="reading", step="close", name="bore", turns=(3, 4)),
        number=5,
        found=facts.Amount(value=Decimal("25.10"), unit="mm"),
        required=MM,
    ),
    *(
        facts.Failed(
            result=facts.ResultRef(kind=kind, step="close", name="bore"),
            number=5,
            found=facts.Amount(value=Decimal("0.03"), unit="mm"),
            required=facts.Bounds(most=facts.Amount(value=Decimal("0.01"), unit="mm")),
        )
        for kind in ("value", "leak test", "fluid")
    ),
    facts.Failed(result=facts.ResultRef(kind="value", step="close", name="clearance"), number=5),
    facts.Failed(
        result=facts.ResultRef(kind="choice", step="close", name="clearance"),
        number=5,
        found=facts.Amount(value=Decimal("0.3"), unit="mm"),
    ),
    *(
        facts.Failed(
            result=facts.ResultRef(kind="torque", step="close", name="long bolt", stage=1, bolt=b),
            number=5,
            found=facts.Amount(value=Decimal(20), unit="N·m"),
            required=facts.Bounds(
                least=facts.Amount(value=Decimal(14), unit="N·m"),
                most=facts.Amount(value=Decimal(14), unit="N·m"),
            ),
        )
        for b in (None, 4)
    ),
    facts.Failed(
        result=facts.ResultRef(kind="fitted part", step="close", name="thin shim", turns=(9,)),
        number=5,
        part="thin shim",
        wanted="thick shim",
    ),
)
FAILED += tuple(
    one.model_copy(update={"again": facts.Again(by="retest" if n % 2 else "rework", number=4)})
    for n, one in enumerate(FAILED)
)

OUTSTANDING: tuple[facts.Outstanding, ...] = (
    facts.HazardsToHear(hazards=(HAZARD,)),
    facts.StepBefore(step="open", number=1, text="Take off the end plate."),
    facts.ConditionToAffirm(condition="Is the box clean?"),
    facts.QuestionToAnswer(question="Which shaft is it?", answers=("keyed shaft", "splined")),
    facts.ReadingToTake(name="bore"),
    facts.TorqueToRecord(fastener="long bolt", stage=1, stages=2, value=Decimal(7), unit="N·m"),
    facts.BagToRecord(number=3),
    facts.SecondCheckToMake(),
    facts.SecondCheckToMake(done_by=("Ann", "Bob")),
    facts.TimeToPass(purpose="cure", seconds=600),
    facts.TimeToPass(purpose="cure", seconds=600, due=AT, left=90),
    facts.GateToPass(step="lock", number=1, text="Lock the supply out."),
    facts.FailureToSettle(failed=FAILED[0], here=True),
    facts.FailureToSettle(failed=FAILED[1], here=False),
    facts.FailureToSettle(failed=FAILED[-1], here=False),
    facts.TorqueToRecord(
        fastener="long bolt", stage=1, stages=2, value=Decimal(7), unit="N·m", missing=(2, 3)
    ),
    *(
        facts.PartsLacking(parts=BUSHES, why=why, concession=why == "condemned")
        for why in get_args(facts.Lacking)
    ),
    facts.GroupToEnd(),
)

LEFT: tuple[facts.Left, ...] = (
    *FAILED,
    facts.StepsNotDone(stage="Build-up", numbers=(5, 6), begun=(5,)),
    *(facts.SkippedStep(step="gauge", number=12, reason=reason) for reason in REASONS),
    facts.BagNotOpened(number=5),
    facts.BagUneven(
        number=2,
        went_in=(facts.Parts(name="lid screw", count=6),),
        fitted=(facts.Parts(name="lid screw", count=5),),
    ),
    *(
        facts.Failed(
            result=facts.ResultRef(kind=kind, step="close", name="bush", turns=(5,)),
            number=5,
            parts=BUSHES,
            fitted=fitted,
        )
        for kind, fitted in (
            ("condemned part", False),
            ("condemned part", True),
            ("missing part", False),
        )
    ),
    facts.Failed(
        result=facts.ResultRef(kind="condemned part", step="close", name="bush", turns=(5,)),
        number=5,
        parts=BUSHES,
        to_come=BUSHES.count,
    ),
    facts.CustomerToAnswer(work=EXTRA_WORK, number=4),
    facts.CustomerToAnswer(work=facts.ExtraWork(parts=BUSHES)),
    facts.PartsLeftOver(place="in the kit", parts=BUSHES),
    facts.PartsLeftOver(place="received", parts=BUSHES),
    facts.PartsLeftOver(place="off", parts=BUSHES),
    facts.TimerRunning(name="drain", left=290),
    facts.TimerRunning(name="drain", left=0),
)

DOUBTS: tuple[facts.WrenchDoubt, ...] = (
    facts.OutOfCalibration(due=date(2031, 1, 15)),
    facts.CalibratedAhead(calibrated=date(2032, 1, 15)),
    facts.OutsideGoodRange(),
)

TORQUE = events.TorqueRecorded(
    **_OF,
    fastener="long bolt",
    stage=1,
    stages=2,
    value=Decimal(40),
    unit="N·m",
    asked=Decimal(14),
    asked_unit="N·m",
    within=False,
    first_heard=facts.SaidValue(value=Decimal(41)),
    wrench="small wrench",
    doubts=DOUBTS,
)
READING = events.ReadingRecorded(
    **_OF,
    name="bore",
    value=Decimal("25.10"),
    unit="mm",
    limits=MM,
    within=False,
    wear=63,
    first_heard=facts.SaidValue(value=Decimal("25.1"), unit="mm"),
)
MICROMETER = Instrument(name="micrometer", serial="M-17", calibrated_until=date(2031, 1, 15))
BAG = events.BagRecorded(
    **_OF, number=7, asked=1, within=False, contents=(BUSHES, OIL), first_heard=17
)
ORDER = events.PartOrdered(**_OF, part="bush", count=20, part_number="TB-1", first_heard=BUSHES)
MOVE = events.OrderMoved(
    **_OF,
    part="bush",
    count=2,
    state="fitted",
    first_heard=facts.Moved(count=3, state="fitted"),
)

_ASKED = facts.EventRef(turn=5, place=0)
CUSTOMER = (
    events.CustomerAsked(**_OF, of=facts.EventRef(turn=3, place=0), work=EXTRA_WORK),
    *(
        events.CustomerAnswered(
            **_OF,
            of=_ASKED,
            about=facts.EventRef(turn=3, place=0),
            work=facts.ExtraWork(parts=BUSHES),
            answer=answer,
            name=name,
            note=note,
        )
        for answer, name, note in (
            ("agrees", "Mrs Hale", "their order 77"),
            ("declines", "Mrs Hale", None),
            ("waiting", None, None),
        )
    ),
)

PICTURE = events.PictureTaken(
    **_OF,
    of=facts.EventRef(turn=3, place=0),
    sha256="ab" * 32,
    width=640,
    height=480,
)


def _asked(candidate: Any, doubt: Any, **more: Any) -> events.ValueQuestioned:
    return events.ValueQuestioned(**_OF, candidate=candidate, doubt=doubt, **more)


QUESTIONED = (
    _asked(TORQUE, facts.NotAsAsked(), said=facts.SaidValue(value=Decimal(40))),
    _asked(TORQUE, facts.WrongKind(unit="N·m"), may_affirm=False),
    _asked(READING, facts.WrongKind(unit="mm"), may_affirm=False),
    _asked(READING, facts.Implausible(expected=MM)),
    _asked(READING, facts.OutsideLimits()),
    _asked(READING, facts.BetterThanNew()),
    _asked(BAG, facts.WrongBag(in_use=True)),
    _asked(ORDER, facts.MoreThanHeld(held=1)),
    _asked(ORDER, facts.OrderedAlready(to_come=2)),
    _asked(MOVE, facts.NotReceived(received=0)),
    _asked(MOVE, facts.NotReceived(received=1)),
    _asked(READING, facts.TakenAlready(value=Decimal("25.01"), unit="mm"), may_affirm=False),
    _asked(MOVE.model_copy(update={"state": "received"}), facts.CountNotSaid()),
    _asked(READING.model_copy(update={"instrument": MICROMETER}), facts.OutsideLimits()),
    _asked(READING, facts.OutsideLimits(), replaces=facts.EventRef(turn=3, place=1)),
)

EVENTS: tuple[events.Event, ...] = (
    events.JobOpened(
        **_OF, procedure="box", title="Tail box", revision="C", sample=False, source="…"
    ),
    events.JobOpened(
        **_OF,
        procedure="box",
        title="Tail box",
        revision="C",
        sample=False,
        source="…",
        follows=facts.FollowedJob(uid="u", job=3, title="Tail box", opened=_OF["at"], unit="4471"),
    ),
    events.JobTakenUp(**_OF),
    events.StepEntered(**_OF),
    events.StepDone(**_OF, fitted=(facts.Fitted(name="bush", count=2, new=True, bag=None),)),
    *(events.StepSkipped(**_OF, reason=reason, outstanding=OUTSTANDING) for reason in REASONS),
    events.PieceRemoved(**_OF, name="bush", plural="bushes", count=2),
    events.PieceChanged(
        **_OF,
        name="bush",
        plural="bushes",
        count=3,
        thread="M8",
        length=facts.Amount(value=Decimal(55), unit="mm"),
        threads="dry",
    ),
    events.TorqueSet(**_OF, name="bolt", plural="bolts", value=Decimal(25), unit="N·m"),
    events.LockerApplied(**_OF, name="bolt", plural="bolts", strength="medium"),
    events.BuildUpBegun(**_OF),
    events.GroupBegun(**_OF),
    events.GroupEnded(**_OF, parts=(BUSHES, facts.Parts(name="end plate", count=1))),
    events.BuildOrderSaid(
        **_OF,
        goes="close",
        before="close",
        parts=BUSHES,
        before_parts=facts.Parts(name="end plate", count=1),
    ),
    events.HazardsHeard(**_OF, hazards=(HAZARD,)),
    events.ConditionAffirmed(**_OF, condition="Is the box clean?"),
    TORQUE,
    TORQUE.model_copy(update={"within": True, "unit": "°", "value": Decimal(90), "doubts": ()}),
    TORQUE.model_copy(update={"bolt": 4}),
    TORQUE.model_copy(update={"as_one": True}),
    events.BoltCalled(**_OF, fastener="long bolt", stage=1, bolt=4, place=2, of=6),
    READING,
    TORQUE.model_copy(update={"instrument": MICROMETER}),
    READING.model_copy(update={"instrument": MICROMETER}),
    READING.model_copy(update={"instrument": Instrument(name="dial gauge")}),
    events.ValueSent(
        **_OF,
        value=Decimal("25.01"),
        unit="mm",
        instrument=MICROMETER,
        readings=("bore", "shaft"),
        fasteners=("long bolt",),
    ),
    events.ValueSent(
        **_OF, value=Decimal("25.01"), instrument=MICROMETER, readings=("bore", "shaft")
    ),
    READING.model_copy(update={"within": True, "too_close": True, "wear": None}),
    events.ValueWorkedOut(
        **_OF, name="clearance", value=Decimal("0.06"), unit="mm", limits=MM, within=False
    ),
    *(
        events.LeakJudged(
            **_OF,
            outcome=outcome,
            measured=Decimal("0.01"),
            thermal=Decimal("0.009"),
            lost=Decimal(lost),
            allowed=Decimal("0.015"),
            unit="bar",
            rate=Decimal("0.007"),
            within=outcome == "pass",
        )
        for outcome, lost in (("pass", "0.001"), ("fail", "0.03"), ("doubtful", "-0.03"))
    ),
    *(
        events.FluidMeasured(
            **_OF,
            fluid="gear oil",
            value=Decimal("0.95"),
            capacity=Decimal("1.1"),
            missing=Decimal(missing),
            unit="l",
            drained=drained,
            within=False,
        )
        for missing, drained in (("0.15", True), ("-0.15", False))
    ),
    events.PartChosen(
        **_OF,
        part="thin shim",
        chosen_by="clearance",
        value=Decimal("0.03"),
        unit="mm",
        note="Grease it.",
        unsure="thick shim",
        failed=True,
    ),
    BAG,
    ORDER,
    ORDER.model_copy(update={"part": "gear oil", "countable": False, "amount": OIL.amount}),
    MOVE,
    MOVE.model_copy(update={"state": "received", "from_repair": True}),
    events.KitOpened(**_OF),
    events.KitItemChecked(**_OF, name="bush", asked=2, short=1),
    events.KitItemChecked(**_OF, name="gear oil", asked=1, short=1, countable=False),
    events.KitItemChecked(**_OF, name="bush", asked=2, short=0),
    events.KitChecked(**_OF, short=(BUSHES, OIL)),
    events.KitChecked(**_OF),
    events.FindingRecorded(**_OF, part="bush", condition="worn", place="upper"),
    events.FindingRecorded(**_OF, part="bush", count=2, plural="bushes", condition="worn"),
    events.NoteRecorded(**_OF, text="the gasket was glued in"),
    events.NoteRecorded(**_OF),
    *CUSTOMER,
    events.ReadyForCheck(**_OF),
    events.SecondChecked(**_OF, done_by=("Ann", "Bob")),
    PICTURE,
    PICTURE.model_copy(update={"at_desk": True}),
    events.QuestionAnswered(**_OF, question="shaft", answer="keyed shaft"),
    events.TimerStarted(**_OF, name="cure", seconds=600),
    events.TimerRang(**_OF, name="cure", started_turn=3),
    events.TimerCancelled(**_OF, name="cure", started_turn=3),
    *QUESTIONED,
    events.RetestBegun(
        **_OF, results=(FAILED[0].result,), steps=("measure", "close"), failed=FAILED[:1]
    ),
    events.ReworkBegun(**_OF, results=(FAILED[0].result,), steps=("close",)),
    events.ReworkBegun(**_OF, results=(), steps=("close",)),
    *(events.ConcessionAsked(**_OF, failed=failed) for failed in FAILED),
    *(events.Conceded(**_OF, failed=failed, reason="agreed with the owner") for failed in FAILED),
    events.Conceded(**_OF, failed=FAILED[0]),
    events.ReviewOpened(**_OF, of="measure", place=1),
    events.NoteOpened(**_OF, reason_for="concession", failed=FAILED[0]),
    events.SkipAsked(**_OF),
    *(
        events.RevisionOffered(**_OF, revision="5", source="procedure: small", changed=changed)
        for changed in (
            facts.RevisionChange(),
            facts.RevisionChange(changed=(4, 7), moved=(5,), new=(9,), gone=(3,), whole=True),
        )
    ),
    events.RevisionTaken(**_OF, revision="5", superseded="4"),
    events.CloseAsked(**_OF, left=LEFT),
    events.NoteOpened(**_OF),
    *(events.QuestionDropped(**_OF, asked=asked) for asked in get_args(events.Asked)),
    events.Withdrawn(**_OF, withdrew=3),
    events.Withdrawn(**_OF, withdrew=3, corrected=True),
    events.Withdrawn(**_OF, withdrew=3, place=1, corrected=True),
    events.Withdrawn(**_OF, withdrew=3, place=0, at_desk=True),
    events.SignedOn(**_OF, name="Ann"),
    events.StoodBy(**_OF),
    events.Resumed(**_OF),
    events.JobClosed(**_OF, left=LEFT),
    events.JobClosed(**_OF),
)


def kinds(union: Any) -> set[type]:
    """Return the models of a discriminated union."""
    return set(get_args(get_args(union)[0]))
