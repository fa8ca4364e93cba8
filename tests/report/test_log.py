"""The plain log against the journal."""

from assistant.report import log, wording
from tests.report.whole_job import Job


def _lines(job: Job) -> list[str]:
    return list(log.lines(job.events, job.hands.procedure))


def test_every_event_has_a_line_in_the_order_of_the_journal(job: Job) -> None:
    lines = _lines(job)
    assert len(lines) == len(job.events)
    for line, event in zip(lines, job.events, strict=True):
        assert line.startswith(f"{event.at:%Y-%m-%d %H:%M:%S}")
        assert wording.event(event) in line
        if event.step:
            number = job.hands.procedure.index(event.step) + 1
            assert f"  step {number} " in line


def test_heard_words_stand_once_with_their_confidence(job: Job) -> None:
    lines = _lines(job)
    assert "[heard “circlip missing drum side”, testear 0.87, clip 1]" in lines[3]
    assert sum("“correction reading 25.07”" in line for line in lines) == 1


def test_what_was_taken_back_says_so(job: Job) -> None:
    marked = [line for line in _lines(job) if "[withdrawn 2" in line or "[corrected 2" in line]
    assert len(marked) == 2
    assert "drain plug worn" in marked[0] and "[withdrawn 2031-03-04 11:01:20]" in marked[0]
    assert "24.98 mm" in marked[1] and "[corrected" in marked[1]


def test_a_note_cannot_drive_the_terminal(job: Job) -> None:
    events = [
        event.model_copy(update={"text": "\x1b[2Jgone\u202e\nforged"})
        if event.kind == "note"
        else event
        for event in job.events
    ]
    text = "".join(log.lines(events, job.hands.procedure))
    assert "\x1b" not in text and "\u202e" not in text and "\n" not in text
    assert "[2Jgone forged" in text
