"""What a bench remembers, and how it speaks."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.audio import manner, voice
from assistant.audio.manner import Manner
from assistant.audio.synthesis import Synthesiser
from assistant.bench import settings
from assistant.dialogue.intents import Change
from assistant.errors import AssistantError
from tests.bench_helpers import SMALL, Hands


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "config" / "settings.json"
    monkeypatch.setattr(settings, "place", lambda: path)
    return path


def test_how_it_speaks_is_remembered_beside_the_rest(place: Path) -> None:
    assert settings.read() == settings.Settings()
    place.parent.mkdir()
    place.write_text('{"technicians": ["Ann"], "of a later version": 1}', encoding="utf-8")
    settings.remember(manner=Manner(rate=170))
    assert settings.read() == settings.Settings(manner=Manner(rate=170), technicians=("Ann",))


@pytest.mark.parametrize(
    "text",
    [
        "",
        "no json",
        '{"manner": {"rate": 10000}}',
        '{"manner": {"volume": 0}}',
        '{"technicians": 1}',
        '{"technicians": ["Ann 2"]}',
    ],
)
def test_a_file_that_is_none_is_left_as_it_is(place: Path, text: str) -> None:
    place.parent.mkdir()
    place.write_text(text, encoding="utf-8")
    with pytest.raises(AssistantError, match="cannot be read as settings"):
        settings.remember(manner=Manner())
    assert place.read_text(encoding="utf-8") == text


@given(some.lists(some.sampled_from(Change)))
def test_every_manner_that_can_be_asked_for_is_within_bounds(changes: list[Change]) -> None:
    spoken = Manner()
    for change in changes:
        spoken = spoken.changed(change)
        assert Manner.model_validate(spoken.model_dump()) == spoken


def test_there_is_a_last_step_each_way() -> None:
    for change in Change:
        spoken = Manner()
        for _ in range(20):
            spoken = spoken.changed(change)
        assert spoken == spoken.changed(change)
        assert spoken.rate in (150, manner.SLOWEST, manner.FASTEST)


def test_it_is_said_back_in_the_new_manner_and_leaves_nothing_in_the_record(
    tmp_path: Path,
) -> None:
    hands = Hands(tmp_path / "journal.db")
    told: list[Manner] = []
    hands.bench.presenter.remember_manner = told.append
    said: list[int] = []
    hands.notes.on_saying = lambda text: said.append(hands.notes.manner.rate)
    before = hands.bench.journal.events(hands.bench.job)
    last = hands.say("where are we")
    assert hands.say("slower") == "Slower."
    assert said[-1] == 130 and told[-1].rate == 130
    assert hands.say("speak louder") == "Louder."
    assert hands.say("say again") == last
    for _ in range(5):
        answer = hands.say("slower")
    assert answer == "I cannot speak any slower."
    assert hands.bench.journal.events(hands.bench.job) == before


def test_what_is_asked_is_asked_again_in_the_new_manner(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.at_close()
    asked = hands.say("affirm", "tightened four zero")
    assert hands.say("slower") == f"Slower. {asked}"


class Loudspeaker:
    """Takes what is played, as the real one does."""

    def __init__(self) -> None:
        self.played: list[np.ndarray] = []

    def open(self) -> None:
        pass

    def play(self, sound: np.ndarray, rate: int) -> None:
        self.played.append(sound)

    def wait(self) -> None:
        pass


@pytest.mark.parametrize("change", Change)
def test_the_voice_speaks_so(change: Change) -> None:
    loudspeaker = Loudspeaker()
    speaker = voice.SpokenVoice(loudspeaker, tones=False)  # type: ignore[arg-type]
    for spoken in (Manner(), Manner().changed(change).changed(change), Manner()):
        speaker.manner = spoken
        speaker.say("One four newton metres.")
    first, then, again = loudspeaker.played
    length = len(then) / len(first)
    level = np.abs(then).max() / np.abs(first).max()
    assert {
        Change.SLOWER: length > 1.15,
        Change.FASTER: length < 0.9,
        Change.LOUDER: level > 1.9,
        Change.SOFTER: level < 0.55,
    }[change]
    assert len(again) == len(first)


def test_the_engine_takes_each_rate_at_once() -> None:
    made: list[int] = []
    synthesiser = Synthesiser()
    for rate in (100, 150, 220, 151, 101, 221):
        synthesiser.make(
            "One four newton metres.", rate, lambda speech: made.append(len(speech.samples))
        )
    synthesiser.wait()
    slow, usual, fast, usual_again, slow_again, fast_again = made
    assert slow > 1.3 * usual > 1.5 * fast
    assert [slow_again, usual_again, fast_again] == pytest.approx([slow, usual, fast], rel=0.05)


def test_a_bad_file_is_told_and_keeps_nobody_from_working(tmp_path: Path) -> None:
    config = tmp_path / "bench-assistant"
    config.mkdir()
    (config / "settings.json").write_text("{", encoding="utf-8")
    (tmp_path / "small.yaml").write_text(SMALL, encoding="utf-8")
    done = subprocess.run(
        [
            *(sys.executable, "-m", "assistant", "run", str(tmp_path / "small.yaml"), "--typed"),
            *("--journal", str(tmp_path / "j.db")),
        ],
        input="slower\n",
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "XDG_CONFIG_HOME": str(tmp_path)},
    )
    assert done.returncode == 0
    assert "The usual settings are taken." in done.stderr
    assert "The voice is not remembered." in done.stderr
    assert "Slower." in done.stdout
