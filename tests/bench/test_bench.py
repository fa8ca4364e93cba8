"""The loop: what is taken, what is asked for again, and what is left unanswered."""

from pathlib import Path

import pytest

from assistant.dialogue import events
from assistant.recognition.utterance import Verdict
from tests.bench_helpers import Hands, flac


@pytest.mark.parametrize(
    ("verdict", "answer"),
    [
        (Verdict.ACCEPTED, "Nothing is recorded"),
        (Verdict.DOUBTFUL, "Say again."),
        (Verdict.REJECTED, ""),
    ],
)
def test_a_doubtful_command_is_asked_for_again_and_talk_is_not_answered(
    tmp_path: Path, verdict: Verdict, answer: str
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm")
    said = hands.hear("read back", verdict, confidence=0.5)
    assert said.startswith(answer) and bool(said) is bool(answer)


def test_a_doubtful_number_is_asked_for_digit_by_digit(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "next step", "affirm", "go to step four")
    said = hands.hear("tightened one four", Verdict.DOUBTFUL, confidence=0.5)
    assert said == "Say again, digit by digit, as in one four."
    assert not hands.events("reading recorded")


def test_free_speech_after_note_is_the_note(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.hear("note", sound=b"sounds", free_speech=True)
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded)
    assert note.heard is not None
    assert hands.bench.journal.clip(note.heard.clip or 0) == flac(b"sounds")


def test_say_again_still_repeats_the_last_reply_after_a_doubtful_phrase(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    said = hands.say("affirm")
    hands.hear("next", Verdict.DOUBTFUL, confidence=0.3)
    assert hands.say("say again") == said
