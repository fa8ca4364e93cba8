"""Quick sums at the desk: `assistant sum …`, one sub-command to a sum of the trade.

What each sum does, and where its figures come from, is in `assistant/trade/`. Nothing of it is
imported until a sum is asked for, so that the command line starts at once.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from assistant.cli.options import day
from assistant.errors import AssistantError

if TYPE_CHECKING:
    from assistant.trade.units import Quantity

    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]

Answer = tuple[str, dict[str, Any]]
"""One plain sentence, and the same for a program: quantities as [number, unit]."""


_STATES = "dry, oil, grease, paste, thread-locker, plated (default: dry)"


def _q(text: str) -> Quantity:
    from assistant.trade import units

    return units.parse_quantity(text)


def _maybe(text: str | None) -> Quantity | None:
    return None if text is None else _q(text)


def _pair(value: Quantity | None) -> list[Any] | None:
    from assistant.trade import units

    if value is None:
        return None
    unit = units.unit_of(value)
    return [round(units.express(value, unit), 9), unit]


def _share(text: str) -> float:
    """Read a share: "5%", "5 %" or 0.05."""
    from assistant.trade import units

    return units.express(_q(text), "")


# --- the sums ---------------------------------------------------------------------------------


def _convert(args: argparse.Namespace) -> Answer:
    from assistant.trade import units

    value = _q(args.value)
    target = units.canonical(args.unit)
    source = units.unit_of(value)
    result = units.convert(float(value.magnitude), source, target)
    text = f"{units.show(value, digits=6)} is {units.number(result, 4)} {target}."
    return text, {"from": _pair(value), "to": [result, target]}


def _wrench(args: argparse.Namespace) -> Answer:
    from assistant.trade import wrench

    tool = wrench.Wrench(
        "this wrench",
        _q(args.least),
        _q(args.most),
        _q(args.step),
        args.kind,
        calibrated=day(args.calibrated) if args.calibrated else None,
    )
    result = wrench.setting(_q(args.torque), tool)
    text = result.sentence()
    answer = {
        "set": _pair(result.set_to),
        "error": _pair(result.error),
        "error_share": result.error_share,
        "suits": result.suits,
        "range": str(result.range),
    }
    if args.calibrated:
        state = wrench.calibration(tool, date.today())
        text += " " + state.sentence()
        answer["in_calibration"] = state.ok
    return text, answer


def _adapter(args: argparse.Namespace) -> Answer:
    from assistant.trade import units, wrench

    torque, length, adapter = _q(args.torque), _q(args.length), _q(args.adapter)
    if args.shown:
        gives = wrench.at_fastener(torque, length, adapter, _maybe(args.angle))
        text = f"The fastener gets {units.show(gives)} when the wrench shows {units.show(torque)}."
        return text, {"set": _pair(torque), "torque": _pair(gives)}
    setting = wrench.at_drive(torque, length, adapter, _maybe(args.angle))
    text = f"Set {units.show(setting)} for {units.show(torque)} at the fastener."
    return text, {"set": _pair(setting), "torque": _pair(torque)}


def _band(args: argparse.Namespace) -> Answer:
    from assistant.trade import units, wrench

    shown, most = _q(args.torque), _q(args.most)
    # Any scale will do that begins low enough: the band depends on the largest torque alone.
    step = most * 1e-6
    tool = wrench.Wrench("this wrench", step, most, step, args.kind)
    gives = wrench.band(shown, tool)
    if gives is None:
        text = (
            f"{units.show(shown)} is below what class {args.kind} covers, which is "
            f"{units.show(tool.good_from)} to {units.show(most)}: use a smaller wrench."
        )
        return text, {"covered": False, "least": None, "most": None, "share": None}
    low, high, where = gives.least, gives.most, ""
    if args.adapter is not None:
        if args.length is None:
            raise AssistantError("Give the wrench's length too: an adapter's sum needs it.")
        reach = _q(args.length), _q(args.adapter), _maybe(args.angle)
        low, high = (wrench.at_fastener(end, *reach) for end in (low, high))
        where = " at the fastener"
    text = (
        f"A class {args.kind} wrench set to {units.show(shown)} gives {units.show(low)} to "
        f"{units.show(high)}{where}, {gives.share * 100:g}% either way."
    )
    return text, {
        "covered": True,
        "least": _pair(low),
        "most": _pair(high),
        "share": gives.share,
    }


def _clamp(args: argparse.Namespace) -> Answer:
    from assistant.trade import fasteners

    thread = fasteners.thread(args.thread)
    result = fasteners.sanity(
        _q(args.torque), thread, fasteners.grade(args.grade, thread), args.state
    )
    return result.sentence(), {
        "verdict": str(result.verdict),
        "load": _pair(result.load),
        "share_of_proof": result.share,
        "recommended": _pair(result.recommended),
    }


def _torque(args: argparse.Namespace) -> Answer:
    from assistant.trade import fasteners, units

    thread = fasteners.thread(args.thread)
    strength = fasteners.grade(args.grade, thread)
    share = _share(args.share)
    result = fasteners.recommended_torque(thread, strength, args.state, share)
    text = (
        f"About {units.show(result, args.unit)} for {thread.name} {strength.name}, {args.state}, "
        f"at {share * 100:g}% of proof load: the maker's figure goes before this one."
    )
    return text, {"torque": _pair(result), "share_of_proof": share}


def _engage(args: argparse.Namespace) -> Answer:
    from assistant.trade import fasteners, units

    thread = fasteners.thread(args.thread)
    needed = fasteners.engagement_needed(thread, args.material)
    text = f"{thread.name} in {args.material} needs {units.show(needed)} of thread engaged."
    return text, {"needed": _pair(needed)}


def _bolt(args: argparse.Namespace) -> Answer:
    from assistant.trade import fasteners

    result = fasteners.bolt_length(
        fasteners.thread(args.thread),
        _q(args.length),
        _q(args.grip),
        _maybe(args.washer),
        _maybe(args.hole),
        args.material,
    )
    return result.sentence(), {
        "fit": str(result.fit),
        "engaged": _pair(result.engaged),
        "needed": _pair(result.needed),
        "room": _pair(result.room),
    }


def _order(args: argparse.Namespace) -> Answer:
    from assistant.trade import order, units

    if args.field:
        rows, _, columns = args.field.lower().partition("x")
        if not (rows.isdigit() and columns.isdigit()):
            raise AssistantError("Write a field of bolts as rows by columns, such as 2x5.")
        bolts = order.spiral(int(rows), int(columns))
        layout: order.Layout = "field"
    elif args.bolts is not None:
        bolts = order.star(args.bolts)
        layout = "circle"
    else:
        raise AssistantError("Say how many bolts, or give a field such as --field 2x5.")
    if args.loosen:
        bolts = order.loosen(bolts)
    answer: dict[str, Any] = {"order": list(bolts)}
    if args.torque is None:
        return f"{'Loosen' if args.loosen else 'Tighten'} {', '.join(map(str, bolts))}.", answer
    if args.loosen:
        raise AssistantError("Loosening has no torque: leave one of the two out.")
    shares = [units.express(_q(text), "") for text in args.passes.split(",")]
    angles = [_q(text) for text in args.angle]
    last = () if angles or args.no_final else order.final(bolts, layout)
    turns = order.plan(bolts, _q(args.torque), shares, last=last, angles=angles)
    answer["turns"] = [[turn.stage, turn.bolt, _pair(turn.target), turn.kind] for turn in turns]
    return " ".join(order.pass_sentences(turns)), answer


def _cure(args: argparse.Namespace) -> Answer:
    from pathlib import Path

    from assistant.trade import threadlocker

    table = None
    if args.table:
        try:
            table = threadlocker.read_table(Path(args.table).read_text(encoding="utf-8"))
        except OSError:
            raise AssistantError(
                f"The table {args.table} cannot be read: check its name."
            ) from None
    result = threadlocker.cure(
        args.strength,
        _q(args.temperature),
        _maybe(args.gap),
        primer=args.primer,
        metal=args.metal,
        table=table,
    )
    return f"{result.sentence()} {result.release}", {
        "handling": _pair(result.handling),
        "full": _pair(result.full),
        "table": result.table.name,
        "source": result.table.source,
        "release": result.release,
    }


def _limits(args: argparse.Namespace) -> Answer:
    from assistant.trade import measure

    doubt = None if args.resolution is None else measure.expanded_uncertainty(_q(args.resolution))
    result = measure.judge(_q(args.reading), _maybe(args.least), _maybe(args.most), doubt)
    return result.sentence(), {
        "verdict": str(result.verdict),
        "margin": _pair(result.margin),
        "uncertainty": _pair(result.uncertainty),
    }


def _wear(args: argparse.Namespace) -> Answer:
    from assistant.trade import measure

    doubt = None if args.resolution is None else measure.expanded_uncertainty(_q(args.resolution))
    result = measure.wear(_q(args.reading), _q(args.new), _q(args.limit), doubt)
    return result.sentence(), {
        "condition": str(result.condition),
        "worn": _pair(result.worn),
        "allowed": _pair(result.allowed),
        "share": result.share,
        "serviceable": result.serviceable,
    }


def _formula(args: argparse.Namespace) -> Answer:
    from assistant.trade import measure, units

    values: dict[str, Quantity] = {}
    for text in args.values:
        name, equals, value = text.partition("=")
        if not equals:
            raise AssistantError(f"Write a value as name=25.4 mm, not {text!r}.")
        values[name.strip()] = _q(value)
    result = measure.evaluate(args.formula, values)
    if args.unit is not None:
        result = units.quantity(units.express(result, args.unit), args.unit)
    return f"{args.formula} is {units.show(result, digits=6)}.", {"result": _pair(result)}


def _leak(args: argparse.Namespace) -> Answer:
    from assistant.trade import leak

    temperatures = [_q(text) for text in args.temperatures or ()]
    first, last = temperatures if temperatures else (None, None)
    result = leak.hold(
        _q(args.start),
        _q(args.end),
        _q(args.allowed),
        start_temperature=first,
        end_temperature=last,
        volume=_maybe(args.volume),
        time=_maybe(args.time),
        atmosphere=_maybe(args.air),
        resolution=_maybe(args.resolution),
        temperature_resolution=_maybe(args.degrees),
    )
    return result.sentence(), {
        "outcome": str(result.outcome),
        "lost": _pair(result.lost),
        "measured": _pair(result.measured),
        "thermal": _pair(result.thermal),
        "rate": _pair(result.rate),
        "uncertainty": _pair(result.uncertainty),
        "corrected": result.corrected,
    }


def _mix(args: argparse.Namespace) -> Answer:
    from assistant.trade import fluids

    work = fluids.mix_total if args.total else fluids.mix_into
    result = work(_q(args.amount), args.ratio)
    return result.sentence(), {
        "first": _pair(result.first),
        "second": _pair(result.second),
        "total": _pair(result.total),
    }


def _fill(args: argparse.Namespace) -> Answer:
    from assistant.trade import fluids, units

    result = fluids.to_level(_q(args.capacity), _share(args.level), _share(args.now))
    return f"Pour in {units.show(result)}.", {"amount": _pair(result)}


def _drain(args: argparse.Namespace) -> Answer:
    from assistant.trade import fluids

    result = fluids.drain(_q(args.out), _q(args.fill), _share(args.tolerance))
    return result.sentence(), {
        "share": result.share,
        "missing": _pair(result.missing),
        "ok": result.ok,
    }


# --- the command line -------------------------------------------------------------------------


def joined(arguments: Sequence[str]) -> list[str]:
    """Return the words with each number and the unit after it as one: 14 N·m needs no quotes."""
    from assistant.trade import units

    found: list[str] = []
    for word in arguments:
        if found and _is_number(found[-1]) and units.is_unit(word):
            found[-1] += f" {word}"
        else:
            found.append(word)
    return found


def _is_number(word: str) -> bool:
    try:
        float(word)
    except ValueError:
        return False
    return True


def add_parser(subparsers: Subparsers) -> None:
    """Add the `sum` command, and a sub-command to each sum, to the assistant's own."""
    parser = subparsers.add_parser(
        "sum",
        help="a quick sum of the trade: torque, units, bolts, cure, leaks, fluids",
        description="A quick sum of the trade. Quantities are a number and a unit, in quotes.",
        epilog="example: assistant sum convert '39 lbf·ft' N·m",
    )
    sums = parser.add_subparsers(dest="sum", metavar="SUM", required=True)

    def add(
        name: str, work: Callable[[argparse.Namespace], Answer], about: str, example: str
    ) -> argparse.ArgumentParser:
        sub = sums.add_parser(
            name,
            help=about,
            description=about[0].upper() + about[1:] + ".",
            epilog=f"example: assistant sum {name} {example}",
        )
        sub.add_argument("--json", action="store_true", help="answer for a program")
        sub.set_defaults(sum_of=work, run=run)
        return sub

    sub = add("convert", _convert, "turn a quantity into another unit", "'39 lbf·ft' N·m")
    sub.add_argument("value", help="such as '39 lbf·ft'")
    sub.add_argument("unit", help="the unit wanted")

    sub = add(
        "wrench",
        _wrench,
        "round a torque to what a wrench can be set to",
        "'39 lbf·ft' --least '20 N·m' --most '100 N·m' --step '1 N·m'",
    )
    sub.add_argument("torque")
    sub.add_argument("--least", required=True, help="bottom of the scale")
    sub.add_argument("--most", required=True, help="top of the scale")
    sub.add_argument("--step", required=True, help="graduation")
    sub.add_argument("--kind", default="II A", help="class to ISO 6789-1 (default: II A)")
    sub.add_argument("--calibrated", help="date of calibration, such as 2026-03-31")

    sub = add(
        "adapter",
        _adapter,
        "what to set with an adapter on the wrench's end",
        "'80 N·m' '400 mm' '50 mm' --angle '0 deg'",
    )
    sub.add_argument("torque", help="wanted at the fastener")
    sub.add_argument("length", help="of the wrench, drive to hand")
    sub.add_argument("adapter", help="its length, drive to fastener")
    sub.add_argument("--angle", help="between adapter and wrench: 0 in line, 90 deg square to it")
    sub.add_argument(
        "--shown", action="store_true", help="the torque is what the wrench shows; tell the rest"
    )

    sub = add(
        "band",
        _band,
        "what a wrench of a class really gives",
        "'40 N·m' --most '100 N·m' --kind 'II A'",
    )
    sub.add_argument("torque")
    sub.add_argument("--most", required=True, help="largest torque of the wrench")
    sub.add_argument("--kind", default="II A", help="class to ISO 6789-1 (default: II A)")
    sub.add_argument("--adapter", help="its length, to be told what the fastener gets")
    sub.add_argument("--length", help="of the wrench, drive to hand; with --adapter")
    sub.add_argument("--angle", help="between adapter and wrench; with --adapter")

    sub = add("clamp", _clamp, "clamp load of a torque, against proof load", "'25 N·m' M8 8.8")
    sub.add_argument("torque")
    sub.add_argument("thread", help="such as M8, M10x1.25 or 1/4-20")
    sub.add_argument("grade", help="such as 8.8, A2-70 or 5")
    sub.add_argument("--state", default="dry", help=_STATES)

    sub = add("torque", _torque, "a torque for a joint that has none of its own", "M8 8.8")
    sub.add_argument("thread")
    sub.add_argument("grade")
    sub.add_argument("--state", default="dry", help=_STATES)
    sub.add_argument("--share", default="75%", help="of proof load (default: 75%%)")
    sub.add_argument("--unit", default="N·m", help="to answer in")

    sub = add("engage", _engage, "thread to be engaged for full strength", "M8 aluminium")
    sub.add_argument("thread")
    sub.add_argument("material", help="steel, 'cast iron' or aluminium")

    sub = add(
        "bolt",
        _bolt,
        "check a bolt's length against what it goes through and into",
        "M8 '40 mm' '20 mm' --washer '1.6 mm' --hole '22 mm' --in aluminium",
    )
    sub.add_argument("thread")
    sub.add_argument("length", help="under the head")
    sub.add_argument("grip", help="thickness clamped")
    sub.add_argument("--washer", help="thickness")
    sub.add_argument("--hole", help="depth of thread in a blind hole")
    sub.add_argument("--in", dest="material", default="steel", help="what the thread is in")

    sub = add(
        "order", _order, "tightening order and passes", "8 --torque '24 N·m' --angle '90 deg'"
    )
    sub.add_argument("bolts", nargs="?", type=int, help="bolts on a circle, for the star order")
    sub.add_argument("--field", help="rows by columns, such as 2x5, for the spiral order")
    sub.add_argument("--torque", help="final torque, for the passes too")
    sub.add_argument("--passes", default="30%,70%,100%", help="default: 30%%,70%%,100%%")
    sub.add_argument("--angle", action="append", default=[], help="angle after torque; repeatable")
    sub.add_argument(
        "--no-final", action="store_true", help="leave out the last pass at the full torque"
    )
    sub.add_argument("--loosen", action="store_true", help="the reverse")

    sub = add("cure", _cure, "cure time of a thread-locker", "medium '15 degC' --gap '0.1 mm'")
    sub.add_argument("strength", help="low, medium or high")
    sub.add_argument("temperature")
    sub.add_argument("--gap", help="between the threads (default: 0.05 mm)")
    sub.add_argument("--primer", action="store_true", help="primer was put on")
    sub.add_argument("--metal", default="steel", help="steel, stainless, aluminium, plated …")
    sub.add_argument("--table", help="YAML file with a product's own data sheet")

    sub = add(
        "limits",
        _limits,
        "judge a reading against its limits",
        "'24.97 mm' --least '24.95 mm' --most '25.00 mm' --resolution '0.01 mm'",
    )
    sub.add_argument("reading")
    sub.add_argument("--least")
    sub.add_argument("--most")
    sub.add_argument("--resolution", help="graduation of the instrument")

    sub = add("wear", _wear, "wear against new and service limit", "'24.93 mm' '25 mm' '24.9 mm'")
    sub.add_argument("reading")
    sub.add_argument("new", help="size when new")
    sub.add_argument("limit", help="service limit")
    sub.add_argument("--resolution", help="graduation of the instrument")

    sub = add(
        "formula", _formula, "work out a formula", "'bore - piston' 'bore=80.05 mm' 'piston=80 mm'"
    )
    sub.add_argument("formula")
    sub.add_argument("values", nargs="*", help="name=value")
    sub.add_argument("--unit", help="to answer in")

    sub = add(
        "leak",
        _leak,
        "judge a pressure or vacuum hold",
        "'2 bar' '1.97 bar' '20 mbar' --temperatures '22 degC' '19 degC' --volume '4 l' "
        "--time '10 min'",
    )
    sub.add_argument("start", help="gauge pressure at first")
    sub.add_argument("end", help="gauge pressure at last")
    sub.add_argument("allowed", help="the most that may be lost")
    sub.add_argument("--temperatures", nargs=2, metavar=("FIRST", "LAST"))
    sub.add_argument("--volume", help="for a leak rate")
    sub.add_argument("--time", help="between the readings")
    sub.add_argument("--air", help="absolute pressure of the air")
    sub.add_argument("--resolution", help="graduation of the gauge")
    sub.add_argument("--degrees", help="graduation of the thermometer, such as '0.1 degC'")

    sub = add("mix", _mix, "mix two fluids by a ratio", "'5 l' 50:1")
    sub.add_argument("amount", help="of the first fluid")
    sub.add_argument("ratio", help="first to second, such as 50:1")
    sub.add_argument("--total", action="store_true", help="the amount is of both together")

    sub = add("fill", _fill, "quantity from capacity and level", "'1.1 l' 80% --now 25%")
    sub.add_argument("capacity")
    sub.add_argument("level", help="wanted, such as 80%%")
    sub.add_argument("--now", default="0", help="level it stands at")

    sub = add("drain", _drain, "what came out against the fill", "'0.9 l' '1.1 l'")
    sub.add_argument("out")
    sub.add_argument("fill")
    sub.add_argument("--tolerance", default="10%", help="may stay behind (default: 10%%)")


def answer(args: argparse.Namespace) -> Answer:
    """Work out the sum asked for: one plain sentence, and the same for a program.

    Raises:
        AssistantError: what was asked cannot be worked out; the text says why.
    """
    work: Callable[[argparse.Namespace], Answer] = args.sum_of
    return work(args)


def run(args: argparse.Namespace) -> int:
    """Print the answer and return 0; errors are left to the command line (`AssistantError`)."""
    text, data = answer(args)
    print(json.dumps({"say": text, **data}, ensure_ascii=False) if args.json else text)
    return 0
