"""Measures, and prints: what becomes of commands, false accepts, answer time, processor, memory.

Run as `python -m tests.benchmark`; needs `pip install -e '.[dev]'`. No pass or fail. Every row goes
into a results file too, with the machine and the commit.
"""

import argparse
import multiprocessing
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from tests.benchmark import footprint, measure, results, speech, tables, talk
from tests.benchmark.listeners import SETS

PARTS = ("footprint", "commands", "talk", "calls", "answers")


def arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmark", description=__doc__)
    parser.add_argument(
        "--quick",
        action="store_true",
        help="a sample of everything, 3 minutes; a full run takes well over an hour on two cores",
    )
    parser.add_argument(
        "--parts", nargs="+", choices=PARTS, default=list(PARTS), help="what to measure"
    )
    parser.add_argument(
        "--listeners", nargs="+", choices=list(SETS), default=["before", "fast", "both"]
    )
    parser.add_argument("--noise", nargs="*", choices=list(speech.NOISES), help="default: all")
    parser.add_argument("--db", nargs="*", type=float, help="default: 20 15 10 5")
    parser.add_argument(
        "--voices",
        nargs="+",
        choices=[*speech.HELD_OUT, *speech.TUNED],
        help="default: all; those not used for tuning and those tuned on are reported apart",
    )
    parser.add_argument("--every", type=int, help="in noise, one command in so many (full: 24)")
    parser.add_argument("--minutes", type=float, help="of sound not for it (full: 60)")
    parser.add_argument(
        "--hours", type=int, help="of the same where a call word is needed (full: 1)"
    )
    parser.add_argument("--answers", type=int, help="commands on each stream (full: 60)")
    parser.add_argument(
        "--jobs", type=int, help="processes for what needs no clock (full: 2, quick: 1)"
    )
    parser.add_argument("--results", type=Path, default=results.FILE, metavar="FILE")
    parser.add_argument("--markdown", action="store_true", help="print the summary as Markdown")
    parser.add_argument("--again", action="store_true", help="print the last run of FILE again")
    parser.add_argument("--tell", action="store_true", help="print every phrase that went wrong")
    chosen = parser.parse_args()
    quick = chosen.quick
    defaults = {
        "noise": ["pink", "compressor", "babble"] if quick else list(speech.NOISES),
        "db": [10.0] if quick else [20.0, 15.0, 10.0, 5.0],
        "voices": [*speech.HELD_OUT, *speech.TUNED],
        "every": 72 if quick else 24,
        "minutes": 1.0 if quick else 60.0,
        "hours": 0 if quick else 1,
        "answers": 5 if quick else 60,
        "jobs": 1 if quick else 2,
    }
    for name, value in defaults.items():
        if getattr(chosen, name) is None:
            setattr(chosen, name, value)
    return chosen


def main() -> None:
    chosen = arguments()
    if chosen.again:
        show(results.last_run(chosen.results), chosen.markdown)
        return
    shown_only = ("results", "markdown", "tell", "again")
    settings = {name: value for name, value in vars(chosen).items() if name not in shown_only}
    kept = results.Results(chosen.results, settings)
    begun = time.monotonic()

    def at(what: str) -> None:
        print(f"[{time.monotonic() - begun:5.0f} s] {what}", file=sys.stderr, flush=True)

    if "footprint" in chosen.parts:
        at("start-up, time to listen, memory")
        for row in footprint.start_up():
            kept.add(row)
        for name in chosen.listeners:
            kept.add(footprint.of(name))
    for what, rows in _done(tuple(_tasks(chosen)), chosen.jobs):
        for row in rows:
            kept.add(row)
        at(what)
    if "answers" in chosen.parts:
        # Timed alone, and last: nothing else of ours runs beside it.
        streams: list[tuple[measure.Condition, int]] = [((None, None), chosen.answers)]
        if not chosen.quick:
            streams.append((("compressor", 10.0), chosen.answers // 2))
        for condition, number in streams:
            for name in chosen.listeners:
                cases = _for_answers(chosen.voices, number)
                kept.add(measure.answers(name, cases, condition))
                at(f"answers of {name} in real time, {_worded(condition)}")
    show(kept.rows, chosen.markdown)


Task = tuple[str, Callable[..., list[measure.Row]], tuple[Any, ...]]
"""What it is, and what to call with what."""


def _tasks(chosen: argparse.Namespace) -> Iterator[Task]:
    """All that needs no clock, dear listeners first."""
    if "talk" in chosen.parts:
        if not talk.PROSE.is_dir():
            print(f"No read prose: {talk.PROSE} is not there (Debian: pocketsphinx-testdata).")
        for name in reversed(chosen.listeners):
            what = f"{chosen.minutes:g} minutes that are not for {name}"
            yield what, measure.false_accepts, (name, chosen.minutes * 60, chosen.tell)
    if "calls" in chosen.parts and "both" in chosen.listeners:
        for hour in range(chosen.hours):
            # The first begins like the hour that is listened to openly.
            what = f"hour {hour + 1} that is not for both, called by a word"
            yield what, measure.false_calls, ("both", 3600.0, 4 + hour, chosen.tell)
    if "commands" in chosen.parts:
        conditions: list[measure.Condition] = [(None, None)]
        conditions += [(noise, level) for level in chosen.db for noise in chosen.noise]
        # Without noise there is one condition only: it can have more commands.
        more = 3 if chosen.quick else 6
        for number, condition in enumerate(conditions):
            every = chosen.every if condition[0] else max(1, chosen.every // more)
            for name in chosen.listeners:
                which = (name, chosen.voices, every, number, condition, chosen.tell)
                yield f"commands to {name}, {_worded(condition)}", measure.commands, which


def _done(tasks: Sequence[Task], jobs: int) -> Iterator[tuple[str, list[measure.Row]]]:
    """Carry tasks out, in this process or in several, and give their rows in the tasks' order."""
    if jobs == 1:
        for what, call, arguments in tasks:
            yield what, call(*arguments)
        return
    with ProcessPoolExecutor(jobs, mp_context=multiprocessing.get_context("spawn")) as pool:
        waiting = [(what, pool.submit(call, *arguments)) for what, call, arguments in tasks]
        for what, future in waiting:
            yield what, future.result()


def _for_answers(voices: Sequence[str], number: int) -> list[speech.Case]:
    """So many commands, of the voices not used for tuning where there are any.

    Those at one step follow one another, as at a bench, each in two voices; the first at a step
    finds its grammar not yet prepared.
    """
    voices = [voice for voice in voices if voice in speech.HELD_OUT] or voices
    spoken = sorted(
        speech.cases(voices),
        key=lambda case: (case.state.procedure.procedure, case.state.step_id or "", case.text),
    )
    rows = [spoken[i : i + len(voices)] for i in range(0, len(spoken), len(voices))]
    pairs = (number + 1) // 2
    chosen = []
    for pair in range(pairs):
        row = rows[pair * len(rows) // pairs]
        chosen += [row[(2 * pair + second) % len(row)] for second in (0, 1)]
    return chosen[:number]


def _worded(condition: measure.Condition) -> str:
    noise, decibels = condition
    return "no noise" if decibels is None else f"{noise} {decibels:g} dB under"


def show(rows: list[measure.Row], markdown: bool) -> None:
    """Print the tables; as Markdown without the longest, which is for reading here."""
    print(tables.heading(rows))
    shown = [*([] if markdown else tables.detail(rows)), *tables.summary(rows)]
    for table in shown:
        print(tables.printed(table, markdown))


if __name__ == "__main__":
    main()
