"""Rows as tables, for the terminal or as Markdown."""

from collections.abc import Callable, Iterator, Sequence
from typing import Any

from tests.benchmark.judging import Counts

Row = dict[str, Any]
Table = tuple[str, list[list[str]]]
"""A title, and lines of cells, the heading first."""

_COUNTS = ("understood", "questioned", "wrong", "missed", "wrong_recorded", "needless")
_HEADS = ["understood", "questioned", "wrongly taken", "missed", "wrong recorded", "needless asked"]


def heading(rows: Sequence[Row]) -> str:
    """What was measured, and on what."""
    run = next(row for row in rows if row["what"] == "run")
    machine = run["machine"]
    versions = ", ".join(f"{name} {version}" for name, version in run["versions"].items())
    return (
        f"{run['date']}, commit {run['commit'][:10]}{' and changes' if run['dirty'] else ''}\n"
        f"{machine['cores']} cores of {machine['processor']}, {machine['memory_gb']} GB, "
        f"{machine['system']}, load {machine['load']} at the start\n"
        f"Python {run['python']}, {versions}\n"
    )


def detail(rows: Sequence[Row]) -> Iterator[Table]:
    """What became of commands, for each set of listeners, voice, noise and level."""
    found = [row for row in rows if row["what"] == "commands"]
    if found:
        lines = [["listeners", "voice", "noise", "dB", "phrases", *_HEADS]]
        for row in found:
            place = [row["listeners"], row["voice"], row["noise"] or "none", _level(row["db"])]
            lines.append([*place, *_cells(row)])
        yield "Commands, by listeners, voice, noise and level", lines


def summary(rows: Sequence[Row]) -> Iterator[Table]:
    """The same over voices and noises, held-out voices and tuned ones apart; and all the rest."""
    found = [row for row in rows if row["what"] == "commands"]
    for held_out, whose in ((True, "voices not used for tuning"), (False, "voices tuned on")):
        those = [row for row in found if row["held_out"] is held_out]
        if those:
            heading = ["listeners", "level", "phrases", *_HEADS, "processor s, p50/p95"]
            yield f"Commands, {whose}, all noises together", [heading, *_by(those, _by_level)]
        noisy = [row for row in those if row["noise"]]
        if noisy:
            heading = ["listeners", "noise", "phrases", *_HEADS, "processor s, p50/p95"]
            yield f"Commands, {whose}, all levels together", [heading, *_by(noisy, _by_noise)]
        if those:
            heading = ["listeners", "voice", "phrases", *_HEADS, "processor s, p50/p95"]
            yield f"Commands, {whose}, all conditions together", [heading, *_by(those, _by_voice)]
    yield from _false_accepts([row for row in rows if row["what"] == "false accepts"])
    yield from _false_calls([row for row in rows if row["what"] == "false calls"])
    yield from _answers([row for row in rows if row["what"] == "answers"])
    weight = [row for row in rows if row["what"] == "footprint"]
    if weight:
        lines = [[r["listeners"], f"{r['ready_s']:.2f}", str(r["resident_mb"])] for r in weight]
        yield "Footprint", [["listeners", "ready to listen, s", "resident, MB"], *lines]
    begun = [row for row in rows if row["what"] == "start-up"]
    if begun:
        lines = [[r["command"], f"{r['best_s']:.3f}", f"{r['worst_s']:.3f}"] for r in begun]
        yield "Start-up of the command line", [["command", "best of 5, s", "worst, s"], *lines]


def printed(table: Table, markdown: bool = False) -> str:
    """The table as text: columns padded, or Markdown."""
    title, lines = table
    if markdown:
        bars = ["| " + " | ".join(line) + " |" for line in lines]
        rule = "|" + " --- |" * len(lines[0])
        return "\n".join([f"**{title}**", "", bars[0], rule, *bars[1:], ""])
    widths = [max(len(line[i]) for line in lines) for i in range(len(lines[0]))]
    padded = ("  ".join(c.ljust(w) for c, w in zip(line, widths, strict=True)) for line in lines)
    return "\n".join([title, *(f"  {line.rstrip()}" for line in padded), ""])


def _by_level(row: Row) -> tuple[float, str]:
    return -(row["db"] if row["db"] is not None else 999.0), _level(row["db"])


def _by_noise(row: Row) -> tuple[float, str]:
    return 0.0, row["noise"]


def _by_voice(row: Row) -> tuple[float, str]:
    return 0.0, row["voice"]


def _by(rows: Sequence[Row], key: Callable[[Row], tuple[float, str]]) -> Iterator[list[str]]:
    """A line for each set of listeners and key, in the listeners' order, with the counts added."""
    order = list(dict.fromkeys(row["listeners"] for row in rows))
    for name in order:
        own = [row for row in rows if row["listeners"] == name]
        for which in sorted({key(row) for row in own}):
            those = [row for row in own if key(row) == which]
            total: Row = dict(Counts())
            for row in those:
                total = {count: value + row[count] for count, value in total.items()}
            # Percentiles do not add up; the middle and the worst of the rows' are shown.
            p50 = sorted(row["cpu_p50_s"] for row in those)[len(those) // 2]
            p95 = max(row["cpu_p95_s"] for row in those)
            yield [name, which[1], *_cells(total), f"{p50:.2f} / {p95:.2f}"]


def _cells(row: Row) -> list[str]:
    phrases = row["phrases"]
    shares = [f"{row[count] / phrases:.1%} ({row[count]})" for count in _COUNTS]
    return [str(phrases), *shares]


def _level(decibels: float | None) -> str:
    return "clean" if decibels is None else f"{decibels:g} dB"


def _false_accepts(rows: Sequence[Row]) -> Iterator[Table]:
    if not rows:
        return
    lines = [
        [
            "listeners",
            "sound",
            "hours",
            "phrases",
            "taken",
            "of it recorded",
            "questioned",
            "taken an hour",
            "processor, share of a core",
        ]
    ]
    for name in dict.fromkeys(row["listeners"] for row in rows):
        own = [row for row in rows if row["listeners"] == name]
        counted = ("seconds", "phrases", "accepted", "recorded", "questioned", "cpu_s")
        total = {"kind": "all", **{count: sum(row[count] for row in own) for count in counted}}
        for row in [*own, total]:
            hours = row["seconds"] / 3600
            lines.append(
                [
                    name,
                    row["kind"],
                    f"{hours:.2f}",
                    str(row["phrases"]),
                    str(row["accepted"]),
                    str(row["recorded"]),
                    str(row["questioned"]),
                    f"{row['accepted'] / hours:.1f}",
                    f"{row['cpu_s'] / row['seconds']:.2f}",
                ]
            )
    yield "Sound that is not for it, through the endpointer, open listening", lines


def _false_calls(rows: Sequence[Row]) -> Iterator[Table]:
    if not rows:
        return
    counted = ("seconds", "calls", "accepted", "recorded", "questioned", "cpu_s")
    heads = ["called", "taken", "of it recorded", "questioned", "processor, share of a core"]
    lines = [["listeners", "sound", "hours", *heads]]
    kinds = list(dict.fromkeys(row["kind"] for row in rows))
    for kind in [*kinds, "all"]:
        own = [row for row in rows if kind in (row["kind"], "all")]
        total = {count: sum(row[count] for row in own) for count in counted}
        hours, share = total["seconds"] / 3600, total["cpu_s"] / total["seconds"]
        shown = [str(total[count]) for count in counted[1:-1]]
        lines.append([own[0]["listeners"], kind, f"{hours:.2f}", *shown, f"{share:.2f}"])
    yield "Sound that is not for it, where a call word is needed", lines


def _answers(rows: Sequence[Row]) -> Iterator[Table]:
    if not rows:
        return
    heading = ["listeners", "noise", "dB", "commands", *_HEADS]
    lines = [[*heading, "answer p50, s", "p95, s", "processor, share of a core"]]
    for row in rows:
        p50, p95 = (
            "none" if value is None else f"{value:.2f}" for value in (row["p50_s"], row["p95_s"])
        )
        place = [row["listeners"], row["noise"] or "none", _level(row["db"])]
        lines.append([*place, *_cells(row), p50, p95, f"{row['processor']:.2f}"])
    yield "Answer time on streams in real time, from the last sample of speech", lines
