"""Measures how many small faults in the code the tests notice; needs `pip install -e '.[dev]'`.

Run as `python -m tests.benchmark.mutation --seed 1 --count 60 trade procedure grammar dialogue`. It
copies the tree, puts one fault at a time into a module of these folders (a comparison, an
arithmetic or boolean operator, or a constant off by one, by the operators of cosmic-ray), and runs
the tests of the folder, then those of the others, until one fails. It prints each fault that no
test noticed, and the share that was noticed. A fault after which the tests do not end counts as
noticed. The kinds take turns, so that tables of numbers do not crowd out the rest.
"""

from __future__ import annotations

import argparse
import difflib
import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from cosmic_ray import mutating, plugins
from cosmic_ray.ast import ast_nodes, get_ast

ROOT = Path(__file__).parents[2]
FOLDERS = ("trade", "grammar", "procedure", "dialogue")
_ARITHMETIC = {"Add", "Sub", "Mul", "Div", "FloorDiv", "Mod", "Pow"}
_COMPARED = {"Eq", "NotEq", "Lt", "LtE", "Gt", "GtE"}
_BOOLEAN = {"ReplaceAndWithOr", "ReplaceOrWithAnd", "ReplaceUnaryOperator_Delete_Not"}
_PATIENCE = 4
"""A run of the tests is given up after so many times what it takes without a fault."""


@dataclass(frozen=True)
class Fault:
    """One change to one place of a module."""

    module: str
    kind: str
    operator: str
    occurrence: int
    place: tuple[int, int]

    def apply(self, code: str) -> str:
        changed = mutating.mutate_code(code, plugins.get_operator(self.operator)(), self.occurrence)
        assert changed is not None
        return str(changed)


def kind_of(operator: str) -> str | None:
    """Return the kind of fault that an operator of cosmic-ray makes; None: not one of ours."""
    name = operator.removeprefix("core/")
    if name == "NumberReplacer":
        return "constant"
    if name in _BOOLEAN:
        return "boolean"
    if name == "ReplaceUnaryOperator_Delete_USub":
        return "arithmetic"
    what, _, rest = name.partition("_")
    ends = set(rest.split("_"))
    if what == "ReplaceBinaryOperator" and ends <= _ARITHMETIC:
        return "arithmetic"
    return "comparison" if what == "ReplaceComparisonOperator" and ends <= _COMPARED else None


def faults_in(module: Path) -> Iterator[Fault]:
    """Yield every fault that can be put into a module."""
    nodes = list(ast_nodes(get_ast(module.read_text(encoding="utf-8"))))
    for operator in plugins.operator_names():
        kind = kind_of(operator)
        if kind is None:
            continue
        made = plugins.get_operator(operator)()
        places = (begin for node in nodes for begin, _ in made.mutation_positions(node))
        for occurrence, place in enumerate(places):
            yield Fault(str(module.relative_to(ROOT)), kind, operator, occurrence, place)


def drawn(folders: list[str], count: int, seed: int) -> list[Fault]:
    """Return faults drawn at random: kinds in turn, then a place, then a change to it."""
    by_kind: dict[str, dict[tuple[str, int, int], list[Fault]]] = {}
    for folder in folders:
        for module in sorted((ROOT / "assistant" / folder).glob("*.py")):
            for fault in faults_in(module):
                places = by_kind.setdefault(fault.kind, {})
                places.setdefault((fault.module, *fault.place), []).append(fault)
    draw = random.Random(seed)
    order = {kind: draw.sample(sorted(by_kind[kind]), len(by_kind[kind])) for kind in by_kind}
    found: list[Fault] = []
    while len(found) < count and any(order.values()):
        for kind in sorted(order):
            if order[kind] and len(found) < count:
                found.append(draw.choice(by_kind[kind][order[kind].pop()]))
    return found


def tests_pass(tree: Path, folder: str, limit: float | None) -> bool:
    """Run the tests of a folder, then those of the others, in a copy of the tree."""
    first = [f"tests/{name}" for name in (folder, *(n for n in FOLDERS if n != folder))]
    options = ["-x", "-q", "-p", "no:cacheprovider", "--hypothesis-seed=0"]
    environment = {**os.environ, "PYTHONPATH": str(tree), "PYTHONDONTWRITEBYTECODE": "1"}
    command = [sys.executable, "-m", "pytest", *options, *first]
    try:
        done = subprocess.run(
            command, cwd=tree, env=environment, timeout=limit, capture_output=True, check=False
        )
    except subprocess.TimeoutExpired:
        return False
    return done.returncode == 0


def main() -> int:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmark.mutation", description=__doc__)
    parser.add_argument("folders", nargs="*", default=list(FOLDERS), help="of assistant/")
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    faults = drawn(chosen.folders, chosen.count, chosen.seed)
    with tempfile.TemporaryDirectory() as folder:
        tree = Path(folder) / "tree"
        left_out = shutil.ignore_patterns(".git", "__pycache__", ".*_cache", ".hypothesis")
        shutil.copytree(ROOT, tree, ignore=left_out)
        begun = time.monotonic()
        if not tests_pass(tree, FOLDERS[0], None):
            sys.exit("The tests fail without any fault: mend that first.")
        limit = _PATIENCE * (time.monotonic() - begun)
        unnoticed = 0
        for number, fault in enumerate(faults, 1):
            module = tree / fault.module
            code = module.read_text(encoding="utf-8")
            changed = fault.apply(code)
            module.write_text(changed, encoding="utf-8")
            noticed = not tests_pass(tree, Path(fault.module).parent.name, limit)
            module.write_text(code, encoding="utf-8")
            unnoticed += not noticed
            print(f"{number}/{len(faults)} {fault.module}:{fault.place[0]} {fault.kind}", end=" ")
            print("noticed" if noticed else "NOT NOTICED", flush=True)
            if not noticed:
                lines = difflib.unified_diff(
                    code.split("\n"), changed.split("\n"), n=0, lineterm=""
                )
                print("\n".join(list(lines)[3:]), flush=True)
    noted = len(faults) - unnoticed
    print(f"{noted} of {len(faults)} noticed, {noted / len(faults):.0%}.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
