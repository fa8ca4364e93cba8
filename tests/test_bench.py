"""The loop: what is taken, what is asked for again, and what is left unanswered."""

from pathlib import Path

import pytest

from assistant.session import events as ev
from tests.bench_helpers import Hands


@pytest.mark.parametrize(
    ("confidence", "accepted", "answer"),
    [(0.9, True, ["Nothing is recorded"]), (0.4, False, ["Say again."]), (0.05, False, [])],
)
def test_a_doubtful_command_is_asked_for_again_and_talk_is_not_answered(
    tmp_path: Path, confidence: float, accepted: bool, answer: list[str]
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm")
    hands.notes.replies.clear()
    heard = ev.Heard(words="read back", confidence=confidence, recogniser="test")
    hands.bench.spoken(heard, accepted, lambda: b"")
    assert [reply[: len(answer[0])] for reply in hands.notes.replies] == answer


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
        ev.Heard(words="next", confidence=0.3, recogniser="test"), False, lambda: b""
    )
    assert hands.say("say again") == said
