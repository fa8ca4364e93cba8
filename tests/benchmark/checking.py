"""How long `assistant check` takes for a whole shop, and for one procedure of any size.

`python -m tests.benchmark.checking` checks a thousand procedures with all that `check` finds, and
prints the seconds. `--large` takes one procedure of 2,000 steps and 5,000 part names instead: how
long its check takes, and an answer at the bench beside that of a small one, in processor time.
"""

from __future__ import annotations

import argparse
import os
import statistics
import tempfile
import time
from pathlib import Path

from assistant.authoring import checks
from assistant.grammar import numbers
from assistant.procedure import reading
from assistant.procedure.problems import Severity

_ADJECTIVES = (
    *("upper", "lower", "front", "rear", "inner", "outer", "left", "right", "long", "short"),
    *("thick", "thin", "red", "green", "blue", "white", "yellow", "steel", "brass", "copper"),
    *("rubber", "driving", "idle", "main", "small"),
)
_PLACES = ("pump", "motor", "winch", "valve", "crane", "boom", "cabin", "frame", "tank", "engine")
_NOUNS = (
    *("bolt", "nut", "washer", "gasket", "seal", "bearing", "cover", "plate", "shaft", "gear"),
    *("spring", "pin", "bush", "housing", "flange", "hose", "filter", "piston", "bracket", "ring"),
)
PART_NAMES = [f"{a} {p} {n}" for a in _ADJECTIVES for p in _PLACES for n in _NOUNS]


def typical(number: int) -> str:
    """Return a procedure of 45 steps, no two alike."""
    parts = [PART_NAMES[(number * 37 + n * 61) % len(PART_NAMES)] for n in range(60)]
    return large(45, list(dict.fromkeys(parts))[:45], name=f"unit-{number}")


def large(steps: int, parts: list[str], name: str = "large-unit") -> str:
    """Return a procedure with so many steps and these names of parts."""
    rows = [f"procedure: {name}", "title: A unit", "revision: 1", "equipment: {kind: test unit}"]
    rows += ["parts:"]
    rows += [f"  - {{name: {part}, number: T-{n}}}" for n, part in enumerate(parts)]
    rows += ["stages:"]
    for number in range(steps):
        if number % 400 == 0:
            rows += [f"  - name: stage {number // 400}", "    steps:"]
        part = parts[number % len(parts)]
        rows += [f"      - id: step-{number}", f"        say: Look after the {part}."]
        match number % 5:
            case 0:
                rows += [f"        remove: [{{part: {part}, discard: true}}]"]
            case 1:
                rows += [
                    "        readings:",
                    f"          - {{name: {part} gap, unit: mm, limits: {{least: 0.1 mm, most: "
                    "0.5 mm}, plausible: {least: 0 mm, most: 2 mm}, resolution: 0.01 mm}",
                ]
            case 2:
                rows += [
                    '        fasteners: [{name: cover bolt, count: 4, thread: M8, grade: "8.8"}]',
                    "        tighten: [{fastener: cover bolt, torque: 24 N·m, order: star}]",
                ]
    return "\n".join(rows) + "\n"


def whole_shop(count: int) -> None:
    """Check so many procedures and print what it took."""
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for number in range(count):
            paths.append(Path(folder) / f"unit-{number}.yaml")
            paths[-1].write_text(typical(number), encoding="utf-8")
        begun = time.perf_counter()
        found = list(checks.check_all([str(path) for path in paths]))
        took = time.perf_counter() - begun
    bad = sum(not one.good for one in found)
    hints = sum(p.severity is not Severity.ERROR for one in found for p in one.problems)
    print(f"{count} procedures of {found[0].steps} steps: {took:.1f} s on {os.cpu_count()} cores,")
    print(f"{bad} with errors, {hints} warnings and notes")


def one_large() -> None:
    """Check a large procedure and ask it something; print what it took."""
    from assistant.dialogue import understanding
    from assistant.dialogue.decide import decide
    from assistant.dialogue.state import at_step
    from assistant.journal.clock import local_now

    for steps, parts in ((20, PART_NAMES[:50]), (2000, PART_NAMES[:5000])):
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "large.yaml"
            path.write_text(large(steps, parts), encoding="utf-8")
            begun = time.process_time()
            checked = checks.check(str(path))
            took = time.process_time() - begun
            procedure = reading.read(path)
        print(f"{steps} steps, {len(parts)} parts: check {took:.1f} s, good: {checked.good}")
        state = at_step(procedure, "step-2")
        for phrase in (
            "next step",
            "what torque",
            f"go to step {numbers.cardinal(steps - 100 if steps > 100 else steps)}",
            "say again",
        ):
            times = []
            for _ in range(6):
                begun = time.process_time()
                intent = understanding.understand(phrase.split(), state)
                if intent is not None:
                    decide(state, intent, local_now())
                times.append(time.process_time() - begun)
            first, again = times[0] * 1000, statistics.median(times[1:]) * 1000
            print(f"  {phrase!r}: first {first:.0f} ms, then {again:.1f} ms")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--count", type=int, default=1000, help="procedures of the shop")
    parser.add_argument("--large", action="store_true", help="one large procedure instead")
    chosen = parser.parse_args()
    if chosen.large:
        one_large()
    else:
        whole_shop(chosen.count)
