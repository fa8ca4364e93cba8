"""A shift by ear: recordings of voices that nothing was set on, from the lobby into a job."""

from pathlib import Path

import pytest

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.bench import ears as bench_ears
from assistant.bench import recordings
from assistant.bench.addressing import Addressing, Way
from assistant.bench.shift import Shift, on_offer, respellings
from assistant.dialogue import events
from assistant.journal.clock import local_now
from assistant.journal.store import Journal
from assistant.recognition.sphinx import PocketSphinx
from assistant.recognition.two_pass import TwoPassRecogniser
from tests.bench_helpers import Notes, bench
from tests.benchmark import voices

SAID = (
    "this is ann",
    "what jobs are open",
    "new job",
    "pump rebuild",
    "affirm",
    "affirm",
    "start drain timer five minutes",
    "speak slower",
    "bo here",
    "set job aside",
    "open job one",
    "time left",
)


def test_between_jobs_it_is_called_by_its_word_too(tmp_path: Path) -> None:
    journal, notes = Journal(tmp_path / "journal.db"), Notes()
    shift = Shift(journal, on_offer(None, notes.refused.append))
    at = bench(journal, notes, local_now, shift=shift)
    at.come_in()
    files = []
    said = ("new job", "bench", "bench new job", "pump rebuild", "new job unwritten")
    for number, text in enumerate(said):
        files.append(tmp_path / f"{number}.wav")
        pcm.write_wav(Pcm(voices.speak(text, "heart", 0.3)), files[-1])
    recordings.play(at, TwoPassRecogniser(PocketSphinx()), files, Addressing(Way.CALL_WORD))
    assert [reply.split(".")[0] for reply in notes.replies[1:]] == [
        "Listening",
        "Which procedure? Cylinder head, pump rebuild and winch gearbox",
        "New job, pump rebuild",
        "New job, unwritten",
    ]


@pytest.mark.parametrize("voice", ["heart", "quick"])
def test_a_whole_round_by_voice(tmp_path: Path, voice: str) -> None:
    journal, notes = Journal(tmp_path / "journal.db"), Notes()
    procedures = on_offer(None, notes.refused.append)
    ears = bench_ears.build("pocketsphinx", None, None, respellings(journal, procedures))
    shift = Shift(journal, procedures)
    at = bench(journal, notes, local_now, technicians=("Ann", "Bo"), shift=shift)
    at.come_in()
    files = []
    for number, text in enumerate(SAID):
        files.append(tmp_path / f"{number}.wav")
        pcm.write_wav(Pcm(voices.speak(text, voice, 0.3)), files[-1])
    recordings.play(at, ears, files)
    assert notes.refused == []
    assert notes.manner.rate == 130
    assert "Drain, four minutes and" in notes.replies[-1]
    history = journal.events(1)
    kinds = [
        (event.kind, event.by) for event in history if not isinstance(event, events.StepEntered)
    ]
    assert kinds == [
        ("job opened", "Ann"),
        ("hazards heard", "Ann"),  # The procedure's own, and those of step one.
        ("hazards heard", "Ann"),
        ("timer started", "Ann"),
        ("signed on", "Bo"),
        ("job taken up", "Bo"),
    ]
