"""What a technician may say at a bench, as hypothesis strategies: sense, slips and nonsense.

`SAYINGS` has a strategy for every kind of intent, with arguments that fit the state: the names at
the present step, the right numbers, and wrong ones. `due` is what a good technician says next.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from decimal import Decimal
from typing import get_args

from hypothesis import strategies as some
from hypothesis.strategies import SearchStrategy

from assistant.audio.manner import Change
from assistant.dialogue import events, facts, intents, outstanding_work
from assistant.dialogue.instrument import Instrument
from assistant.dialogue.nonconformities import Nonconformity
from assistant.dialogue.state import Mode, State
from assistant.dialogue.withdrawal import place_of
from assistant.procedure.model import Reading

Saying = SearchStrategy[intents.Intent]

_NUMBERS = tuple(map(Decimal, ("-5", "0", "0.35", "1", "2", "7", "10", "14", "40", "90", "3000")))
_UNITS = (None, "N·m", "lbf·ft", "mm", "in", "bar", "°", "°C", "l")
_KEPT = (events.TorqueRecorded, events.ReadingRecorded, events.BagRecorded, events.PartOrdered)
_NAMES = ("drain", "hold", "timer")


def anything(state: State) -> Saying:
    """Draw any kind of intent, each as likely as the next."""
    return some.sampled_from(intents.ALL).flatmap(lambda kind: SAYINGS[kind](state))


def correction(state: State) -> Saying:
    """Draw a correction of each kind."""
    kinds = (
        intents.Value,
        intents.Tightened,
        intents.Reading,
        intents.Bag,
        intents.Order,
        intents.Supply,
        intents.Finding,
        intents.Chosen,
        intents.PutBefore,
        intents.ThreadLocker,
    )
    said = some.sampled_from(kinds).flatmap(lambda kind: SAYINGS[kind](state))
    return some.builds(intents.Correction, said)


def opening(state: State) -> Saying:
    """Draw what makes the assistant ask or wait for something: each mode's way in."""
    questioned: list[intents.Intent] = [
        intents.Order(part.name, 3 * part.count + 5) for part in state.procedure.parts[:1]
    ]
    for target in state.targets()[:1]:
        questioned.append(intents.Tightened(3 * target.value, target.unit))
        questioned.append(intents.Tightened(target.value, "mm"))
    for reading in state.step.readings[:1]:
        questioned.append(intents.Reading(_good(reading) * 100 + 1))
        questioned.append(intents.Reading(_good(reading), "N·m"))
        # Once more, by its name.
        questioned.append(intents.Reading(_good(reading), name=reading.name))
    if state.step.bag is not None:
        questioned.append(intents.Bag(state.step.bag + 1))
    others = (
        intents.Skip(),
        intents.Note(),
        intents.CloseJob(),
        intents.KitCheck(),
        intents.StandBy(),
        intents.Concession(),
        intents.Review(state.number),
    )
    return some.sampled_from(questioned) | some.sampled_from(others)


def failing(state: State) -> SearchStrategy[intents.Intent | None]:
    """Draw a result of the step that does not meet its requirement; None where it takes none."""
    found: list[intents.Intent] = [
        intents.Tightened(target.value * Decimal("1.3"), target.unit)
        for target in state.targets()[:1]
    ]
    for reading in state.readings():
        limit = reading.limits.most or reading.limits.least
        beyond = Decimal("1.01") if reading.limits.most else Decimal("0.99")
        far = limit.value * beyond if limit and limit.unit == reading.unit else _good(reading) / 2
        found.append(intents.Reading(far, name=reading.name))
    return some.sampled_from(found) if found else some.none()


def near(state: State, asked: events.ReviewOpened) -> Saying:
    """Draw a number near what is gone through, or far from it."""
    found = state.of_step(_KEPT, asked.of)
    one = found[asked.place] if asked.place < len(found) else None
    value = getattr(one, "value", Decimal(2))
    return some.builds(
        intents.Value, some.sampled_from([value, value * Decimal("1.01"), value * 3])
    )


def settling(state: State) -> Saying:
    """Draw what ends what fails, or asks about it."""
    kinds = (intents.WhatFailed, intents.Retest, intents.Rework, intents.Concession)
    return some.sampled_from(kinds).flatmap(lambda kind: SAYINGS[kind](state))


def answer(state: State) -> Saying:
    """Draw an answer, of the kinds that some question waits for."""
    kinds = (
        intents.Affirm,
        intents.Negative,
        intents.Disregard,
        intents.Correction,
        intents.Value,
        intents.Tightened,
        intents.Reading,
        intents.Bag,
        intents.Order,
        intents.Reason,
        intents.Note,
        intents.Missing,
        intents.Previous,
        intents.Resume,
        intents.Again,
        intents.SignOn,
    )
    return some.sampled_from(kinds).flatmap(lambda kind: SAYINGS[kind](state))


def due(state: State, now: datetime) -> intents.Intent:
    """Return what a technician who makes no mistake says next."""
    match state.mode:
        case Mode.STANDING_BY:
            return intents.Resume()
        case Mode.QUESTIONING | Mode.CLOSING | Mode.REVIEWING | Mode.REVISING | Mode.PLACING:
            return intents.Negative()
        case Mode.SKIPPING:
            return intents.Reason("not fitted")
        case Mode.NOTING | Mode.CONCEDING:
            return intents.Note("the paint is old")
        case Mode.CHECKING:
            return intents.Affirm()
        case Mode.CLOSED:
            return intents.WhatIsLeft()
    outstanding = outstanding_work.outstanding(state, now)
    if not outstanding:
        return _further(state, now)
    match outstanding[0]:
        case outstanding_work.HazardsToHear() | outstanding_work.ConditionToAffirm():
            return intents.Affirm()
        case outstanding_work.StepBefore(number=number):
            return intents.GoTo(number)
        case outstanding_work.GateToPass(number=number):
            return intents.GoTo(number)
        case outstanding_work.FailureToSettle(failure=failure):
            return _settled(state, failure, now)
        case outstanding_work.GroupToEnd():
            return intents.EndGroup()
        case outstanding_work.QuestionToAnswer():
            # Each answer in some jobs.
            answers = _answers(state)
            return intents.Chosen(answers[now.minute % len(answers)])
        case outstanding_work.ReadingToTake(reading=reading):
            return intents.Reading(_good(reading))
        case outstanding_work.TorqueToRecord(target=target):
            return intents.Tightened(target.value, target.unit)
        case outstanding_work.BagToRecord(number=number):
            return intents.Bag(number)
        case outstanding_work.PartsLacking(lack=lack):
            # What was ordered comes; what is away comes back.
            if lack.why in ("asked", "ordered", "away for repair"):
                return intents.Supply(lack.key.name, "received")
            return intents.Order(lack.key.name, lack.count)
        case outstanding_work.TimeToPass():
            return intents.StartTimer()
        case outstanding_work.SecondCheckToMake():
            return _checked(state)
        case other:
            raise AssertionError(f"nobody knows what to say to {other}")


def _further(state: State, now: datetime) -> intents.Intent:
    """Return what leads on from a step with nothing outstanding."""
    if state.mode is not Mode.TAKING_DOWN:
        return intents.Next()
    if len(state.pieces) > 3:
        return intents.StartBuildUp()
    bolts = now.minute % 2 or not state.pieces
    if state.piece is not None and state.piece.bag is None and bolts:
        return intents.Bag(1 + len(state.pieces) // 2)
    if bolts:
        return intents.Removed("long bolt", "long bolts", 6)
    return intents.Removed("gasket", "gaskets")


def _checked(state: State) -> intents.Intent:
    """Return what leads to the second check of a step, of which nothing else is outstanding."""
    did = [event.by for event in outstanding_work.done_here(state, state.step)]
    if not did:
        return intents.Next()
    if state.technician is None:
        return intents.SignOn("Ann")
    if None in did:
        return intents.Rework(state.number)
    other = next((name for name in ("Ann", "Bob") if name not in did), None)
    if other is None:
        return intents.Rework(state.number)  # Both have worked on it.
    return intents.SecondCheck() if state.technician == other else intents.SignOn(other)


def _settled(state: State, failure: Nonconformity, now: datetime) -> intents.Intent:
    """Return what ends a failure: in some jobs a new result, in others a concession."""
    if failure.ref.kind in ("fitted part", "choice"):
        return intents.Rework(failure.number)
    if now.minute % 2 or failure.may_concede == "none":
        return intents.Retest()
    return intents.Concession() if state.technician == "Ann" else intents.SignOn("Ann")


def _good(reading: Reading) -> Decimal:
    """Return a value inside the reading's limits and likely for it, in its unit."""
    least = reading.limits.least or reading.plausible.least
    most = reading.limits.most or reading.plausible.most
    of_unit = [end.value for end in (least, most) if end is not None and end.unit == reading.unit]
    return sum(of_unit, Decimal(0)) / len(of_unit) if of_unit else Decimal("24.98")


_REMOVED: Saying = some.sampled_from(
    [
        intents.Removed("long bolt", "long bolts", 6),
        intents.Removed("short bolt", "short bolts", 2),
        intents.Removed("end cover", "end covers"),
        intents.Removed("gasket", "gaskets"),
        intents.Removed("oil seal", "oil seals", 2),
        intents.Removed("gasket", "gaskets", 0),
        intents.Removed(),
    ]
)
"""What comes off in a job without a procedure; of some the kit has new ones."""


def _off(state: State) -> SearchStrategy[str]:
    return some.sampled_from([*(piece.name for piece in state.pieces), "gizmo"])


def _answers(state: State) -> list[str]:
    question = state.step.question
    return [a.say for a in question.answers] if question else ["keyed shaft"]


def _bad_or_good(right: list[Decimal]) -> SearchStrategy[Decimal]:
    wrong = [value * 3 for value in right]
    return some.sampled_from([*right, *right, *wrong, *_NUMBERS])


def _units() -> SearchStrategy[str | None]:
    return some.none() | some.sampled_from(_UNITS)


def _tightened(state: State) -> Saying:
    names = [None, *(t.fastener for t in state.step.tighten)]
    right = _bad_or_good([target.value for target in state.targets()])
    slip = some.none() | some.sampled_from(_NUMBERS)
    named = some.builds(intents.Tightened, right, _units(), some.sampled_from(names), slip)
    one = some.builds(intents.Tightened, right, bolt=some.integers(1, 7))
    return named | one | some.builds(intents.Tightened, right, all=some.just(True))


def _reading(state: State) -> Saying:
    names = [None, *(r.name for r in state.step.readings)]
    right = _bad_or_good([_good(r) for r in state.step.readings])
    slip = some.none() | some.sampled_from(_NUMBERS)
    return some.builds(intents.Reading, right, _units(), some.sampled_from(names), slip)


MICROMETER = Instrument(name="micrometer", serial="M-17", calibrated_until=date(2031, 1, 15))
_INSTRUMENTS = (MICROMETER, Instrument(name="torque wrench"))


def _sent(state: State) -> Saying:
    right = [target.value for target in state.targets()]
    right += [_good(reading) for reading in state.step.readings]
    by = some.sampled_from(_INSTRUMENTS)
    return some.builds(intents.Sent, _bad_or_good(right), _units(), by)


def _which(state: State) -> Saying:
    names = [reading.name for reading in state.step.readings]
    names += [tighten.fastener for tighten in state.step.tighten]
    return some.builds(intents.Which, some.sampled_from([*names, "gizmo"]))


def _number(state: State) -> Saying:
    unwritten = state.procedure.unwritten
    parts = (*state.procedure.parts, *(unwritten.kit if unwritten else ()))
    numbers = [part.number for part in parts if part.number]
    return some.builds(intents.ScannedNumber, some.sampled_from([*numbers, "X-0"]))


def _value(state: State) -> Saying:
    right = [target.value for target in state.targets()]
    right += [_good(reading) for reading in state.step.readings]
    return some.builds(intents.Value, _bad_or_good(right), _units())


def _bag(state: State) -> Saying:
    right = [bag for bag in (state.step.bag, state.step.from_bag) if bag]
    return some.builds(intents.Bag, some.sampled_from([*right, *right, 1, 2, 9]))


def _parts(state: State) -> SearchStrategy[str]:
    # Few, so that the same part is ordered, received and corrected.
    return some.sampled_from([*(part.name for part in state.procedure.parts[:3]), "gizmo"])


def _order(state: State) -> Saying:
    return some.builds(intents.Order, _parts(state), some.sampled_from([1, 2, 3, 40]))


def _supply(state: State) -> Saying:
    states = some.sampled_from(get_args(events.OrderState))
    return some.builds(
        intents.Supply, _parts(state), states, some.none() | some.sampled_from([1, 2, 9])
    )


def _finding(state: State) -> Saying:
    return some.builds(
        intents.Finding,
        _parts(state),
        some.sampled_from(["worn", "missing"]),
        some.none() | some.sampled_from(["drum side"]),
        some.none() | some.sampled_from(get_args(events.Disposition)),
        some.none() | some.sampled_from(get_args(facts.Taken)),
        some.none() | some.integers(1, 3),
    )


def _timer_name(state: State) -> SearchStrategy[str | None]:
    purposes = [step.wait.purpose for step in state.procedure.steps if step.wait]
    return some.none() | some.sampled_from([*purposes, *_NAMES])


def _go_to(state: State) -> Saying:
    return some.builds(intents.GoTo, some.integers(0, len(state.procedure.steps) + 1))


def _step_number(state: State) -> SearchStrategy[int]:
    """Draw a step's number, mostly one at which something was recorded."""
    at = {e.step for e in state.history if isinstance(e, _KEPT) and e.step}
    begun = sorted(state.procedure.index(step) + 1 for step in at)
    any_one = some.integers(0, len(state.procedure.steps) + 1)
    return some.sampled_from(begun) | any_one if begun else any_one


def _always(intent: intents.Intent) -> Callable[[State], Saying]:
    return lambda state: some.just(intent)


SAYINGS: dict[type[intents.Intent], Callable[[State], Saying]] = {
    intents.Next: _always(intents.Next()),
    intents.Previous: _always(intents.Previous()),
    intents.Skip: _always(intents.Skip()),
    intents.Reason: _always(intents.Reason("waiting for part")),
    intents.GoTo: _go_to,
    intents.SayAgain: _always(intents.SayAgain()),
    intents.ReadBack: _always(intents.ReadBack()),
    intents.WhereAreWe: _always(intents.WhereAreWe()),
    intents.WhatIsLeft: _always(intents.WhatIsLeft()),
    intents.HandOver: _always(intents.HandOver()),
    intents.AskLastTime: _always(intents.AskLastTime()),
    intents.WhoIsHere: _always(intents.WhoIsHere()),
    intents.Help: lambda state: some.builds(intents.Help, some.booleans()),
    intents.Ask: lambda state: some.builds(
        intents.Ask,
        some.sampled_from(list(intents.Topic)),
        some.none() | some.sampled_from(["lbf·ft", "lbf·in", "kgf·m"]),
        some.sampled_from([None, None, "long bolt", "plate bolt"]),
    ),
    intents.OfSet: lambda state: some.builds(
        intents.OfSet,
        some.sampled_from(["mean", "greatest", "least"]),
        some.sampled_from([None, "bore", *(r.name for r in state.step.readings)]),
    ),
    intents.WhereIs: lambda state: some.builds(
        intents.WhereIs, _parts(state) | some.sampled_from(["plate bolt", "long bolt"])
    ),
    intents.InBag: lambda state: some.builds(intents.InBag, some.integers(0, 9)),
    intents.OnOrder: _always(intents.OnOrder()),
    intents.PlainWord: lambda state: some.builds(
        intents.PlainWord, some.sampled_from(intents.PLAIN_WORDS)
    ),
    intents.Tightened: _tightened,
    intents.NextBolt: _always(intents.NextBolt()),
    intents.Reading: _reading,
    intents.Again: _always(intents.Again()),
    intents.Sent: _sent,
    intents.Which: _which,
    intents.ScannedTag: lambda state: some.builds(
        intents.ScannedTag, some.sampled_from([1, 2, 9]), some.booleans()
    ),
    intents.ScannedNumber: _number,
    intents.WhatFailed: _always(intents.WhatFailed()),
    intents.Retest: _always(intents.Retest()),
    intents.Rework: lambda state: some.builds(intents.Rework, some.none() | _step_number(state)),
    intents.Concession: _always(intents.Concession()),
    intents.Review: lambda state: some.builds(intents.Review, _step_number(state)),
    intents.Bag: _bag,
    intents.Order: _order,
    intents.Supply: _supply,
    intents.KitCheck: _always(intents.KitCheck()),
    intents.SecondCheck: _always(intents.SecondCheck()),
    intents.AskCustomer: _always(intents.AskCustomer()),
    intents.Photo: _always(intents.Photo()),
    intents.PictureReady: lambda state: some.builds(
        intents.PictureReady,
        some.sampled_from(
            [
                facts.EventRef(turn=event.turn, place=place_of(event, state.log))
                for event in state.history[-8:]
            ]
            or [facts.EventRef(turn=1, place=0)]
        ),
        some.just("ab" * 32),
        some.just(640),
        some.just(480),
    ),
    intents.PictureFailed: lambda state: some.builds(
        intents.PictureFailed, some.sampled_from(get_args(intents.NoPictureWhy)), some.booleans()
    ),
    intents.Missing: lambda state: some.builds(intents.Missing, some.integers(1, 3)),
    intents.Affirm: _always(intents.Affirm()),
    intents.Negative: _always(intents.Negative()),
    intents.Chosen: lambda state: some.builds(
        intents.Chosen, some.sampled_from([*_answers(state), "perhaps"])
    ),
    intents.Finding: _finding,
    intents.Note: lambda state: some.sampled_from(
        [intents.Note(), intents.Note("the paint is old"), intents.Note(clipped=True)]
    ),
    intents.Value: _value,
    intents.Correction: correction,
    intents.Disregard: _always(intents.Disregard()),
    intents.StartTimer: lambda state: some.builds(
        intents.StartTimer, some.none() | some.sampled_from([5, 600, 90_000]), _timer_name(state)
    ),
    intents.CancelTimer: lambda state: some.builds(
        intents.CancelTimer, _timer_name(state), some.none() | some.integers(1, 3)
    ),
    intents.TimeLeft: lambda state: some.builds(
        intents.TimeLeft, _timer_name(state), some.none() | some.integers(1, 3)
    ),
    intents.Tick: lambda state: some.builds(intents.Tick, some.booleans()),
    intents.Removed: lambda state: _REMOVED,
    intents.Recount: lambda state: some.builds(intents.Recount, some.sampled_from([0, 1, 5])),
    intents.SomeOf: lambda state: some.builds(
        intents.SomeOf, some.sampled_from([0, 1, 4, 6]), some.sampled_from([2, 6])
    ),
    intents.Rename: lambda state: some.builds(
        intents.Rename, some.just("upper cover"), some.just("upper covers")
    ),
    intents.Size: lambda state: some.builds(
        intents.Size,
        some.sampled_from([Decimal(8), Decimal("1.6")]),
        some.sampled_from([None, Decimal(55), Decimal(0)]),
    ),
    intents.ThreadsFound: lambda state: some.builds(
        intents.ThreadsFound, some.sampled_from(get_args(facts.Threads))
    ),
    intents.LastOff: _always(intents.LastOff()),
    intents.StillOff: _always(intents.StillOff()),
    intents.HowManyOff: lambda state: some.builds(intents.HowManyOff, _off(state)),
    intents.StartBuildUp: _always(intents.StartBuildUp()),
    intents.SetTorque: lambda state: some.builds(
        intents.SetTorque,
        some.sampled_from([Decimal(25), Decimal(0), Decimal(90000)]),
        some.sampled_from([None, "N·m", "lbf·ft", "mm"]),
        some.none() | _off(state),
    ),
    intents.ThreadLocker: lambda state: some.builds(
        intents.ThreadLocker, some.sampled_from(get_args(facts.LockerStrength))
    ),
    intents.PlayNote: _always(intents.PlayNote()),
    intents.StartGroup: _always(intents.StartGroup()),
    intents.EndGroup: _always(intents.EndGroup()),
    intents.PutBefore: lambda state: some.builds(intents.PutBefore, _off(state), _off(state)),
    intents.NotYet: _always(intents.NotYet()),
    intents.Installed: lambda state: some.builds(intents.Installed, _off(state)),
    intents.StandBy: _always(intents.StandBy()),
    intents.Resume: _always(intents.Resume()),
    intents.Speak: lambda state: some.builds(intents.Speak, some.sampled_from(list(Change))),
    intents.SignOn: lambda state: some.builds(intents.SignOn, some.sampled_from(["Ann", "Bo"])),
    intents.LeaveJob: _always(intents.LeaveJob()),
    intents.CloseJob: _always(intents.CloseJob()),
}
"""For each kind of intent, how it may be said in a state."""
