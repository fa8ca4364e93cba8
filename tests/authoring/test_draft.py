"""A procedure drafted from jobs that had none: it is sound, and it can be run."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as some

from assistant.authoring import comparing, drafting, worked
from assistant.cli import main as cli
from assistant.dialogue import events, intents, pieces
from assistant.dialogue import state as job_state
from assistant.dialogue.decide import decide, open_job
from assistant.errors import AssistantError
from assistant.grammar import numbers
from assistant.journal.store import Journal
from assistant.procedure import checking, kit_list, lexicon, reading, unwritten
from assistant.procedure.model import Procedure
from tests.bench_helpers import SMALL, Hands
from tests.fixtures import NOW

KIT = (
    kit_list.KitLine("K-1", "gasket", "gaskets", 1, "Gasket", 2),
    kit_list.KitLine("K-2", "oil seal", "oil seals", 3, "Seal, oil", 3),
    kit_list.KitLine(None, "circlip", "circlips", 2, "Circlip", 4),
)

DOWN = (
    *("affirm", "removed six long bolts", "size m eight by fifty five", "bag one"),
    *("thread locker found", "removed end cover", "note the arrow points to the drain"),
    *("removed four oil seals", "bag two", "removed gasket", "set torque long bolts two five"),
)
"""A take-down that leaves nothing out."""

UP = ("start build up", *["next step"] * 3, "tightened two five", "next step")


def job(path: Path, *phrases: str, title: str = "Capstan drive", machine: str = "gearbox") -> Hands:
    """Type an unwritten job at a bench whose journal is in a folder."""
    text = unwritten.begin(title, lexicon.read(machine), KIT)[1]
    hands = Hands(path / "journal.db", text)
    hands.say(*phrases)
    return hands


def drafted(hands: Hands, *more: Hands) -> str:
    """Return the draft of the jobs at benches, with what was told to differ."""
    jobs = [worked.read(each.bench.journal, each.bench.job) for each in (hands, *more)]
    return drafting.draft(jobs).text


def loaded(text: str, path: Path) -> Procedure:
    """Return the procedure of a file in which nothing is wrong."""
    file = path / "draft.yaml"
    file.write_text(text, encoding="utf-8")
    found = reading.load(file)
    assert found.warnings == ()
    return found.procedure


def comments(text: str, step: str) -> str:
    """Return the comments above a step, as one line."""
    lines = text.splitlines()
    at = lines.index(f"      - id: {step}")
    above = itertools.takewhile(lambda line: line.startswith("      #"), reversed(lines[:at]))
    return " ".join(line.strip("# ") for line in reversed(list(above)))


def run_typed(path: Path, text: str) -> None:
    """Work through a drafted procedure, typed, doing what each step asks; nothing is left over."""
    path.mkdir()
    hands = Hands(path / "journal.db", text)
    hands.say("affirm")
    for step in hands.procedure.steps:
        assert hands.bench.state.step_id == step.id
        if step.bag is not None:
            hands.say(f"bag {numbers.cardinal(step.bag)}")
        for tighten in step.tighten:
            hands.say(f"tightened {numbers.spell_digits(tighten.torque.value)}")
        hands.say("next step")
    hands.say("close job")
    (closed,) = hands.events("job closed")
    assert isinstance(closed, events.JobClosed) and closed.left == ()


def test_a_job_becomes_a_procedure(tmp_path: Path) -> None:
    hands = job(tmp_path, *DOWN, *UP, "close job", "affirm")
    text = drafted(hands)
    assert text.splitlines()[0] == (
        "# DRAFT. Nobody has approved this procedure; do not work from it until somebody has."
    )
    assert "record of job 1 (Capstan drive), begun 2031-03-04." in text
    found = loaded(text, tmp_path)
    assert (found.procedure, found.title, found.revision) == (
        *("capstan-drive", "Capstan drive", "draft"),
    )
    assert "\nsample: false\n" in text
    assert [step.id for step in found.steps] == [
        "make-safe",
        *("take-off-long-bolts", "take-off-end-cover", "take-off-oil-seals", "take-off-gasket"),
        *("fit-gasket", "fit-oil-seals", "fit-end-cover", "fit-long-bolts"),
    ]
    assert found.step("make-safe").gate == "job"
    assert "supply locked off" in (found.step("make-safe").before[0].affirm or "")
    bolts = found.step("fit-long-bolts")
    assert (bolts.from_bag, found.step("take-off-long-bolts").bag) == (1, 1)
    (fastener,) = bolts.fasteners
    assert (fastener.count, fastener.thread, str(fastener.length)) == (6, "M8", "55 mm")
    (tighten,) = bolts.tighten
    assert (str(tighten.torque), tighten.locker) == ("25 N·m", None)
    assert [(one.count, one.new) for one in found.step("fit-oil-seals").fit] == [
        *((3, True), (1, False)),
    ]
    assert [(p.name, p.number, p.count) for p in found.parts] == [
        ("gasket", "K-1", 1),
        ("oil seal", "K-2", 4),
        ("circlip", None, 2),
        ("long bolt", None, 6),
        ("end cover", None, 1),
    ]
    assert "# 2 new in the kit, and nothing of that name came off\n  - {name: circlip" in text
    run_typed(tmp_path / "next", text)


def test_what_was_found_is_told_and_is_no_instruction(tmp_path: Path) -> None:
    hands = job(tmp_path, *DOWN, "long bolt corroded renew", *UP)
    text = drafted(hands)
    assert "corroded" not in text
    assert "thread-locker found on the threads. What was found is no instruction." in comments(
        text, "take-off-long-bolts"
    )
    assert "note by sam, 2031-03-04 11:01: the arrow points to the drain" in comments(
        text, "take-off-end-cover"
    )
    assert "Say what goes on the threads" in comments(text, "fit-long-bolts")
    # Nobody is told that there is no thread-locker, or that the threads are dry.
    (tmp_path / "next").mkdir()
    run = Hands(tmp_path / "next" / "journal.db", text)
    run.say("affirm", "next step", "bag one", "next step", "next step", "bag two", "next step")
    run.say(*["next step"] * 3)
    said = run.say("next step")
    assert said.endswith("Hardware from bag one. Long bolt, two five newton metres.")
    assert run.say("what thread locker") == "Long bolt, thread locker not stated."


def test_what_it_was_tightened_to_is_a_comment(tmp_path: Path) -> None:
    hands = job(tmp_path, *DOWN, *UP[:-2])
    hands.say("bolt one tightened two five", "bolt two tightened two six", "all tightened two five")
    hands.say("next step")
    said = comments(drafted(hands), "fit-long-bolts")
    assert said.endswith(
        "job 1: tightened to 25 N·m (bolt 1 and the rest as one) and 26 N·m (bolt 2)."
    )


def test_a_torque_that_failed_is_told_so(tmp_path: Path) -> None:
    hands = job(tmp_path, *DOWN, *UP[:-2], "tightened forty", "affirm")
    text = drafted(hands)
    assert "tightened to 40 N·m, outside its tolerance." in comments(text, "fit-long-bolts")
    assert "torque: 25 N·m" in text


def test_a_torque_without_a_size_says_that_it_is_not_checked(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed six long bolts", "bag one", "set torque two five")
    text = drafted(hands)
    assert "Nobody said the thread" in comments(text, "fit-long-bolts")
    loaded(text, tmp_path)
    run_typed(tmp_path / "next", text)


def test_the_order_is_that_in_which_it_went_on(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed end cover", "removed two dowels", "removed gasket")
    hands.say("start build up", "installed end cover", "next step")
    text = drafted(hands)
    ids = [step.id for step in loaded(text, tmp_path).stages[2].steps]
    assert ids == ["fit-end-cover", "fit-gasket", "fit-dowels"]
    assert "is still open, and not all of it went on again" in " ".join(text.split("\n# "))
    assert "job 1: not recorded as on again." in comments(text, "fit-dowels")
    run_typed(tmp_path / "next", text)


def test_what_was_done_again_keeps_its_place(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed end cover", "removed two dowels", "removed gasket")
    hands.say("start build up", "next step", "next step", "next step")
    hands.say("rework step five", "next step")
    ids = [step.id for step in loaded(drafted(hands), tmp_path).stages[2].steps]
    assert ids == ["fit-gasket", "fit-dowels", "fit-end-cover"]


def test_what_was_skipped_says_why(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed end cover", "removed two dowels", "start build up")
    hands.say("skip step", "part missing", "next step", "close job", "affirm")
    text = drafted(hands)
    assert comments(text, "fit-dowels").startswith("job 1: skipped: part missing")
    assert "Job 1 was closed, and not all of it went on again" in text
    loaded(text, tmp_path)


@pytest.mark.parametrize("days", [0, 3])
def test_a_job_that_never_began_its_build_up_is_reversed(tmp_path: Path, days: int) -> None:
    hands = job(tmp_path, *DOWN)
    if days:
        hands.stop_and_take_up(days=days)
    text = drafted(hands)
    assert "its build-up had not begun" in " ".join(text.split("\n#   "))
    assert "not recorded as on again" not in text
    found = loaded(text, tmp_path).stages[2].steps
    assert [s.id for s in found][-2:] == ["fit-end-cover", "fit-long-bolts"]
    run_typed(tmp_path / "next", text)


def test_only_what_stands_is_drafted(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed six long bolts", "bag one")
    hands.say("make that eight", "call it short bolt", "correction bag three")
    hands.say(
        "removed end cover", "disregard", "removed piece", "a ring", "note wrong", "disregard"
    )
    text = drafted(hands)
    found = loaded(text, tmp_path)
    off = found.step("take-off-short-bolts")
    assert (off.remove[0].count, off.bag) == (8, 3)
    assert "cover" not in text and "wrong" not in text
    assert "note by sam" in comments(text, "take-off-piece-one")
    assert "# Nobody had a name for it in job 1. Give it one, here and in its steps.\n" in text
    run_typed(tmp_path / "next", text)


def test_each_step_has_a_bag_and_a_name_of_its_own(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed six long bolts", "bag two", "removed two dowels")
    hands.say("bag two", "removed four long bolts", "bag one")
    text = drafted(hands)
    found = loaded(text, tmp_path)
    assert {step.id: step.bag for step in found.stages[1].steps} == {
        "take-off-long-bolts": 2,
        "take-off-dowels": 3,
        "take-off-long-bolts-2": 1,
    }
    assert "It was in bag 2 with 6 long bolts." in comments(text, "take-off-dowels")
    run_typed(tmp_path / "next", text)


def test_bolts_of_which_some_are_new_come_out_even(tmp_path: Path) -> None:
    kit = (kit_list.KitLine("K-9", "long bolt", "long bolts", 4, "Bolt", 2),)
    text = unwritten.begin("Drive", lexicon.read("gearbox"), kit)[1]
    hands = Hands(tmp_path / "journal.db", text)
    hands.say("affirm", "removed six long bolts", "size m eight", "bag one", "set torque two five")
    found = loaded(draft := drafted(hands), tmp_path)
    assert [(f.count, f.new) for f in found.step("fit-long-bolts").fasteners] == [
        *((4, True), (2, False)),
    ]
    run_typed(tmp_path / "next", draft)
    (tmp_path / "kit").mkdir()
    run = Hands(tmp_path / "kit" / "journal.db", draft)
    # The box holds four, and the pass has six bolts.
    assert run.say("kit check").endswith("Long bolt, four.")
    state = job_state.at_step(found, "fit-long-bolts")
    assert state.count_of("long bolt") == 6


def test_a_spoken_note_comes_with_its_transcript(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "removed end cover")
    sound = b"\x01\x02" * 8000
    hands.hear("note", sound=sound, free_speech=True)
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded) and note.text is None
    assert "spoken: no transcript. Hear it in the job's report." in comments(
        drafted(hands), "take-off-end-cover"
    )
    assert note.heard is not None and note.heard.clip_sha256 is not None
    made = worked.Transcript("the arrow\npoints up", "scribe", hands.now)
    hands.bench.journal.add_transcript(1, note.heard.clip_sha256, made)
    assert "spoken. Transcript, not verified: “the arrow points up” (scribe)" in comments(
        drafted(hands), "take-off-end-cover"
    )


@given(some.text(max_size=300), some.text(min_size=1, max_size=60))
@example("\r", "Drive")
@example("\ufffe: [*&!\x85\u2028#", "Drive")
def test_whatever_was_noted_stays_a_comment(text: str, title: str) -> None:
    try:
        procedure, source = unwritten.begin(title, lexicon.read("general"))
    except AssistantError:
        return
    said = [intents.Affirm(), intents.Removed("cover", "covers"), intents.Note(text)]
    draft = _draft_of(procedure, source, said)
    found = reading.parse(draft, "draft")
    assert found.title == procedure.title.strip()
    assert len(found.steps) == 3


# Several jobs together


def benches(path: Path, *jobs: Sequence[str]) -> list[Hands]:
    """Type several jobs into one journal, and return their benches."""
    found = [job(path, *phrases) for phrases in jobs]
    assert [one.bench.job for one in found] == list(range(1, len(jobs) + 1))
    return found


def told(hands: Sequence[Hands]) -> tuple[str, ...]:
    jobs = [worked.read(each.bench.journal, each.bench.job) for each in hands]
    return drafting.draft(jobs).differences


def test_like_jobs_differ_in_nothing(tmp_path: Path) -> None:
    hands = benches(tmp_path, (*DOWN, *UP), (*DOWN, *UP))
    assert told(hands) == ()
    text = drafted(*hands)
    assert "Compared with job 2." in text
    assert "job 2: tightened to 25 N·m." in comments(text, "fit-long-bolts")
    loaded(text, tmp_path)


def test_it_says_where_jobs_differ(tmp_path: Path) -> None:
    other = (
        *("affirm", "removed end cover", "removed four long bolts", "size m eight by fifty"),
        *("found dry", "bag one", "removed four oil seals", "bag two", "removed two dowels"),
        *("removed piece", "a ring", "set torque long bolts three zero"),
        *("start build up", "installed long bolt"),
    )
    hands = benches(tmp_path, (*DOWN, *UP), other)
    assert told(hands) == (
        "job 2: nobody had a name for piece one, so it is not compared.",
        "take-off-long-bolts: job 2 took off 4, job 1 6.",
        "take-off-long-bolts: job 2 has M8 × 50 mm, job 1 M8 × 55 mm.",
        "take-off-long-bolts: job 2 found dry threads, job 1 thread-locker.",
        "fit-long-bolts: job 2 set 30 N·m, job 1 25 N·m.",
        "take-off-gasket: job 2 did not take it off.",
        "job 2 took off 2 dowels too; job 1 did not.",
        "take-off-end-cover: Another order: in job 2 it came off before the long bolts.",
    )
    text = drafted(*hands)
    assert "job 2 took off 4, job 1 6." in comments(text, "take-off-long-bolts")
    assert "job 2 set 30 N·m, job 1 25 N·m." in comments(text, "fit-long-bolts")
    assert "job 2 took off 2 dowels too; job 1 did not." in text
    loaded(text, tmp_path)
    run_typed(tmp_path / "next", text)


def test_another_order_of_the_build_up_is_told(tmp_path: Path) -> None:
    down = ("affirm", "removed end cover", "removed two dowels", "removed gasket", "start build up")
    hands = benches(
        tmp_path,
        (*down, "next step", "next step", "next step"),
        (*down, "installed end cover", "next step", "next step"),
    )
    assert told(hands) == ("fit-end-cover: Another order: in job 2 it went on before the gasket.",)


def test_another_kit_and_another_machine_are_told(tmp_path: Path) -> None:
    one = job(tmp_path, *DOWN)
    kit = (KIT[0], kit_list.KitLine("K-8", "oil seal", "oil seals", 4, "Seal", 3))
    two = Hands(tmp_path / "journal.db", unwritten.begin("Other", lexicon.read("pump"), kit)[1])
    two.say(*DOWN)
    assert told([one, two]) == (
        "job 2 is of “Other”, job 1 of “Capstan drive”.",
        "job 2 is of “pump”, job 1 of “gearbox”.",
        "The kits differ in oil seal: 4, number K-8, in job 2, 3, number K-2, in job 1.",
        "The kits differ in circlip: none in job 2, 2 in job 1.",
    )


@given(some.permutations(range(7)))
def test_no_longer_run_rises(numbers: list[int]) -> None:
    kept = comparing.longest_rising(numbers)
    run = [numbers[place] for place in sorted(kept)]
    assert run == sorted(run)
    rising = (
        size
        for size in range(8)
        if any(list(c) == sorted(c) for c in itertools.combinations(numbers, size))
    )
    assert len(run) == max(rising)


# The command


def test_the_command_writes_checks_and_does_not_overwrite(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    benches(tmp_path, (*DOWN, *UP), ("affirm", "removed four long bolts"))
    journal, out = str(tmp_path / "journal.db"), tmp_path / "capstan.yaml"
    words = ["draft", "1", "2", "1", "-o", str(out), "--journal", journal]
    assert cli.main(words) == 0
    said = capsys.readouterr()
    assert "a draft of 9 steps from jobs 1 and 2, which nobody has approved" in said.out
    assert "take-off-long-bolts: job 2 took off 4, job 1 6." in said.err
    assert cli.main(["check", str(out)]) == 0
    said = capsys.readouterr()
    assert said.out == f"{out}: good, revision draft, 9 steps in 3 stages\n"
    out.write_text("corrected by hand", encoding="utf-8")
    assert cli.main(words) == 2
    assert "There is a file" in capsys.readouterr().err
    assert out.read_text(encoding="utf-8") == "corrected by hand"
    assert cli.main([*words, "--force"]) == 0
    assert out.read_text(encoding="utf-8").startswith("# DRAFT.")
    assert cli.main([*words[:5], str(tmp_path / "no" / "capstan.yaml"), *words[6:]]) == 2


def test_the_bench_says_that_nobody_has_approved_a_draft(tmp_path: Path) -> None:
    text = drafted(job(tmp_path, *DOWN, *UP))
    (tmp_path / "next").mkdir()
    run = Hands(tmp_path / "next" / "journal.db", text)
    assert "This is a draft that nobody has approved." in " ".join(run.notes.replies)
    assert "This is a draft that nobody has approved." in run.stop_and_take_up(days=1)
    (tmp_path / "approved").mkdir()
    approved = text.replace("revision: draft", "revision: A")
    run = Hands(tmp_path / "approved" / "journal.db", approved)
    assert "draft" not in " ".join(run.notes.replies)


def test_names_that_are_long_or_alike_give_steps_names_of_their_own(tmp_path: Path) -> None:
    long = "very " * 10 + "long bolt"
    said: list[intents.Intent] = [
        *(intents.Affirm(), intents.Removed(long, f"{long}s"), intents.Removed(long, f"{long}s")),
        *(intents.Removed("driver's key", "driver's keys"), intents.Removed("o-ring", "o-rings")),
        intents.Removed("o ring", "o rings"),
    ]
    source = unwritten.begin("4 Seasons: no. 7 #2", lexicon.read("general"))
    found = loaded(_draft_of(*source, said), tmp_path)
    ids = [step.id for step in found.stages[1].steps]
    assert ids[1] == f"{ids[0][:58]}-2" and len(ids[1]) <= 60
    assert ids[2:] == ["take-off-drivers-key", "take-off-o-ring", "take-off-o-ring-2"]
    assert (found.procedure, found.title) == ("4-seasons-no-7-2", "4 Seasons: no. 7 #2")


def test_what_cannot_be_drafted_says_why(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Hands(tmp_path / "journal.db", SMALL)
    job(tmp_path, "affirm", "removed end cover", "disregard")
    out = tmp_path / "draft.yaml"
    for number, wrong in (
        ("1", "Job 1 has a procedure already: small-box, revision A."),
        ("2", "Nothing came off in job 2"),
        ("7", "no job 7"),
    ):
        command = ["draft", number, "-o", str(out), "--journal", str(tmp_path / "journal.db")]
        assert cli.main(command) == 2
        assert wrong in capsys.readouterr().err
    assert not out.exists()


# Any take-down

_THINGS = some.sampled_from(
    [
        *(("long bolt", 6), ("long bolt", 2), ("end cover", 1), ("gasket", 1), ("oil seal", 2)),
        *((None, 1), ("circlip", 5)),
    ]
)
_SIZES = (
    some.none()
    | some.sampled_from([intents.Size(Decimal(8), Decimal(55))])
    | some.builds(intents.Size, some.sampled_from([Decimal(6), Decimal(10)]))
)


def _draft_of(procedure: Procedure, source: str, said: Sequence[intents.Intent]) -> str:
    """Return the draft of a job in which this was said."""
    state = job_state.start(procedure)
    for intent in (None, *said):
        decision = decide(state, intent, NOW) if intent else open_job(procedure, source, NOW)
        for event in decision.events:
            state = job_state.apply(state, event)
    opened = state.log[0]
    assert isinstance(opened, events.JobOpened) and state.procedure.unwritten is not None
    one = worked.from_state(1, opened, state, state.procedure.unwritten, {})
    return drafting.draft([one]).text


@settings(max_examples=40)
@given(
    things=some.lists(
        some.tuples(_THINGS, some.none() | some.integers(1, 3), _SIZES, some.booleans()),
        min_size=1,
        max_size=8,
    ),
    kit=some.dictionaries(
        some.sampled_from(["gasket", "oil seal", "long bolt", "circlip"]), some.integers(1, 7)
    ),
    torque=some.sampled_from([None, "long bolt", "circlip"]),
    up=some.lists(some.sampled_from(["long bolt", "end cover", "gasket", "next"]), max_size=6),
    begins=some.booleans(),
)
def test_any_take_down_drafts_clean_and_runs_to_its_end(
    things: list[tuple[tuple[str | None, int], int | None, intents.Size | None, bool]],
    kit: dict[str, int],
    torque: str | None,
    up: list[str],
    begins: bool,
) -> None:
    lines = [kit_list.KitLine("K", name, f"{name}s", n, name, 2) for name, n in kit.items()]
    procedure, source = unwritten.begin("Test drive", lexicon.read("gearbox"), lines)
    said: list[intents.Intent] = [intents.Affirm()]
    for (name, count), bag, size, locker in things:
        if name is None:
            said += [intents.Removed(), intents.Note("a brass ring")]
        else:
            said.append(intents.Removed(name, f"{name}s", count))
        said += [intents.Bag(bag)] if bag else []
        said += [size] if size else []
        said += [intents.ThreadsFound("thread locker")] if locker else []
    if torque is not None:
        said.append(intents.SetTorque(Decimal("25.50"), "N·m", torque))
    if begins:
        said.append(intents.StartBuildUp())
        said += [intents.Next() if one == "next" else intents.Installed(one) for one in up]
    text = _draft_of(procedure, source, said)
    draft = reading.parse(text, "draft")
    assert [fault for _, _, found in checking.all_of(draft) for fault in found] == []
    assert len(draft.stages[1].steps) == len(draft.stages[2].steps) == len(things)
    closed = _run_through(draft, text)
    assert closed.left == ()


def _run_through(procedure: Procedure, text: str) -> events.JobClosed:
    """Work through a procedure, saying what each step asks for; return the closing."""
    state = job_state.start(procedure)
    now = NOW

    def say(intent: intents.Intent | None) -> None:
        nonlocal state, now
        now += timedelta(seconds=10)
        decision = decide(state, intent, now) if intent else open_job(procedure, text, now)
        for event in decision.events:
            state = job_state.apply(state, event)

    for intent in (None, intents.Affirm()):
        say(intent)
    for step in procedure.steps:
        assert state.step_id == step.id
        if step.bag is not None:
            say(intents.Bag(step.bag))
        for tighten in step.tighten:
            say(intents.Tightened(tighten.torque.value, tighten.torque.unit))
        say(intents.Next())
        assert step.id in state.done
    say(intents.CloseJob())
    (closed,) = state.of_job(events.JobClosed) or (state.pending,)
    assert isinstance(closed, events.JobClosed), closed
    return closed


def test_a_job_reads_the_same_from_its_journal(tmp_path: Path) -> None:
    hands = job(tmp_path, *DOWN, *UP)
    text = drafted(hands)
    hands.bench.journal.close()
    again = worked.read(Journal(tmp_path / "journal.db", create=False), 1)
    assert drafting.draft([again]).text == text
    assert pieces.UNNAMED not in text


def test_what_goes_on_as_one_and_in_another_order_is_in_the_draft(tmp_path: Path) -> None:
    hands = job(tmp_path, "affirm", "start group", "removed shaft", "removed two bearings")
    hands.say("end group", "removed end cover", "before the end cover, the shaft")
    text = drafted(hands)
    steps = [step.id for step in loaded(text, tmp_path).stages[-1].steps]
    assert steps == ["fit-bearings", "fit-shaft", "fit-end-cover"]
    assert "put together with shaft off the machine, and goes on as one with it" in text
    hands.say("start build up", *["next step"] * 4)
    built = [step.id for step in loaded(drafted(hands), tmp_path).stages[-1].steps]
    assert built == steps


def test_the_thread_locker_that_was_used_is_in_the_draft(tmp_path: Path) -> None:
    hands = job(tmp_path, *DOWN, "start build up", *["next step"] * 3, "thread locker medium")
    text = drafted(hands)
    (tighten,) = loaded(text, tmp_path).step("fit-long-bolts").tighten
    assert tighten.locker is not None and tighten.locker.strength == "medium"
    assert "thread-locker of medium strength was used" in comments(text, "fit-long-bolts")
