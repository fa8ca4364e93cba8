"""The parts of the benchmark: its noises, its talk, its counting and its results file."""

from __future__ import annotations

import random
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from assistant.bench.calling import with_call_word
from assistant.dialogue import intents, live, understanding
from assistant.dialogue.state import State
from assistant.recognition.recogniser import Hypothesis
from assistant.recognition.utterance import Utterance, Verdict
from assistant.recognition.whisper import Candidate, Opinion
from tests.benchmark import noises, results, speech, tables, talk, voices
from tests.benchmark.judging import Counts, Judged, Outcome, judge
from tests.fixtures import state_of

EVERY_NOISE = {**noises.SHOP, "clatter": noises.clatter, "coughs": noises.coughs}
TIGHTENED_14 = {"intent": "Tightened", "value": "14"}


@pytest.mark.parametrize("name", EVERY_NOISE)
def test_a_noise_has_a_root_mean_square_of_one_and_is_the_same_again(name: str) -> None:
    first, again = (EVERY_NOISE[name](3 * noises.RATE, np.random.default_rng(11)) for _ in range(2))
    assert first.shape == (3 * noises.RATE,)
    assert np.sqrt(np.mean(first**2)) == pytest.approx(1)
    np.testing.assert_array_equal(first, again)
    other = EVERY_NOISE[name](3 * noises.RATE, np.random.default_rng(12))
    assert not np.array_equal(first, other)


def _speech_like(peak: float) -> np.ndarray:
    """A tone that comes and goes: 0.3 s of it, 0.3 s of nothing."""
    t = np.arange(3 * noises.RATE) / noises.RATE
    return np.round(peak * np.sin(2 * np.pi * 220 * t) * (t % 0.6 < 0.3)).astype(np.int16)


@pytest.mark.parametrize("decibels", [20.0, 10.0, 5.0])
@pytest.mark.parametrize("name", noises.SHOP)
def test_a_noise_is_as_far_under_the_speech_as_is_said(name: str, decibels: float) -> None:
    sound = _speech_like(4000)
    noise = noises.SHOP[name](len(sound), np.random.default_rng(3))
    mixed = noises.mix(sound, noise, decibels)
    added = mixed.astype(float) - sound
    # The tone fills half of the frames, so the louder 40 % of them are all tone.
    level = 20 * np.log10(4000 / np.sqrt(2) / np.sqrt(np.mean(added**2)))
    assert level == pytest.approx(decibels, abs=0.1)


def test_loud_speech_in_noise_is_turned_down_and_not_clipped() -> None:
    sound = _speech_like(30000)
    mixed = noises.mix(sound, noises.white(len(sound), np.random.default_rng(3)), 5)
    assert 31000 < np.abs(mixed.astype(int)).max() <= 32000
    assert np.sum(np.abs(mixed.astype(int)) > 31990) <= 2


def test_a_phrases_noise_is_its_own_and_the_same_in_every_run() -> None:
    drawn = speech.random("pink", "reed", "next step").integers(1000, size=3)
    # zlib.crc32 is the same everywhere, which hash() is not.
    assert drawn.tolist() == np.random.default_rng(0xEB0A6C49).integers(1000, size=3).tolist()
    assert (
        drawn.tolist() != speech.random("hum", "reed", "next step").integers(1000, size=3).tolist()
    )


def test_where_speech_ends() -> None:
    samples = np.zeros(16000, np.int16)
    samples[2000:9001] = 10000
    samples[9001:] = 150
    assert speech.last_speech(samples) == 9000


@pytest.mark.parametrize("kind", [*talk.KINDS, talk.NEAR_CALLS])
def test_no_sentence_of_the_talk_is_a_command(kind: str) -> None:
    said = list(islice(talk.sentences(kind, random.Random(5)), 120))
    assert len(set(said)) == 120
    assert not any("{" in text for text in said)
    for step in ("winch-gearbox/fit-top-cover", "pump-rebuild/measure-hub"):
        grammar = with_call_word(live.grammar_for(state_of(step, "")), ("bench",), True)
        assert [text for text in said if grammar.parse_first(text.split())] == []


def test_the_talk_is_the_same_in_every_run() -> None:
    first, again = (list(islice(talk.sentences("radio", random.Random(4)), 50)) for _ in range(2))
    assert first == again


@pytest.mark.slow
def test_babble_is_of_every_held_out_voice_at_once() -> None:
    pytest.importorskip("hibari")
    first, again = (talk.babble(32000, np.random.default_rng(2)) for _ in range(2))
    assert np.sqrt(np.mean(first**2)) == pytest.approx(1)
    np.testing.assert_array_equal(first, again)
    # Five voices hardly ever pause together.
    frames = first[:32000].reshape(-1, 1600)
    assert np.mean(np.sqrt(np.mean(frames**2, axis=1)) > 0.1) > 0.95
    assert len(voices.HELD_OUT) == 5


Heard = tuple[str, Verdict]


def _heard(words: str, verdict: Verdict = Verdict.ACCEPTED) -> Heard:
    return words, verdict


def _judged(heard: Heard, state: State, said: dict[str, Any]) -> Judged:
    words = tuple(heard[0].split())
    meaning = understanding.understand(words, state) if words else None
    return judge(Utterance(words, meaning, heard[1], 0.9, "made up"), state, said)


@pytest.mark.parametrize(
    ("hearing", "expected"),
    [
        (_heard("tightened one four"), Judged(Outcome.UNDERSTOOD)),
        (_heard("tightened fourteen"), Judged(Outcome.UNDERSTOOD)),
        # A finding is recorded as it is heard; a torque that the step cannot mean is asked about.
        (_heard("oil seal leaking"), Judged(Outcome.WRONG, wrong_recorded=True)),
        (_heard("tightened four zero"), Judged(Outcome.WRONG)),
        (_heard("what torque"), Judged(Outcome.WRONG)),
        (_heard("tightened one four", Verdict.DOUBTFUL), Judged(Outcome.QUESTIONED, needless=True)),
        (_heard("tightened four zero", Verdict.DOUBTFUL), Judged(Outcome.QUESTIONED)),
        (_heard("", Verdict.DOUBTFUL), Judged(Outcome.QUESTIONED)),
        (_heard("tightened one four", Verdict.REJECTED), Judged(Outcome.MISSED)),
        (_heard("", Verdict.REJECTED), Judged(Outcome.MISSED)),
        (_heard("tightened the moon"), Judged(Outcome.MISSED)),
    ],
)
def test_what_became_of_a_command(hearing: Heard, expected: Judged) -> None:
    state = state_of("winch-gearbox/fit-top-cover", "")
    assert _judged(hearing, state, TIGHTENED_14) == expected


def test_a_wrong_reading_that_fits_the_step_is_recorded_wrong() -> None:
    state = state_of("pump-rebuild/measure-hub", "")
    said = {"intent": "Reading", "value": "89.31"}
    other = _judged(_heard("reading eight nine point three two"), state, said)
    assert other == Judged(Outcome.WRONG, wrong_recorded=True)


def test_a_wrong_value_counts_as_recorded_though_the_steps_hazards_come_first() -> None:
    state = state_of("cylinder-head/tighten-head", "")
    said = {"intent": "Tightened", "value": "26"}
    assert _judged(_heard("tightened two five"), state, said).wrong_recorded


def _counts(*judged: Judged) -> Counts:
    counts = Counts()
    for one in judged:
        counts.add(one)
    return counts


def test_every_phrase_is_counted_once() -> None:
    counts = _counts(
        Judged(Outcome.UNDERSTOOD),
        Judged(Outcome.UNDERSTOOD),
        Judged(Outcome.WRONG, wrong_recorded=True),
        Judged(Outcome.QUESTIONED, needless=True),
        Judged(Outcome.MISSED),
    )
    assert counts == Counts(5, 2, 1, 1, 1, wrong_recorded=1, needless=1)


def _row(voice: str, counts: Counts) -> tables.Row:
    return {
        "what": "commands",
        "listeners": "fast",
        "voice": voice,
        "held_out": voice in speech.HELD_OUT,
        "noise": "hum",
        "db": 10.0,
        **dict(counts),
        "cpu_p50_s": 0.1,
        "cpu_p95_s": 0.2,
    }


def test_tables_keep_the_voices_tuned_on_apart() -> None:
    rows = [
        _row("heart", Counts(4, 3, 0, 1, 0, 1)),
        _row("reed", Counts(4, 4)),
        _row("slt", Counts(8, 2, 6)),
    ]
    by_title = dict(tables.summary(rows))
    ours = by_title["Commands, voices not used for tuning, all noises together"]
    assert ours[1][:8] == [
        "fast", "10 dB", "8", "87.5% (7)", "0.0% (0)", "12.5% (1)", "0.0% (0)", "12.5% (1)",
    ]  # fmt: skip
    assert by_title["Commands, voices tuned on, all noises together"][1][2] == "8"
    printed = tables.printed(("A title", ours), markdown=True).splitlines()
    assert printed[0] == "**A title**"
    assert {line.count("|") for line in printed[2:5]} == {len(ours[0]) + 1}


def test_a_results_file_carries_the_machine_and_the_last_run_is_found_in_it(
    tmp_path: Path,
) -> None:
    file = tmp_path / "results.jsonl"
    for voices_said in (["heart"], ["reed", "scot"]):
        kept = results.Results(file, {"quick": True})
        for voice in voices_said:
            kept.add(_row(voice, Counts(1, 1)))
    rows = results.last_run(file)
    run = rows.pop(0)
    assert [row["voice"] for row in rows] == ["reed", "scot"]
    assert {row["run"] for row in rows} == {run["run"]}
    assert run["machine"]["cores"] >= 1
    assert run["versions"]["numpy"] == np.__version__
    assert run["commit"]
    assert np.__version__ in tables.heading(rows=[run])


def test_the_weights_are_found_that_tell_right_from_wrong() -> None:
    pytest.importorskip("scipy")
    from tests.benchmark import fit

    rng = np.random.default_rng(6)
    # What is right goes with the second sign and against the last; the others tell nothing.
    signs = np.column_stack([np.ones(2000), *rng.normal(size=(4, 2000))])
    likely = 1 / (1 + np.exp(-(2 * signs[:, 1] - signs[:, 4])))
    weights = fit.sure_weights(signs, rng.random(2000) < likely)
    np.testing.assert_allclose(weights, [0, 2, 0, 0, -1], atol=0.25)


def test_the_likelier_sentence_is_weighed_by_what_tells_it() -> None:
    pytest.importorskip("scipy")
    from tests.benchmark import fit

    rng = np.random.default_rng(7)
    words = [("what", "torque"), ("say", "again")]
    meanings: dict[tuple[str, ...], intents.Intent | None] = {
        words[0]: intents.Ask(intents.Topic.TORQUE),
        words[1]: intents.SayAgain(),
    }
    evidence = []
    for _ in range(400):
        scores = rng.normal(size=2)
        # The right one has the greater score nine times in ten, and a distance that tells nothing.
        right = int(np.argmax(scores)) if rng.random() < 0.9 else int(np.argmin(scores))
        found = tuple(
            Candidate(each, score, rng.random(), -1.0, 5)
            for each, score in zip(words, scores, strict=True)
        )
        meant = meanings[words[right]]
        assert meant is not None
        intent = intents.as_dict(meant)
        first = Hypothesis((), False, 0.0, "made up")
        evidence.append(fit.Evidence(first, Opinion(found, "", 0.0, 0.0), meanings, {}, intent, ""))
    score, distance, *_ = fit.utility_weights(evidence)
    assert score > 1 and abs(distance) < score / 2
