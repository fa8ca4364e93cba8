"""Makes the transcripts of a job's clips that are missing, after the work."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from assistant.audio import pcm
from assistant.errors import AssistantError
from assistant.journal.clock import local_now
from assistant.journal.records import Transcript
from assistant.journal.store import Journal
from assistant.recognition.recogniser import Transcriber


def transcribe(
    journal: Journal, job: int, recogniser: Callable[[], Transcriber], *, again: bool = False
) -> Iterator[tuple[int, Transcript | AssistantError]]:
    """Make and keep the transcripts that a job's clips lack; yield each as it is made.

    With `again`, also those of clips that another recogniser has transcribed. Yields the clip's
    number with its transcript, or with what was wrong with the clip. A transcript without any text
    is not kept. `recogniser` is called only if there is anything to transcribe.
    """
    there = journal.transcripts(job)
    named = {e.heard.clip_sha256: e.heard.clip for e in journal.events(job) if e.heard}
    wanted = {
        digest: number
        for digest, number in named.items()
        if digest is not None and number is not None and (again or digest not in there)
    }
    if not wanted:
        return
    listener = recogniser()
    for digest, number in wanted.items():
        if any(made.recogniser == listener.name for made in there.get(digest, ())):
            continue
        try:
            text = listener.transcribe(pcm.read_flac(journal.clip(number)))
        except AssistantError as error:
            yield number, error
            continue
        made = Transcript(text, listener.name, local_now())
        if text:
            journal.add_transcript(job, digest, made)
        yield number, made
