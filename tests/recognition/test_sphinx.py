"""PocketSphinx on real speech: it hears people's commands, and does not mistake talk for them."""

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.errors import AssistantError
from assistant.grammar import jsgf, respelling
from assistant.recognition.choosing import choose
from assistant.recognition.recogniser import Hypothesis, hear_all
from assistant.recognition.sphinx import PocketSphinx, dithered

DATA = Path(__file__).parents[1] / "audio" / "data"
CARDS = jsgf.read(DATA / "cards.gram")
HEAD = "#JSGF V1.0;\ngrammar bench;\n"
BENCH = jsgf.parse(
    HEAD + "public <c> = next step | say again | read back | stand by | skip step\n"
    " | what (torque | tool | size | is left) | which bag | how many | affirm | negative\n"
    " | (tightened | reading | bag | order) <d>+ [point <d>+] | disregard | close job\n"
    " | (circlip | bearing | oil seal | shaft) (missing | cracked | worn) [upper | lower]\n"
    " | note <GARBAGE>;\n"
    "<d> = one | two | three | four | five | six | seven | eight | niner | zero;\n"
)
PROSE = sorted(DATA.glob("prose-*.flac"))

Listen = Callable[[str, jsgf.Grammar], Hypothesis]


@pytest.fixture(scope="module")
def recogniser() -> PocketSphinx:
    return PocketSphinx(respelling.standing(), warn=pytest.fail)


def heard(recogniser: PocketSphinx, file: str, grammar: jsgf.Grammar) -> Hypothesis:
    recogniser.listen_for(grammar)
    return hear_all(recogniser, pcm.read(DATA / file))


# What the speaker says, as transcribed by the makers of the clips (cards.transcription).
@pytest.mark.parametrize(
    ("file", "words"),
    [
        ("cards-001", "ten of clubs"),
        ("cards-002", "four queen of clubs"),
        ("cards-003", "seven of clubs"),
        ("cards-004", "five five"),
        ("cards-005", "eight of spades four of clubs seven of hearts"),
    ],
)
def test_people_are_heard(recogniser: PocketSphinx, file: str, words: str) -> None:
    hearing = heard(recogniser, f"{file}.flac", CARDS)
    assert " ".join(hearing.words) == words and hearing.accepted
    assert [word for word, _, _ in hearing.times] == words.split()
    assert all(0 <= a < b <= hearing.audio_s + 0.02 for _, a, b in hearing.times)
    assert hearing.confidence > 0.9 and hearing.recogniser == "pocketsphinx"


def test_another_grammar_and_back(recogniser: PocketSphinx) -> None:
    forward = jsgf.read(DATA / "goforward.gram")
    for _ in range(2):
        assert heard(recogniser, "goforward.flac", forward).words == (
            "go",
            "forward",
            "ten",
            "meters",
        )
        assert heard(recogniser, "cards-004.flac", CARDS).words == ("five", "five")


@pytest.mark.parametrize("file", PROSE, ids=lambda path: path.stem)
@pytest.mark.parametrize("grammar", [BENCH, CARDS], ids=["bench", "cards"])
def test_prose_is_not_a_command(
    recogniser: PocketSphinx, file: Path, grammar: jsgf.Grammar
) -> None:
    assert not heard(recogniser, file.name, grammar).accepted


def test_a_command_of_another_grammar_is_not_taken(recogniser: PocketSphinx) -> None:
    for file in sorted(DATA.glob("cards-*.flac")):
        assert not heard(
            recogniser, file.name, jsgf.parse(HEAD + "public <c> = next step;")
        ).accepted


def test_a_respelt_word_digits_and_a_note(recogniser: PocketSphinx) -> None:
    assert heard(recogniser, "rms-circlip-missing-upper.flac", BENCH).words == (
        "circlip",
        "missing",
        "upper",
    )
    hearing = heard(recogniser, "rms-tightened-one-four.flac", BENCH)
    assert hearing.words == ("tightened", "one", "four") and hearing.accepted
    note = heard(recogniser, "rms-note.flac", BENCH)
    assert note.words == ("note",) and note.accepted


def test_blocks_of_any_length_and_the_past_make_no_difference(recogniser: PocketSphinx) -> None:
    sound = pcm.read(DATA / "cards-002.flac").tobytes()
    whole = heard(recogniser, "cards-002.flac", CARDS)
    for size in (1, 313, 960):
        for start in range(0, len(sound), size * 101):
            recogniser.feed(sound[start : start + size * 101])
        again = recogniser.finish()
        assert (again.words, again.confidence) == (whole.words, whole.confidence)


@pytest.mark.parametrize("seconds", [0, 0.05, 1, 5])
def test_silence_is_nothing(recogniser: PocketSphinx, seconds: float) -> None:
    recogniser.listen_for(BENCH)
    for level in (0, 20):
        noise = np.random.default_rng(1).normal(0, 1, int(seconds * 16000)) * level
        hearing = hear_all(recogniser, pcm.Pcm(noise.astype(np.int16)))
        assert not hearing.accepted


def test_a_grammar_in_which_nothing_can_be_said(recogniser: PocketSphinx) -> None:
    assert not heard(
        recogniser, "cards-001.flac", jsgf.parse(HEAD + "public <c> = <VOID>;")
    ).accepted
    assert not heard(
        recogniser, "cards-001.flac", jsgf.parse(HEAD + "public <c> = <NULL>;")
    ).accepted


def test_words_in_no_dictionary_are_pronounced_by_rule_and_told() -> None:
    told: list[str] = []
    recogniser = PocketSphinx(warn=told.append)
    # The clip says "circlip". Without its respelling, the rules have to give the phones.
    hearing = heard(recogniser, "rms-circlip-missing-upper.flac", BENCH)
    assert hearing.words == ("circlip", "missing", "upper") and hearing.accepted
    assert len(told) == 1 and "circlip" in told[0]
    with pytest.raises(AssistantError, match="'…'"):
        recogniser.listen_for(jsgf.parse(HEAD + "public <c> = …;"))


def test_a_respelling_that_helps_nothing_is_told() -> None:
    told: list[str] = []
    recogniser = PocketSphinx(
        respelling.Respellings().with_extra({"circlip": "zzyx clip"}), told.append
    )
    recogniser.listen_for(BENCH)
    assert any("zzyx" in text for text in told)


def test_dither_is_faint_and_always_the_same() -> None:
    sound = pcm.read(DATA / "rms-tightened-one-four.flac").samples
    once, twice = dithered(sound), dithered(sound)
    assert np.array_equal(once, twice)
    noise = once.astype(float) - sound
    loud = np.sort(np.mean(sound[: len(sound) // 160 * 160].reshape(-1, 160).astype(float) ** 2, 1))
    below = 10 * np.log10(np.mean(loud[len(loud) * 6 // 10 :]) / np.mean(noise**2))
    assert below == pytest.approx(35, abs=0.5)
    silence = dithered(np.zeros(16000, np.int16)).astype(float)
    assert 20 * np.log10(silence.std() / 32768) == pytest.approx(-70, abs=0.5)


def test_choosing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("VOSK_MODEL_PATH", raising=False)
    monkeypatch.delenv("ASSISTANT_VOSK_MODEL", raising=False)
    assert choose("auto").name == "pocketsphinx"
    with pytest.raises(AssistantError, match=r"No English Vosk model.*--model"):
        choose("vosk")
    with pytest.raises(AssistantError, match="no such folder"):
        choose("auto", tmp_path / "none")
    with pytest.raises(AssistantError, match="leave out --model"):
        choose("pocketsphinx", tmp_path)
    with pytest.raises(AssistantError, match="choose auto"):
        choose("recogniser")
    monkeypatch.setenv("ASSISTANT_VOSK_MODEL", str(tmp_path))
    with pytest.raises(AssistantError, match=r"not a Vosk model: expected am/final\.mdl"):
        choose("auto")
    (tmp_path / "vosk-model-small-en-us-9" / "am").mkdir(parents=True)
    with pytest.raises(AssistantError, match=r"Did you mean .*small-en-us-9"):
        choose("auto")
    (tmp_path / "vosk-model-small-en-us-9" / "am" / "final.mdl").touch()
    monkeypatch.delenv("ASSISTANT_VOSK_MODEL")
    monkeypatch.setenv("VOSK_MODEL_PATH", str(tmp_path))
    with pytest.raises(AssistantError, match="small-en-us-9 has its grammar built in"):
        choose("auto")


def test_it_tells_how_well_other_words_would_have_fitted(recogniser: PocketSphinx) -> None:
    assert PocketSphinx().loss(("ten",)) == math.inf
    heard(recogniser, "cards-001.flac", CARDS)
    assert recogniser.loss(("ten", "of", "clubs")) == pytest.approx(0.0, abs=0.3)
    assert (
        0.5 < recogniser.loss(("ten", "of", "hearts")) < recogniser.loss(("queen", "of", "hearts"))
    )
    assert recogniser.loss(()) == math.inf
