"""The loop: what is taken, what is asked for again, and what is left unanswered."""

from pathlib import Path

import pytest

from assistant.dialogue import events
from tests.bench_helpers import Hands


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
    heard = events.Heard(words="read back", confidence=0.5, recogniser="test")
    hands.bench.spoken(heard, accepted, lambda: b"", doubtful=doubtful)
    assert [reply[: len(answer[0])] for reply in hands.notes.replies] == answer


def test_a_doubtful_number_is_asked_for_digit_by_digit(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "next step", "affirm", "go to step four")
    hands.notes.replies.clear()
    heard = events.Heard(words="tightened one four", confidence=0.5, recogniser="test")
    hands.bench.spoken(heard, False, lambda: b"", doubtful=True)
    assert hands.notes.replies == ["Say again, digit by digit, as in one four."]
    assert not hands.events("reading recorded")


def test_free_speech_after_note_is_the_note(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    heard = events.Heard(words="note", confidence=0.9, recogniser="test")
    hands.bench.spoken(heard, True, lambda: b"sound", free_speech=True)
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded)
    assert note.heard is not None
    assert hands.bench.journal.clip(note.heard.clip or 0) == b"sound"


def test_say_again_still_repeats_the_last_reply_after_a_doubtful_phrase(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    said = hands.say("affirm")
    hands.bench.spoken(
        events.Heard(words="next", confidence=0.3, recogniser="test"),
        False,
        lambda: b"",
        doubtful=True,
    )
    assert hands.say("say again") == said
