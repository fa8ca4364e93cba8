"""Tightening: the torques said, the bolt that comes next, and the wrench that it is done with."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from assistant.dialogue import bolts, events, facts, intents, outstanding_work, remaining, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.questioning import question, refuse_before_hazards
from assistant.dialogue.results import plain
from assistant.dialogue.state import State
from assistant.dialogue.telling import say_what_next
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import tell_changes
from assistant.procedure import arithmetic
from assistant.procedure.model import Quantity, Tighten
from assistant.trade import units
from assistant.trade import wrench as wrenches


def on_tightened(
    turn: Turn,
    intent: intents.Tightened,
    first: facts.SaidValue | None = None,
    stage: int | None = None,
) -> None:
    """Record a torque or an angle of the next pass, or question it.

    `stage` is given where it stands in the place of a record: it is of that pass, and of that bolt.
    """
    if stage is None:
        open_ones = _open_targets(turn, intent.fastener)
        if not open_ones:
            return
        target = _with_bolt(turn, open_ones, intent.bolt)
        if target is None:
            return
        bolt = None if intent.all else _bolt(turn.state, target, intent.bolt)
    else:
        of_pass = (t for t in turn.state.targets() if t.stage == stage)
        target = next((t for t in of_pass if t.tighten.fastener == intent.fastener), None)
        if target is None:
            turn.say(wording.refusals.no_torque(turn.state.number), Tone.REFUSED)
            return
        bolt = intent.bolt
    unit = intent.unit or target.unit
    if intent.slip is not None:
        first = facts.SaidValue(value=intent.slip, unit=intent.unit)
    kind_fits = units.same_dimension(unit, target.unit)
    within = kind_fits and _near(intent.value, unit, target)
    torque = units.same_dimension(target.unit, "N·m")
    event = events.TorqueRecorded(
        at=turn.now,
        turn=turn.number,
        step=turn.state.step_id,
        fastener=target.tighten.fastener,
        stage=target.stage,
        stages=target.stages,
        bolt=bolt,
        as_one=intent.all and (stage is not None or bool(bolts.missing(turn.state, target))),
        value=intent.value,
        unit=unit,
        asked=target.value,
        asked_unit=target.unit,
        within=within,
        first_heard=first,
        at_nut=torque and target.tighten.adapter is not None,
        taken=intent.taken,
        wrench=target.tighten.wrench if torque else None,
        doubts=_doubts(turn.state, target, turn.now.date()) if torque else (),
        instrument=intent.instrument,
    )
    if within:
        turn.add(event)
        alert = Tone.ALERT if event.doubts or event.overdue else Tone.RECORDED
        turn.say(wording.record.recorded(event), alert)
        tell_changes(turn)
        say_what_next(turn)
        return
    doubt = facts.NotAsAsked() if kind_fits else facts.WrongKind(unit=target.unit)
    said = facts.SaidValue(value=intent.value, unit=intent.unit)
    question(turn, event, doubt, said, may_affirm=kind_fits)


def _with_bolt(
    turn: Turn, open_ones: list[job_state.Target], bolt: int | None
) -> job_state.Target | None:
    """Return the pass that is meant; say why there is none that a bolt could be of."""
    if bolt is None:
        return open_ones[0]
    for target in open_ones:
        if bolt in bolts.order(turn.state, target):
            if bolt not in bolts.tightened(turn.state, target):
                return target
            turn.say(wording.refusals.bolt_recorded(bolt), Tone.REFUSED)
            return None
    number = len(bolts.order(turn.state, open_ones[0]))
    turn.say(wording.refusals.no_such_bolt(number), Tone.REFUSED)
    return None


def _bolt(state: State, target: job_state.Target, said: int | None) -> int | None:
    """Return which bolt a torque is of; None where a pass is said as one.

    Where bolts are called and none is named, it is the one that was called last, or else the next.
    """
    if said is not None:
        return said
    left = bolts.missing(state, target)
    if not left:
        return None
    called = [bolt for bolt in bolts.called(state, target) if bolt in left]
    return called[-1] if called else left[0]


def _open_targets(turn: Turn, fastener: str | None) -> list[job_state.Target]:
    """Return the passes that are still to be done; say why there is none to work on."""
    if refuse_before_hazards(turn):
        return []
    if not turn.state.targets():
        unwritten = turn.state.procedure.unwritten is not None
        why = wording.refusals.no_torque(turn.state.number)
        turn.say(wording.pieces.SET_FIRST if unwritten else why, Tone.REFUSED)
        return []
    found = [i.target for i in turn.outstanding() if isinstance(i, outstanding_work.TorqueToRecord)]
    found = [t for t in found if fastener is None or t.tighten.fastener == fastener]
    if not found:
        turn.say(wording.refusals.EVERY_TORQUE, Tone.REFUSED)
    return found


def _near(value: Decimal, unit: str, target: job_state.Target) -> bool:
    asked = float(target.value)
    converted = units.convert(float(value), unit, target.unit)
    # A hair's breadth for the rounding of a conversion, so that the tolerance itself is within.
    return abs(converted - asked) <= asked * float(target.tighten.tolerance) / 100 + 1e-9


def _doubts(state: State, target: job_state.Target, today: date) -> tuple[facts.WrenchDoubt, ...]:
    """Return what makes the named wrench doubtful for this torque."""
    name = target.tighten.wrench
    tool = state.procedure.wrench(name) if name else None
    if tool is None:
        return ()
    one = arithmetic.wrench(tool)
    found: list[facts.WrenchDoubt] = []
    if one.calibrated is not None:
        calibration = wrenches.calibration(one, today)
        if today < one.calibrated:
            found.append(facts.CalibratedAhead(calibrated=one.calibrated))
        elif not calibration.ok and calibration.due is not None:
            found.append(facts.OutOfCalibration(due=calibration.due))
    asked = Quantity(value=target.value, unit=target.unit)
    if not one.suits(arithmetic.at_drive(asked, target.tighten, one)):
        found.append(facts.OutsideGoodRange())
    return tuple(found)


def setting(state: State, tighten: Tighten, left: tuple[outstanding_work.Outstanding, ...]) -> str:
    """Word what to set which wrench to, for the next torque of a tightening, its number last.

    Raises AssistantError for an adapter that no setting can be trusted with.
    """
    of, unsuited = _choice(state, tighten, left)
    asked = _next_torque(tighten, left)
    if unsuited is not None:
        instead = _set(tighten, of) if of else None
        return wording.answers.unsuited(tighten.fastener, asked, unsuited, instead)
    if of is None:
        return wording.answers.no_wrench(tighten.fastener, asked)
    return _set(tighten, of, tighten.fastener)


def _next_torque(tighten: Tighten, left: tuple[outstanding_work.Outstanding, ...]) -> Quantity:
    """Return the torque of the next pass, or the final one where all are done."""
    return next(
        (
            Quantity(value=item.target.value, unit=item.target.unit)
            for item in left
            if isinstance(item, outstanding_work.TorqueToRecord)
            and item.target.tighten is tighten
            and units.same_dimension(item.target.unit, tighten.torque.unit)
        ),
        tighten.torque,
    )


def _choice(
    state: State, tighten: Tighten, left: tuple[outstanding_work.Outstanding, ...]
) -> tuple[wrenches.Setting | None, str | None]:
    """Return the wrench to use with its setting, and the one that was named but does not suit."""
    asked = _next_torque(tighten, left)
    tool = state.procedure.wrench(tighten.wrench) if tighten.wrench else None
    best = arithmetic.best_setting(asked, tighten, state.procedure.wrenches)
    if tool is None:
        return best, None
    one = arithmetic.wrench(tool)
    drive = arithmetic.at_drive(asked, tighten, one)
    return (wrenches.setting(drive, one), None) if one.suits(drive) else (best, one.name)


def _set(tighten: Tighten, of: wrenches.Setting, fastener: str | None = None) -> str:
    error = Decimal(f"{of.error_share * 100:.1f}")
    to = _amount(of)
    nut = None
    if tighten.adapter is not None:
        # What rounding does to the setting it does to the nut too, so this is what the nut gets.
        gets = arithmetic.at_fastener(of.set_to, tighten, of.wrench)
        nut = facts.Amount(value=Decimal(f"{units.express(gets, to.unit):.1f}"), unit=to.unit)
    return wording.answers.setting(of.wrench.name, to, error, nut, fastener)


def _amount(of: wrenches.Setting) -> facts.Amount:
    unit = units.unit_of(of.set_to)
    return facts.Amount(value=plain(float(of.set_to.magnitude)), unit=unit)


def band(state: State, tighten: Tighten, left: tuple[outstanding_work.Outstanding, ...]) -> str:
    """Word what the wrench for the next torque may really give (its class by ISO 6789-1).

    Raises AssistantError for an adapter that no setting can be trusted with.
    """
    of, _ = _choice(state, tighten, left)
    if of is None:
        return wording.answers.no_wrench(tighten.fastener)
    to = _amount(of)
    gives = wrenches.band(of.set_to, of.wrench)
    if gives is None:
        return wording.answers.no_band(tighten.fastener, of.wrench.name, to)
    # With an adapter the nut gets another torque than the wrench shows, and the nut counts.
    ends = (arithmetic.at_fastener(end, tighten, of.wrench) for end in (gives.least, gives.most))
    least, most = (Decimal(f"{units.express(end, to.unit):.1f}") for end in ends)
    at_nut = tighten.adapter is not None
    return wording.answers.band(tighten.fastener, of.wrench.name, to, least, most, at_nut)


def on_next_bolt(turn: Turn, intent: intents.NextBolt) -> None:
    """Call out the next bolt of the pass; after the last, say which are to be done yet.

    Where the step only loosens, its bolts are called in that order. Nothing is recorded of them.
    """
    if not turn.state.targets() and _call_to_loosen(turn):
        return
    open_ones = _open_targets(turn, None)
    if not open_ones:
        return
    target = open_ones[0]
    order = bolts.order(turn.state, target)
    called = bolts.called(turn.state, target)
    settled = {*called, *bolts.tightened(turn.state, target)}
    left = [bolt for bolt in order if bolt not in settled]
    of_pass = remaining.torque(target)
    if not left:
        turn.say(wording.steps.no_more_bolts(of_pass, bolts.missing(turn.state, target)))
        return
    if not settled:
        turn.say(wording.steps.first_bolt(of_pass))
    _call(turn, target.tighten.fastener, target.stage, left[0], len(called) + 1, len(order))
    if len(left) == 1:
        turn.say(wording.steps.last_bolt(of_pass))


def _call(turn: Turn, fastener: str, stage: int, bolt: int, place: int, of: int) -> None:
    """Call out a bolt: the one at a place, from 1, in the order of so many."""
    turn.record(events.BoltCalled, fastener=fastener, stage=stage, bolt=bolt, place=place, of=of)
    turn.say(wording.steps.bolt(bolt))


def _call_to_loosen(turn: Turn) -> bool:
    """Call out the next bolt to loosen; return whether the step has any to call."""
    answers = turn.state.answers
    loosens = [of for of in turn.state.step.loosen if of.applies(answers)]
    if not loosens or refuse_before_hazards(turn):
        return bool(loosens)
    for of in loosens:
        order = arithmetic.bolts(of, turn.state.count_of(of.fastener))
        called = [
            e.bolt
            for e in turn.state.of_step(events.BoltCalled)
            if e.fastener == of.fastener and e.bolt in order
        ]
        left = [bolt for bolt in order if bolt not in called]
        if not left:
            continue
        if not called:
            turn.say(wording.steps.loosen(of.fastener))
        _call(turn, of.fastener, 1, left[0], len(called) + 1, len(order))
        return True
    turn.say(wording.steps.ALL_LOOSENED)
    return True
