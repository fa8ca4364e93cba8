from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.endpoint import ENDPOINTING, Endpointer, Phrase
from assistant.grammar import jsgf
from assistant.recognition.recogniser import hear_all
from assistant.recognition.sphinx import PocketSphinx

DATA = Path(__file__).parent / "data"
NAMES = ["cards-001", "cards-003", "cards-002"]
SAID = [("ten", "of", "clubs"), ("seven", "of", "clubs"), ("four", "queen", "of", "clubs")]


def quiet(seconds: float) -> np.ndarray:
    return np.random.default_rng(2).normal(0, 8, int(seconds * pcm.RATE)).astype(np.int16)


def stream() -> bytes:
    """Three phrases with 1.2 s of a quiet room between them."""
    pieces = [quiet(1.2)]
    for name in NAMES:
        pieces += [pcm.read(DATA / f"{name}.flac").samples, quiet(1.2)]
    return np.concatenate(pieces).tobytes()


def cut(data: bytes, size: int, **settings: float) -> list[Phrase]:
    endpointer = Endpointer(tuning=replace(ENDPOINTING, **settings))  # type: ignore[arg-type]
    phrases = []
    for start in range(0, len(data), size):
        phrases += endpointer.feed(data[start : start + size])
    return [*phrases, *endpointer.flush()]


def test_phrases_come_out_whole_and_are_heard() -> None:
    data = stream()
    phrases = cut(data, 960)
    ears = PocketSphinx()
    ears.listen_for(jsgf.read(DATA / "cards.gram"))
    assert [hear_all(ears, pcm.from_bytes(phrase.data)).words for phrase in phrases] == SAID
    for phrase in phrases:
        start = round(phrase.start_s * pcm.RATE) * 2
        assert data[start : start + len(phrase.data)] == phrase.data
        assert phrase.seconds < 3.5


@pytest.mark.parametrize("size", [2, 500, 4096, 10**6])
def test_block_length_makes_no_difference(size: int) -> None:
    data = stream()[: pcm.RATE * 2 * 6]
    assert cut(data, size) == cut(data, 960)


def test_quiet_and_nothing_give_no_phrase() -> None:
    assert cut(quiet(5).tobytes(), 960) == []
    assert cut(bytes(160000), 960) == []
    assert cut(b"", 960) == []


def test_the_end_of_the_stream_ends_the_phrase() -> None:
    endpointer = Endpointer()
    sound = pcm.read(DATA / "cards-005.flac").tobytes()
    assert list(endpointer.feed(sound[: len(sound) // 2])) == []
    assert endpointer.in_speech
    assert len(list(endpointer.flush())) == 1 and not endpointer.in_speech
    assert list(endpointer.flush()) == []


def test_a_phrase_without_end_is_cut() -> None:
    sound = pcm.read(DATA / "prose-0870.flac").tobytes()
    phrases = cut(sound, 960, longest_s=2.0)
    assert max(phrase.seconds for phrase in phrases) == pytest.approx(2.0, abs=0.05)
    assert len(phrases) >= 3
