"""Tightening: the torques said, the bolt that comes next, and the wrench that it is done with."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from assistant.dialogue import events, intents, wording
from assistant.dialogue import state as job_state
from assistant.dialogue.questioning import question, refuse_before_hazards
from assistant.dialogue.state import State
from assistant.dialogue.telling import say_what_next
from assistant.dialogue.turn import Tone, Turn
from assistant.dialogue.working_out import plain
from assistant.procedure import arithmetic
from assistant.procedure.model import Quantity, Tighten
from assistant.trade import units
from assistant.trade import wrench as wrenches


def on_tightened(turn: Turn, intent: intents.Tightened, first: str | None = None) -> None:
    """Record a torque or an angle of the next pass, or question it."""
    open_ones = _open_targets(turn, intent.fastener)
    if not open_ones:
        return
    target = open_ones[0]
    unit = intent.unit or target.unit
    if intent.slip is not None:
        first = wording.quantity(intent.slip, intent.unit)
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
        value=intent.value,
        unit=unit,
        asked=target.value,
        asked_unit=target.unit,
        within=within,
        first_heard=first,
        wrench=target.tighten.wrench if torque else None,
        warning=_doubt(turn.state, target, turn.now.date()) if torque else None,
    )
    if within:
        turn.add(event)
        alert = Tone.ALERT if event.warning else Tone.RECORDED
        turn.say(wording.sentence(f"{wording.event(event)}. Recorded"), alert)
        say_what_next(turn)
        return
    question(
        turn,
        event,
        wording.quantity(intent.value, intent.unit),
        f"The step says {wording.quantity(target.value, target.unit)}.",
        kind_fits,
    )


def _open_targets(turn: Turn, fastener: str | None) -> list[job_state.Target]:
    """Return the passes that are still to be done; say why there is none to work on."""
    if refuse_before_hazards(turn):
        return []
    if not turn.state.targets():
        turn.say(
            f"Step {wording.count(turn.state.number)} asks for no torque. Nothing recorded.",
            Tone.REFUSED,
        )
        return []
    found = [i.target for i in turn.outstanding() if isinstance(i, job_state.TorqueToRecord)]
    found = [t for t in found if fastener is None or t.tighten.fastener == fastener]
    if not found:
        turn.say(
            "Every torque asked for here is recorded. To change the last, say correction.",
            Tone.REFUSED,
        )
    return found


def _near(value: Decimal, unit: str, target: job_state.Target) -> bool:
    asked = float(target.value)
    converted = units.convert(float(value), unit, target.unit)
    # A hair's breadth for the rounding of a conversion, so that the tolerance itself is within.
    return abs(converted - asked) <= asked * float(target.tighten.tolerance) / 100 + 1e-9


def _doubt(state: State, target: job_state.Target, today: date) -> str | None:
    """Word what makes the named wrench doubtful for this torque; None where nothing does."""
    name = target.tighten.wrench
    tool = state.procedure.wrench(name) if name else None
    if tool is None:
        return None
    one = arithmetic.wrench(tool)
    said = []
    if one.calibrated is not None:
        calibration = wrenches.calibration(one, today)
        if not calibration.ok and calibration.due is not None:
            early = today < one.calibrated
            due = "dated in the future" if early else f"since {wording.date(calibration.due)}"
            said.append(f"the {one.name} is out of calibration, {due}")
    asked = Quantity(value=target.value, unit=target.unit)
    if not one.suits(arithmetic.at_drive(asked, target.tighten, one)):
        said.append(f"this is outside the good range of the {one.name}")
    return wording.listing(said) or None


def setting(state: State, tighten: Tighten, left: tuple[job_state.Outstanding, ...]) -> str:
    """Word what to set which wrench to, for the next torque of a tightening, its number last.

    Raises AssistantError for an adapter that no setting can be trusted with.
    """
    of, unsuited = _choice(state, tighten, left)
    asked = wording.amount(_next_torque(tighten, left))
    if unsuited is not None:
        other = f"use the {_set(tighten, of, False)}" if of else "and no other suits"
        return f"{tighten.fastener}, {asked} is outside the good range of the {unsuited}, {other}"
    if of is None:
        return f"{tighten.fastener}, no wrench of the list suits {asked}"
    return _set(tighten, of)


def _next_torque(tighten: Tighten, left: tuple[job_state.Outstanding, ...]) -> Quantity:
    """Return the torque of the next pass, or the final one where all are done."""
    return next(
        (
            Quantity(value=item.target.value, unit=item.target.unit)
            for item in left
            if isinstance(item, job_state.TorqueToRecord)
            and item.target.tighten is tighten
            and units.same_dimension(item.target.unit, tighten.torque.unit)
        ),
        tighten.torque,
    )


def _choice(
    state: State, tighten: Tighten, left: tuple[job_state.Outstanding, ...]
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


def _set(tighten: Tighten, of: wrenches.Setting, fastener_too: bool = True) -> str:
    off = of.error_share * 100
    error = ""
    if abs(off) >= 0.05:
        share = wording.digits(Decimal(f"{abs(off):.1f}"))
        error = f"{share} percent {'high' if off > 0 else 'low'}, "
    adapter = "with the adapter, " if tighten.adapter else ""
    named = f"{tighten.fastener}, " if fastener_too else ""
    number = wording.quantity(plain(float(of.set_to.magnitude)), units.unit_of(of.set_to))
    return f"{named}{of.wrench.name}, {adapter}{error}set {number}"


def band(state: State, tighten: Tighten, left: tuple[job_state.Outstanding, ...]) -> str:
    """Word what the wrench for the next torque may really give (its class by ISO 6789-1).

    Raises AssistantError for an adapter that no setting can be trusted with.
    """
    of, _ = _choice(state, tighten, left)
    if of is None:
        return f"{tighten.fastener}, no wrench of the list suits"
    unit = units.unit_of(of.set_to)
    gives = wrenches.band(of.set_to, of.wrench)
    set_to = wording.quantity(plain(float(of.set_to.magnitude)), unit)
    if gives is None:
        return f"{tighten.fastener}, {of.wrench.name}; its class does not cover {set_to}"
    # With an adapter the nut gets another torque than the wrench shows, and the nut counts.
    ends = (arithmetic.at_fastener(end, tighten, of.wrench) for end in (gives.least, gives.most))
    low, high = (Decimal(f"{units.express(end, unit):.1f}") for end in ends)
    between = f"{wording.digits(low)} to {wording.quantity(high, unit)}"
    where = " at the nut" if tighten.adapter else ""
    return f"{tighten.fastener}, {of.wrench.name}; set to {set_to} it gives {between}{where}"


def on_next_bolt(turn: Turn, intent: intents.NextBolt) -> None:
    """Call out the next bolt of the pass; after the last, say what to say when it is done."""
    open_ones = _open_targets(turn, None)
    if not open_ones:
        return
    target = open_ones[0]
    numbers = _numbers(turn.state, target)
    called = sum(
        e.fastener == target.tighten.fastener and e.stage == target.stage
        for e in turn.state.of_step(events.BoltCalled)
    )
    verb = "turned" if target.unit == "°" else "tightened"
    done = f"Then say {verb} {wording.quantity(target.value, target.unit)}."
    if called >= len(numbers):
        turn.say(f"That was every bolt of {wording.pass_of(target)}. {done}")
        return
    if called == 0:
        turn.say(wording.sentence(wording.target(target)))
    event = turn.record(
        events.BoltCalled,
        fastener=target.tighten.fastener,
        stage=target.stage,
        bolt=numbers[called],
        place=called + 1,
        of=len(numbers),
    )
    turn.say(wording.sentence(wording.event(event)))
    if event.place == event.of:
        turn.say(f"The last of {wording.pass_of(target)}. {done}")


def _numbers(state: State, target: job_state.Target) -> tuple[int, ...]:
    """Return the bolts of a pass in the order of tightening."""
    turns = arithmetic.turns(target.tighten, state.count_of(target.tighten.fastener))
    return tuple(turn.bolt for turn in turns if turn.stage == target.stage)
