"""The sentences of a draft: its comments, and what is told where jobs differ. For the eye.

Each is one line of text; whoever writes the file breaks it. Texts that somebody said or typed are
shown without control characters.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import assert_never

from assistant.authoring import comparing
from assistant.authoring.worked import Job, Note, Worked
from assistant.dialogue import events, facts
from assistant.dialogue.pieces import Piece
from assistant.grammar import nouns
from assistant.procedure.model import Part, Procedure, Quantity
from assistant.text import plain

DRAFT = "DRAFT. Nobody has approved this procedure; do not work from it until somebody has."
CHECK = (
    "Check every line against the maker's data, and settle what these comments tell. Then delete "
    "them and give it a revision."
)
LEFT_OUT = (
    "Left out, because they are about that machine and not the next one: findings, orders and "
    "readings."
)
GATE = "The usual question of a job without a procedure. Write what makes this machine safe."
SET = (
    "Set at the bench by whoever read it out of a manual. Say what goes on the threads: lubricated "
    "and locker."
)

EQUIPMENT = "The machine: its kind, and where you want, its maker and model."
SKELETON = (
    "That line gives completion and help in editors that know YAML.",
    "Lines that begin with # are for you; delete them as you go. What each key means: assistant "
    "guide procedure-keys. How it is done: assistant guide writing-procedures.",
    "See what is wrong with it: assistant check FILE. Hear it: assistant preview FILE. Try it, "
    "with nothing kept: assistant run FILE --typed --practice.",
)
REVISION = (
    "While this is draft, the bench says at the start of each job that nobody has approved it."
)
EXAMPLE_OF_LISTS = (
    "Every part that can be named at the bench, what is dangerous, and the shop's wrenches:",
    "parts: [{name: cover, number: OP-1}, {name: gasket, count: 2}]",
    "hazards: [{signal: warning, say: The line may hold pressure. Let it off first.}]",
    "wrenches: [{name: small wrench, least: 5 N·m, most: 50 N·m, graduation: 0.5 N·m}]",
)
EXAMPLE_OF_STEP = (
    "Under its say, a step brings only what it needs. What comes off, and into which bag:",
    "remove: [{part: cover}]",
    "fasteners: [{name: cover screw, count: 4, thread: M6}]",
    "bag: 1",
    "What is looked at and measured:",
    "readings: [{name: depth, unit: mm, limits: {least: 19.90 mm, most: 20.00 mm}}]",
    "What goes on again, and how tight:",
    "from_bag: 1",
    "fit: [{part: gasket, new: true}, {part: cover}]",
    "tighten: [{fastener: cover screw, torque: 9 N·m, order: star}]",
)
WORK = "work"
"""The stage of steps for which none was told."""
ASK_TITLE = "What is the job called, such as Oil pump overhaul?"
ASK_MACHINE = "What kind of machine is it for, such as gear oil pump?"
ASK_STEPS = (
    "The steps, a line each, as you would say them across the bench. A line that ends with a "
    "colon, such as build-up: begins a stage. An empty line ends them; none at all gives examples."
)


def not_one_line(what: str, most: int) -> str:
    """Say what a title, a machine or a step can be."""
    return f"A {what} is one line of 1 to {most} characters."


def seconds(of: float) -> str:
    """Write how long something takes to hear: "12 s", "3 min 20 s"."""
    minutes, left = divmod(round(of), 60)
    return f"{minutes} min {left} s" if minutes else f"{left} s"


def text_of(of: Procedure) -> str:
    """Write which text this is: its revision, who wrote and who approved it, its day."""
    told = [f"{of.procedure}, revision {of.revision}"]
    told += [f"of {of.date}"] if of.date else []
    told += [f"in place of revision {of.supersedes}"] if of.supersedes else []
    told += [f"by {of.author}"] if of.author else []
    told.append(f"approved by {of.approver}" if of.approved else "not approved")
    return ", ".join(told)


def about_preview(answers: Mapping[str, str], left_out: Sequence[int], taken: float) -> str:
    """Write how questions were answered, which steps are not heard then, how long it all takes."""
    told = [f"All of it takes about {seconds(taken)} to hear."]
    if answers:
        given = _joined(f"{name}: {answer}" for name, answer in answers.items())
        told.append(f"Questions answered: {given}.")
    if left_out:
        kind = "step" if len(left_out) == 1 else "steps"
        told.append(f"Not heard with these answers: {kind} {_joined(map(str, left_out))}.")
    return " ".join(told)


def _counted(count: int, name: str, plural: str | None = None) -> str:
    return f"{count} {nouns.counted(count, name, plural)}"


def piece(of: Piece) -> str:
    """Write what came off and how many: "6 long bolts"; of one only its name."""
    return of.called if of.count == 1 else _counted(of.count, of.name, of.plural)


def amount(of: Quantity | facts.Amount | events.TorqueRecorded) -> str:
    """Write a number with its unit: "25 N·m"."""
    return f"{of.value:f} {of.unit}"


def _joined(parts: Iterable[str]) -> str:
    *first, last = parts
    return f"{', '.join(first)} and {last}" if first else last


def too_long(job: Job, most: int) -> str:
    """Say that a job is too long for one procedure."""
    return (
        f"{len(job.down)} things came off in job {job.number}, and a stage of a procedure has at "
        f"most {most} steps. Write it by hand, in several stages."
    )


# The head of the file


def written_from(job: Job) -> str:
    """Write which job a draft is of."""
    what = ", ".join(plain(text) for text in (job.title, job.unit) if text)
    return f"Written from the record of job {job.number} ({what}), begun {job.opened:%Y-%m-%d}."


def compared_with(jobs: Sequence[Job]) -> str:
    """Write which jobs a draft was compared with."""
    told = _joined(
        f"job {job.number}" + (f" ({plain(job.unit)})" if job.unit else "") for job in jobs
    )
    return f"Compared with {told}. Where they differ, a comment says so."


def unfinished(job: Job) -> str | None:
    """Write what is not known because the job did not get so far; None where nothing is."""
    if not job.building:
        known = "its build-up had not begun, so the build-up here is the strip-down in reverse"
    elif not all(w.is_on for w in job.up):
        known = "not all of it went on again; what did not comes last, the last off first"
    else:
        return None
    state = "was closed" if job.closed else "is still open"
    return f"Job {job.number} {state}, and {known}."


# What is told of one thing


def unnamed(job: int) -> str:
    """Write that nobody had a name for something."""
    return f"Nobody had a name for it in job {job}. Give it one, here and in its steps."


def in_kit(part: Part, used: bool) -> str:
    """Write how many of a part the kit had new, and if none of them is needed."""
    told = f"{part.count} new in the kit"
    return told if used else f"{told}, and nothing of that name came off"


def bag_changed(bag: int, others: Sequence[Piece]) -> str:
    """Write that something shared its bag, and has its own here."""
    return (
        f"It was in bag {bag} with {_joined(map(piece, others))}. A written procedure has a bag "
        "for each step, so it has another one here."
    )


def threads(job: int, of: facts.Threads) -> str:
    """Write what was found on the threads."""
    found = "threads found dry" if of == "dry" else "thread-locker found on the threads"
    return f"job {job}: {found}. What was found is no instruction."


def no_size() -> str:
    """Write that nobody said the size of fasteners."""
    return "Nobody said the thread, so the torque is not checked against it. Add it as 'thread'."


def note(job: int, of: Note) -> list[str]:
    """Write a note, and the transcripts of a spoken one."""
    by = f" by {plain(of.by)}" if of.by else ""
    head = f"job {job}, note{by}, {of.at:%Y-%m-%d %H:%M}"
    if of.text is not None:
        return [f"{head}: {plain(of.text)}"]
    if not of.transcripts:
        return [f"{head}, spoken: no transcript. Hear it in the job's report."]
    return [
        f"{head}, spoken. Transcript, not verified: “{plain(made.text)}” ({plain(made.recogniser)})"
        for made in of.transcripts
    ]


def tightened(job: int, of: Sequence[events.TorqueRecorded]) -> str:
    """Write what fasteners were tightened to, and which were outside what was asked."""
    values: dict[str, list[str]] = {}
    for event in of:
        value = amount(event) + ("" if event.within else ", outside its tolerance")
        which = "the rest as one" if event.as_one else "" if event.bolt is None else str(event.bolt)
        values.setdefault(value, []).extend([which] if which else [])
    told = [f"{value} ({_bolts(which)})" if which else value for value, which in values.items()]
    return f"job {job}: tightened to {_joined(told)}."


def _bolts(which: Sequence[str]) -> str:
    numbered = [one for one in which if one.isdigit()]
    first = "bolt " if len(numbered) == 1 else "bolts " if numbered else ""
    return first + _joined(which)


def not_tightened(job: int) -> str:
    """Write that no tightening was recorded where a torque was set."""
    return f"job {job}: no tightening is recorded."


def locker(job: int, strength: facts.LockerStrength) -> str:
    """Write which thread-locker was used."""
    return f"job {job}: thread-locker of {strength} strength was used."


def together(job: int, others: Sequence[Piece]) -> str:
    """Write what a thing was put together with, to go on as one."""
    told = _joined([plain(one.called) for one in others])
    return f"job {job}: put together with {told} off the machine, and goes on as one with it."


def not_on(job: int, skipped: facts.SkipReason | None) -> str:
    """Write that something was not recorded as on again, and why it was skipped."""
    if skipped is None:
        return f"job {job}: not recorded as on again."
    reason = skipped.code or skipped.note
    why = f": {plain(reason)}" if reason else "; the reason was spoken, hear it in the job's report"
    return f"job {job}: skipped{why}."


def fitted(job: int, of: Worked) -> str | None:
    """Write what went on where it is not what the step here says; None where it is."""
    new = sum(one.count for one in of.fitted if one.new)
    old = sum(one.count for one in of.fitted if not one.new)
    if (new, old) == (of.new, of.piece.count - of.new):
        return None
    told = [f"{count} {what}" for count, what in ((new, "new"), (old, "as before")) if count]
    return f"job {job}: {_joined(told or ['none'])} went on, of {of.piece.count} that came off."


# Where jobs differ


def difference(of: comparing.Difference) -> str:
    """Write in what a job differs from the one that the draft is written from."""
    was, found = f"job {of.first}", f"job {of.other}"
    match of:
        case comparing.OfJob():
            return f"{found} is of “{plain(of.found)}”, {was} of “{plain(of.was)}”."
        case comparing.Unnamed():
            return f"{found}: nobody had a name for {_joined(of.names)}, so it is not compared."
        case comparing.OnlyThere(thing=thing):
            return f"{found} took off {piece(thing.piece)} too; {was} did not."
        case comparing.OfKit():
            kits = (f"{_kit(of.found)} in {found}", f"{_kit(of.was)} in {was}")
            return f"The kits differ in {of.name}: {kits[0]}, {kits[1]}."
        case comparing.NotThere():
            return f"{found} did not take it off."
        case comparing.Count():
            return f"{found} took off {of.found}, {was} {of.was}."
        case comparing.Size():
            return f"{found} has {_size(of.found)}, {was} {_size(of.was)}."
        case comparing.Threads():
            return f"{found} found {_threads(of.found)}, {was} {_threads(of.was)}."
        case comparing.Torque():
            return f"{found} set {_torque(of.found)}, {was} {_torque(of.was)}."
        case comparing.Order(stage="strip-down"):
            return f"Another order: in {found} it came off {_beside(of)}."
        case comparing.Order():
            return f"Another order: in {found} it went on {_beside(of)}."
    assert_never(of)  # type: ignore[arg-type]


def _kit(of: tuple[int, str | None] | None) -> str:
    if of is None:
        return "none"
    count, number = of
    return f"{count}" + (f", number {plain(number)}," if number else "")


def _size(of: tuple[str | None, Quantity | None]) -> str:
    thread, length = of
    if thread is None:
        return "no size"
    return f"{plain(thread)} × {amount(length)}" if length else plain(thread)


def _threads(of: facts.Threads | None) -> str:
    return {None: "nothing said of the threads", "dry": "dry threads"}.get(of, "thread-locker")


def _torque(of: Quantity | None) -> str:
    return amount(of) if of else "no torque"


def _beside(of: comparing.Order) -> str:
    return f"{'after' if of.after else 'before'} the {of.beside.piece.called}"


# What the command says


def done(file: str, steps: int, jobs: Sequence[int]) -> str:
    """Say what was written, and what to do with it."""
    of = f"job {jobs[0]}" if len(jobs) == 1 else f"jobs {_joined(map(str, jobs))}"
    return (
        f"{file}: a draft of {steps} steps from {of}, which nobody has approved. Read its comments "
        f"and correct it, then: assistant check {file}"
    )
