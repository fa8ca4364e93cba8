"""Recordings played to a bench that is called by a word."""

from pathlib import Path

import numpy as np
import pytest

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.bench import recordings
from assistant.bench.addressing import Addressing, Way
from assistant.recognition.sphinx import PocketSphinx
from assistant.recognition.two_pass import TwoPassRecogniser
from tests.bench_helpers import Hands
from tests.benchmark import voices
from tests.fixtures import AUDIO


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db")
    hands.notes.replies.clear()
    return hands


def _play(hands: Hands, addressing: Addressing, *said: str | float) -> list[str]:
    """Play phrases, and pauses in seconds, one after another; return the replies."""
    hands.notes.replies.clear()
    files = []
    for number, part in enumerate(said):
        quiet = (
            np.random.default_rng(1).normal(0, 10, int(part * 16000))
            if isinstance(part, float)
            else None
        )
        sound = voices.speak(part, "heart", 0.3) if isinstance(part, str) else quiet
        file = hands.path.with_name(f"{number}.wav")
        pcm.write_wav(Pcm(np.asarray(sound).astype(np.int16)), file)
        files.append(file)
    recordings.play(hands.bench, TwoPassRecogniser(PocketSphinx()), files, addressing)
    return hands.notes.replies


def test_only_what_is_called_and_what_follows_an_answer_is_taken(hands: Hands) -> None:
    addressing = Addressing(Way.CALL_WORD)
    replies = _play(hands, addressing, "affirm", 9.0, "bench affirm", "bag one", 9.0, "next step")
    assert len(replies) == 2 and "Bag one. Recorded." in replies[1]
    replies = _play(hands, addressing, "bench", "where are we")
    assert replies[0] == "Listening." and "Step one" in replies[1]
    assert hands.notes.refused == []


def test_it_stands_by_until_it_is_called(hands: Hands) -> None:
    addressing = Addressing(Way.CALL_WORD)
    replies = _play(hands, addressing, "bench stand by", "resume", 1.0, "bench resume")
    assert len(replies) == 2
    assert not hands.bench.state.standing_by


def test_without_its_key_it_hears_nothing(hands: Hands) -> None:
    for way in (Way.KEY_HELD, Way.KEY_TAPPED):
        assert _play(hands, Addressing(way), "affirm") == []


def test_talk_to_others_is_not_taken_nor_answered(hands: Hands) -> None:
    files = sorted((AUDIO.parent / "tests" / "audio" / "data").glob("prose-*.flac"))
    assert len(files) == 5
    recordings.play(
        hands.bench, TwoPassRecogniser(PocketSphinx()), files, Addressing(Way.CALL_WORD)
    )
    assert hands.notes.replies == [] and hands.notes.refused == []
