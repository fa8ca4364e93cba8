"""A real PostgreSQL for the tests, from pip alone; and journals to fill it from."""

from __future__ import annotations

import os
import random
import shutil
import signal
import tempfile
import time
import uuid
import warnings
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import Any
from zlib import crc32

import pytest

from assistant.dialogue import events
from assistant.journal.store import Journal

AT = datetime(2031, 3, 4, 9, 0, tzinfo=UTC).astimezone(timezone(timedelta(hours=2)))
WORDS = ("drain plug", "circlip", "end plate", "earth lead")


class Postgres:
    """One server with a folder of its own, that can be killed and started again."""

    def __init__(self) -> None:
        # It has no wheel yet for the latest Pythons; nothing else here needs it.
        pgserver = pytest.importorskip("pgserver")
        self.folder = Path(tempfile.mkdtemp(prefix="bench-pg-"))
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            self._server: Any = pgserver.get_server(self.folder, cleanup_mode="stop")

    def url(self, database: str = "postgres") -> str:
        return str(self._server.get_uri(database)).replace("postgres:@", "postgres@")

    def run(self, sql: str, database: str = "postgres") -> list[tuple[Any, ...]]:
        return query(self.url(database), sql)

    def kill(self) -> None:
        """SIGKILL the whole server: the postmaster first, so that it restarts nobody."""
        import psutil

        master = psutil.Process(self._server.get_pid())
        children = master.children(recursive=True)
        for process in (master, *children):
            try:
                process.kill()
            except psutil.NoSuchProcess:
                continue
        psutil.wait_procs([master, *children], timeout=10)

    def start(self) -> None:
        self._server.ensure_postgres_running()

    def close(self) -> None:
        self._server.cleanup()
        shutil.rmtree(self.folder, ignore_errors=True)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """One server for the whole session; not to be killed."""
    server = Postgres()
    # It is thrown away: nothing here shows what a loss of power does to PostgreSQL itself.
    server.run("ALTER SYSTEM SET fsync = off")
    server.run("SELECT pg_reload_conf()")
    yield server
    server.close()


@pytest.fixture
def shop_url(postgres: Postgres) -> Iterator[str]:
    """A new, empty database."""
    name = f"t{uuid.uuid4().hex[:12]}"
    postgres.run(f"CREATE DATABASE {name}")
    yield postgres.url(name)
    postgres.run(f"DROP DATABASE {name} WITH (FORCE)")


def query(url: str, sql: str, *values: Any) -> list[tuple[Any, ...]]:
    """Ask the database past our own code."""
    import psycopg

    with psycopg.connect(url, autocommit=True) as db:
        found = db.execute(sql, values)
        return list(found.fetchall()) if found.description else []


def opened(title: str = "Small box", unit: str | None = "serial 4") -> events.JobOpened:
    return events.JobOpened(
        at=AT, turn=0, procedure="p", title=title, revision="1", sample=True, source="x", unit=unit
    )


def grow(journal: Journal, job: int, turns: int, seed: int = 0, sound: int = 3000) -> None:
    """Add turns of one to three events, every third with a clip."""
    chance = random.Random(f"{job} {seed}")
    head = journal.head(job)
    place = head.place if head else 0
    for turn in range(place, place + turns):
        at = AT + timedelta(seconds=turn)
        clip = chance.randbytes(chance.randrange(1, sound)) if turn % 3 == 0 else None
        heard = events.Heard(words="drain plug worn", confidence=chance.random(), recogniser="test")
        history: list[events.Event] = [
            events.FindingRecorded(
                at=at,
                turn=turn,
                step="a",
                heard=heard,
                part=chance.choice(WORDS),
                condition="worn",
                place=f"side {n}",
            )
            for n in range(chance.randrange(1, 4))
        ]
        place += len(journal.append(job, place, history, clip))


def filled(path: Path, bench: str, jobs: int, turns: int) -> Journal:
    """A journal with so many jobs, the last one closed."""
    journal = Journal(path, bench=bench)
    for number in range(jobs):
        job = journal.open_job([opened(f"Box {number} of {bench}", f"serial {number}")])
        grow(journal, job, turns, seed=crc32(bench.encode()))
    head = journal.head(job)
    assert head
    journal.append(job, head.place, [events.JobClosed(at=AT, turn=10**6)])
    return journal


def forked(work: Callable[[], object]) -> int:
    """Run the work in a process of its own; return its id. It exits with 0, or 1 on any error."""
    pid = os.fork()
    if pid:
        return pid
    try:
        work()
        os._exit(0)
    except BaseException:
        import traceback

        traceback.print_exc()
        os._exit(1)


def killed_after(pid: int, seconds: float) -> bool:
    """SIGKILL the process after some time; return whether it had not ended by itself."""
    time.sleep(seconds)
    os.kill(pid, signal.SIGKILL)
    return os.WIFSIGNALED(os.waitpid(pid, 0)[1])
