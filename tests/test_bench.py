"""The loop: what is taken, what is asked for again, and what is left unanswered."""

import time
from contextlib import nullcontext, suppress
from datetime import timedelta
from pathlib import Path

import pytest

from assistant import listening
from assistant.audio import microphone, pcm
from assistant.session import events as ev
from tests.bench_helpers import Hands
from tests.fixtures import AUDIO


@pytest.mark.parametrize(
    ("accepted", "doubtful", "answer"),
    [
        (True, False, ["Nothing is recorded"]),
        (False, True, ["Say again."]),
        (False, False, []),
    ],
)
def test_a_doubtful_command_is_asked_for_again_and_talk_is_not_answered(
    tmp_path: Path, accepted: bool, doubtful: bool, answer: list[str]
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm")
    hands.notes.replies.clear()
    heard = ev.Heard(words="read back", confidence=0.5, recogniser="test")
    hands.bench.spoken(heard, accepted, lambda: b"", doubtful=doubtful)
    assert [reply[: len(answer[0])] for reply in hands.notes.replies] == answer


def test_a_doubtful_number_is_asked_for_digit_by_digit(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "next step", "affirm", "go to step four")
    hands.notes.replies.clear()
    heard = ev.Heard(words="tightened one four", confidence=0.5, recogniser="test")
    hands.bench.spoken(heard, False, lambda: b"", doubtful=True)
    assert hands.notes.replies == ["Say again, digit by digit, as in one four."]
    assert not hands.events("reading recorded")


def test_free_speech_after_note_is_the_note(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    heard = ev.Heard(words="note", confidence=0.9, recogniser="test")
    hands.bench.spoken(heard, True, lambda: b"sound", free_speech=True)
    (note,) = hands.events("note")
    assert isinstance(note, ev.NoteRecorded)
    assert note.heard is not None
    assert hands.bench.journal.clip(note.heard.clip or 0) == b"sound"


def test_say_again_still_repeats_the_last_reply_after_a_doubtful_phrase(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    said = hands.say("affirm")
    hands.bench.spoken(
        ev.Heard(words="next", confidence=0.3, recogniser="test"),
        False,
        lambda: b"",
        doubtful=True,
    )
    assert hands.say("say again") == said


@pytest.mark.parametrize("timer_is_due", [True, False])
def test_it_does_not_answer_its_own_announcement(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, timer_is_due: bool
) -> None:
    # What the microphone gives from its first block on: somebody, or the loudspeaker, "affirm".
    sound = pcm.read(AUDIO / "demo" / "001.flac").tobytes() + bytes(3 * 2 * pcm.RATE)
    size = round(microphone.BLOCK_S * pcm.RATE) * 2
    stream = [sound[at : at + size] for at in range(0, len(sound), size)]
    monkeypatch.setattr(microphone, "blocks", lambda: nullcontext(iter(stream)))
    hands = Hands(tmp_path / "journal.db")
    hands.say("start timer ten minutes")
    hands.now += timedelta(minutes=11 if timer_is_due else 1)
    spoken = len(pcm.read(AUDIO / "demo" / "001.flac").samples) / pcm.RATE
    hands.notes.on_saying = lambda text: time.sleep(spoken + 0.5)
    ears = listening.ears("pocketsphinx", None, None, {})
    # A real microphone never ends; this one does while blocks are being passed over.
    with suppress(StopIteration):
        listening.from_microphone(hands.bench, ears)
    assert bool(hands.events("timer rang")) is timer_is_due
    assert bool(hands.events("hazards heard")) is not timer_is_due
