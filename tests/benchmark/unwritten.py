"""Hearing in a job without a procedure against hearing at a written step, in the recorded voices.

Run as `python -m tests.benchmark.unwritten`. No pass or fail. Each command of such a job is heard
in each voice, and as many commands at written steps; and commands that can be said in both are
heard in both, each time from the same sound, so that only what is listened for differs. In noise
every noise of the benchmark has its turn.
"""

import argparse
import itertools
import json
import time
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import TypeVar

import psutil

from assistant.audio import pcm
from assistant.dialogue import intents
from tests.benchmark import measure, speech
from tests.benchmark.judging import Counts, Outcome, judge
from tests.benchmark.listeners import made
from tests.fixtures import AUDIO, meanings_at, state_of, utterances

GROUPS = (
    "unwritten, its own commands",
    "written, as many commands",
    "unwritten, commands of both",
    "written, commands of both",
)
_T = TypeVar("_T")
_UNWRITTEN = ("unwritten/taking-down", "unwritten/building-up")


def cases(group: str, voice: str, first: int) -> list[speech.Case]:
    """The commands of a group in a voice, as many as an unwritten job has of its own.

    `first` chooses which of the others they are, where there are more.
    """
    rows = [row for row in utterances() if row["voice"] == voice]
    own = [row for row in rows if row["step"] in _UNWRITTEN]
    others = [row for row in rows if row["step"] not in _UNWRITTEN]
    if group == GROUPS[0]:
        return [_case(row, row["step"]) for row in own]
    if group == GROUPS[1]:
        return [_case(row, row["step"]) for row in _some(others, len(own), first)]
    both = [(row, there) for row in others if (there := _also_said_in(row)) is not None]
    chosen = _some(both, len(own), first)
    if group == GROUPS[2]:
        return [_case(row, there) for row, there in chosen]
    return [_case(row, row["step"]) for row, _ in chosen]


def _some(rows: Sequence[_T], number: int, first: int) -> list[_T]:
    every = max(1, len(rows) // number)
    return list(rows[first % every :: every][:number])


def _also_said_in(row: dict[str, str]) -> str | None:
    """Where in an unwritten job a command of a written step means the same; None for nowhere."""
    if row["asked"]:
        return None
    for there in _UNWRITTEN:
        intent = meanings_at(state_of(there, "")).means(row["text"].split())
        if intent is not None and intents.as_dict(intent) == json.loads(row["intent"]):
            return there
    return None


def _case(row: dict[str, str], step: str) -> speech.Case:
    samples = pcm.read(AUDIO / row["file"]).samples
    state = state_of(step, row["asked"] if step == row["step"] else "")
    return speech.Case(row["text"], row["voice"], state, json.loads(row["intent"]), samples)


def heard(
    group: str, voice: str, first: int, decibels: float | None
) -> tuple[str, float | None, Counts, list[str]]:
    """What becomes of a group's commands in one voice at one level, and what went wrong."""
    listener, counts, told = made("both"), Counts(), []
    noises = itertools.islice(itertools.cycle(speech.NOISES), first, None)
    for case, noise in zip(cases(group, voice, first), noises, strict=False):
        hearing = measure.hear(listener, case.in_noise(noise, decibels), case.state)
        judged = judge(hearing, case.state, case.intent)
        counts.add(judged)
        if judged.outcome is not Outcome.UNDERSTOOD:
            under = "no noise" if decibels is None else f"{noise} {decibels:g} dB"
            told.append(
                f"{group}, {voice}, {under}: “{case.text}” {judged.outcome.value} as "
                f"“{' '.join(hearing.words)}” {hearing.confidence:.2f}"
            )
    return group, decibels, counts, told


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmark.unwritten")
    parser.add_argument(
        "--db", nargs="+", type=_level, default=[None, 20.0, 10.0], help="default: none 20 10"
    )
    parser.add_argument("--voices", nargs="+", choices=speech.TUNED, default=list(speech.TUNED))
    parser.add_argument(
        "--groups", nargs="+", type=int, default=list(range(len(GROUPS))), help="by place in GROUPS"
    )
    parser.add_argument(
        "--turn", type=int, default=0, help="begin with another noise, and other written phrases"
    )
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--tell", action="store_true", help="print every phrase that went wrong")
    chosen = parser.parse_args()
    begun = time.monotonic()
    totals: dict[tuple[str, float | None], Counts] = defaultdict(Counts)
    for group, decibels, counts, told in _all(chosen):
        totals[group, decibels] += counts
        for line in told if chosen.tell else ():
            print(line, flush=True)
    print(f"{time.monotonic() - begun:.0f} s, load {psutil.getloadavg()[1]:.1f}\n")
    print("| heard | noise | phrases | right | asked again | wrong | not taken |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    for (group, decibels), counts in totals.items():
        level = "none" if decibels is None else f"{decibels:g} dB"
        kinds = (counts.understood, counts.questioned, counts.wrong, counts.missed)
        shares = " | ".join(f"{100 * kind / counts.phrases:.1f} %" for kind in kinds)
        print(f"| {group} | {level} | {counts.phrases} | {shares} |")


def _level(said: str) -> float | None:
    return None if said == "none" else float(said)


def _all(chosen: argparse.Namespace) -> Iterator[tuple[str, float | None, Counts, list[str]]]:
    with ProcessPoolExecutor(chosen.jobs, mp_context=get_context("spawn")) as pool:
        waiting = [
            pool.submit(heard, GROUPS[group], voice, first, decibels)
            for decibels in chosen.db
            for group in chosen.groups
            for first, voice in enumerate(chosen.voices, chosen.turn)
        ]
        for each in waiting:
            yield each.result()


if __name__ == "__main__":
    main()
