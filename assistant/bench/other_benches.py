"""What other benches did on a unit, from the shop's database, without anybody waiting for it.

The database is looked into by a thread of its own, from when the job is begun or taken up. Whoever
asks waits no longer than `PATIENCE_S`; a database that is away, or slow, is said to be away once,
until it has answered again.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Future
from threading import Thread

from assistant.journal import earlier
from assistant.journal.earlier import Found, ThisJob
from assistant.journal.records import Records

PATIENCE_S = 1.5
"""How long an answer may keep somebody waiting; a database of the shop's own network takes a few
hundredths of that, and two seconds of silence sound like not having been heard."""


class OtherBenches:
    """Looks for earlier jobs in the shop's database; `open_shop` connects to it.

    `open_shop` may raise AssistantError; it is called in a thread, and what it returns is used and
    closed there.
    """

    def __init__(self, open_shop: Callable[[], Records], patience_s: float = PATIENCE_S) -> None:
        self._open = open_shop
        self._patience_s = patience_s
        self._of: ThisJob | None = None
        self._looking: Future[Found] | None = None
        self._said_away = False

    def begin(self, of: ThisJob) -> None:
        """Begin to look for the jobs before a job. Returns at once, and raises nothing."""
        self._of, self._looking = of, Future()
        # A daemon: a database that never answers must not keep the program from ending.
        Thread(
            target=self._look, args=(of, self._looking), name="other-benches", daemon=True
        ).start()

    def _look(self, of: ThisJob, answer: Future[Found]) -> None:
        try:
            shop = self._open()
            try:
                answer.set_result(earlier.look(shop, of))
            finally:
                shop.close()
        except Exception as error:
            # Whatever is wrong with the shop's database, the job at the bench goes on.
            if not answer.done():
                answer.set_exception(error)

    def found(self, of: ThisJob) -> tuple[Found | None, bool]:
        """Return what was found, None where the database is away; and whether to say that it is.

        Where it was away, it is looked into again meanwhile.
        """
        looking = self._looking
        if looking is None or self._of != of or _failed(looking):
            self.begin(of)
            looking = self._looking
        assert looking is not None
        try:
            found = looking.result(self._patience_s)
        except Exception:
            say, self._said_away = not self._said_away, True
            return None, say
        self._said_away = False
        return found, False


def _failed(looking: Future[Found]) -> bool:
    return looking.done() and looking.exception() is not None
