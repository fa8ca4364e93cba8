"""Publishing by many at once, killed at any moment, and with the server killed in the middle."""

from __future__ import annotations

import os
import random
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from assistant.journal.publication import publish
from assistant.journal.server import Server, Unreachable
from assistant.journal.store import Journal
from tests.journal.postgres import Postgres, filled, forked, grow, killed_after, query
from tests.journal.test_publication import same

BATCH = 2500
"""Bytes: so that a job takes many transactions."""


def send(path: Path, url: str, tell: Callable[[str], object] = lambda text: None) -> None:
    """Publish, as a process of its own does."""
    journal = Journal(path, create=False)
    outcome = publish(journal, Server(url), lambda text: tell(text) and None, most_bytes=BATCH)
    assert not outcome.refused, outcome.refused


def events_there(url: str) -> int:
    (row,) = query(url, "SELECT to_regclass('event')::text")
    return int(query(url, "SELECT count(*) FROM event")[0][0]) if row[0] else 0


def events_in(journal: Journal) -> int:
    return sum(len(list(journal.links(n))) for n in journal.numbers())


def at_once(url: str, tmp_path: Path, benches: int, each: int, jobs: int, turns: int) -> None:
    journals = [
        filled(tmp_path / f"{n}.db", f"bench-{n}", jobs=jobs, turns=turns) for n in range(benches)
    ]
    pids = [forked(lambda j=j: send(j.path, url)) for j in journals for _ in range(each)]
    assert [os.waitpid(pid, 0)[1] for pid in pids] == [0] * len(pids)
    for journal in journals:
        same(journal, url)
    assert events_there(url) == sum(map(events_in, journals))


def test_benches_publish_at_once_into_an_empty_database(tmp_path: Path, shop_url: str) -> None:
    # Two benches, and two publishers of each journal: they also make the schema at once.
    at_once(shop_url, tmp_path, benches=2, each=2, jobs=3, turns=25)


@pytest.mark.slow
def test_many_benches_publish_at_once(tmp_path: Path, shop_url: str) -> None:
    at_once(shop_url, tmp_path, benches=6, each=3, jobs=5, turns=60)


def killed_again_and_again(path: Path, url: str, kills: int, jobs: int, turns: int) -> int:
    """Kill publishers at random moments; return how many died after something had come of them."""
    chance = random.Random(kills)
    journal = filled(path, "bench-k", jobs=jobs, turns=turns)
    in_the_middle = 0
    for _ in range(kills):
        before = events_there(url)
        if before == events_in(journal):
            # More to say, so that there is always something left to be killed at.
            grow(journal, journal.numbers()[chance.randrange(jobs - 1)], turns=turns)
        hear, say = os.pipe()

        def work(hear: int = hear, say: int = say) -> None:
            os.close(hear)
            send(path, url, lambda text: os.write(say, b"."))

        pid = forked(work)
        os.close(say)
        # So many batches from now, and somewhere in the one after.
        for _ in range(chance.randrange(12)):
            os.read(hear, 1)
        killed = killed_after(pid, chance.uniform(0, 0.008))
        os.close(hear)
        there = events_there(url)
        if there:
            same(journal, url, all_of_it=False)
        in_the_middle += killed and before < there
    send(path, url)
    same(journal, url)
    return in_the_middle


def test_killed_at_random_moments_it_leaves_nothing_half_visible(
    tmp_path: Path, shop_url: str
) -> None:
    assert killed_again_and_again(tmp_path / "a.db", shop_url, kills=25, jobs=3, turns=20) >= 10


@pytest.mark.slow
def test_killed_three_hundred_times(tmp_path: Path, shop_url: str) -> None:
    assert killed_again_and_again(tmp_path / "a.db", shop_url, kills=300, jobs=4, turns=30) >= 100


@pytest.fixture
def mortal() -> Iterator[Postgres]:
    server = Postgres()
    yield server
    server.start()
    server.close()


def server_killed(tmp_path: Path, server: Postgres, times: int) -> None:
    """Kill the server under a publisher, again and again; each run goes on from what is there."""
    chance = random.Random(times)
    journal = filled(tmp_path / "a.db", "bench-a", jobs=4, turns=60)
    url, lost = server.url(), 0
    for _ in range(times):
        shop = Server(url)
        batches = threading.Semaphore(0)

        def kill_it(batches: threading.Semaphore = batches) -> None:
            for _ in range(chance.randrange(1, 12)):
                batches.acquire(timeout=10)
            server.kill()

        killer = threading.Thread(target=kill_it)
        killer.start()
        try:
            publish(journal, shop, lambda text, b=batches: b.release(), most_bytes=BATCH)
        except Unreachable:
            lost += 1
        batches.release(12)
        killer.join()
        shop.close()
        server.start()
        there = events_there(url)
        if there:
            same(journal, url, all_of_it=False)
        if there == events_in(journal):
            grow(journal, 1, turns=60)
    assert lost >= times // 2
    shop = Server(url)
    publish(journal, shop)
    same(journal, url)
    shop.close()


def test_the_server_killed_in_the_middle_and_started_again(
    tmp_path: Path, mortal: Postgres
) -> None:
    server_killed(tmp_path, mortal, times=2)


@pytest.mark.slow
def test_the_server_killed_many_times(tmp_path: Path, mortal: Postgres) -> None:
    server_killed(tmp_path, mortal, times=15)
