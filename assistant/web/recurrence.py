"""What recurs, for the board: what each job found is kept, because a job only ever grows."""

from __future__ import annotations

from cachetools import LRUCache

from assistant.journal.records import Records
from assistant.report import recurring
from assistant.report.recurring import Recurring, Seen

RECENT = 1_000
"""Jobs, the latest first, that are looked at: a second or so at first, then hardly any."""


class Recurrence:
    """What recurs in the latest jobs of a record."""

    def __init__(self, records: Records) -> None:
        self._records = records
        self._seen: LRUCache[tuple[str, int], Seen] = LRUCache(2 * RECENT)

    def listed(self) -> tuple[tuple[Recurring, ...], list[int]]:
        """Return what recurs, and the numbers of the jobs that cannot be read."""
        found: list[Seen] = []
        unreadable: list[int] = []
        for job in self._records.jobs(RECENT):
            key = (job.uid, job.events)
            if key not in self._seen:
                seen, bad = recurring.gather(self._records, [job])
                unreadable += bad
                self._seen.update((key, one) for one in seen)
            if key in self._seen:
                found.append(self._seen[key])
        return recurring.over(found), unreadable
