"""Whether there is a newer revision of the procedure that a job is worked from."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Iterator
from pathlib import Path

from assistant import resources
from assistant.dialogue.events import Event, JobOpened
from assistant.dialogue.revising import Newer
from assistant.errors import AssistantError
from assistant.procedure import reading
from assistant.procedure.model import Procedure
from assistant.procedure.reading import Loaded

_log = logging.getLogger(__name__)


def find(opened: Event, now: Procedure, offered: Iterable[Loaded] = ()) -> Newer | None:
    """Return the newest revision of a job's procedure; None where the job is worked from that.

    `now` is what the job is worked from. Looked at are the file that the job was begun from, as it
    stands today, and the procedures on offer. One that nobody has approved does not take the place
    of one that somebody has. What cannot be used is warned of, and never in the way.
    """
    if not isinstance(opened, JobOpened) or now.unwritten is not None:
        return None
    found: Newer | None = None
    for loaded in (*_of_file(opened.file), *offered):
        best = found.procedure if found else now
        if _is_newer(loaded.procedure, best):
            found = Newer(loaded.procedure, loaded.text)
    return found


def _of_file(name: str | None) -> Iterator[Loaded]:
    if name is None or not resources.is_file(Path(name)):
        return
    try:
        yield reading.load(Path(name))
    except AssistantError as error:
        _log.warning("The job goes on with its own text; its file cannot be used. %s", error)


def _is_newer(one: Procedure, than: Procedure) -> bool:
    """Whether one text is a newer revision than another, which may say so in several ways."""
    if one.procedure != than.procedure:
        return False
    if one.revision == than.revision:
        if one != than:
            _log.warning(
                "The procedure was changed and is still called revision %s. The job goes on with "
                "its own text; give the changed one a revision of its own.",
                one.revision,
            )
        return False
    if than.approved and not one.approved:
        return False
    if one.supersedes == than.revision:
        return True
    if than.supersedes == one.revision:
        return False
    return one.date is None or than.date is None or one.date > than.date
