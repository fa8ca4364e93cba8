"""Last time, from the shop's database as well: what other benches did on a unit."""

from __future__ import annotations

import io
import json
import platform
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from assistant.bench import settings
from assistant.bench.other_benches import OtherBenches
from assistant.cli import main as cli
from assistant.dialogue.wording import brief
from assistant.errors import AssistantError
from assistant.journal.publication import publish
from assistant.journal.server import Server, Unreachable
from assistant.journal.shop import Shop
from assistant.journal.store import Journal
from tests.bench_helpers import SMALL, Hands
from tests.journal.postgres import postgres, shop_url

__all__ = ["postgres", "shop_url"]

AWAY = "The shop's database does not answer"


@pytest.fixture
def elsewhere(tmp_path: Path, shop_url: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[str]:
    """A shop's database with a job of another bench on unit A1, and one on A2."""
    monkeypatch.setattr(platform, "node", lambda: "bench 2")
    hands = Hands(tmp_path / "there.db", open_job=False)
    hands.now = hands.now.replace(year=2021)
    for unit, phrase in (("A1", "circlip worn drum side renew"), ("A2", "end plate bent")):
        _begin(hands, unit)
        hands.say("affirm", phrase, "close job", "affirm")
    hands.bench.journal.close()
    send(tmp_path / "there.db", shop_url)
    monkeypatch.setattr(platform, "node", lambda: "bench 1")
    yield shop_url


def send(path: Path, url: str) -> None:
    with closing(Journal(path)) as journal:
        assert not publish(journal, Server(url)).refused


def _begin(hands: Hands, unit: str | None) -> None:
    hands.now += timedelta(days=31)
    hands.bench.open(hands.procedure, SMALL, unit=unit)


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    found = Hands(tmp_path / "here.db", open_job=False)
    found.now += timedelta(days=200)
    return found


def test_what_another_bench_did_on_the_unit_is_told(hands: Hands, elsewhere: str) -> None:
    hands.bench.other_benches = OtherBenches(lambda: Shop(elsewhere))
    _begin(hands, "a-1")
    told = hands.say("last time")
    assert told.startswith("A job of four april two zero two one at bench two, on this unit.")
    assert "Found: circlip worn, drum side, renew." in told and "end plate" not in told
    assert len(told.split()) <= brief.MOST_WORDS
    assert "job one" not in told.lower(), "its number is no number of this bench"


def test_both_together_the_latest_first_and_none_twice(
    hands: Hands, elsewhere: str, tmp_path: Path
) -> None:
    _begin(hands, "A1")
    hands.say("affirm", "drain plug stripped", "close job", "affirm")
    send(tmp_path / "here.db", elsewhere)
    hands.bench.other_benches = OtherBenches(lambda: Shop(elsewhere))
    _begin(hands, "A1")
    told = hands.say("last time")
    assert told.startswith("Job one of ") and "Found: drain plug stripped." in told
    assert "Before it, a job of four april two zero two one at bench two: found circlip" in told
    assert told.count("drain plug stripped") == 1 and "more job" not in told


def test_the_unit_elsewhere_goes_before_the_procedure_here(hands: Hands, elsewhere: str) -> None:
    _begin(hands, "B9")
    hands.say("affirm", "drain plug stripped", "close job", "affirm")
    hands.bench.other_benches = OtherBenches(lambda: Shop(elsewhere))
    _begin(hands, "A2")
    told = hands.say("last time")
    assert "at bench two, on this unit." in told and "end plate bent" in told
    assert "drain plug" not in told
    hands.say("close job", "affirm")
    # Failing the unit everywhere: by the procedure, here and there.
    _begin(hands, "C3")
    told = hands.say("last time")
    assert "by this procedure; no earlier job on this unit" in told


class Away:
    """A shop's database that can be away, or slow."""

    def __init__(self, url: str) -> None:
        self.url, self.away, self.asked = url, True, 0
        self.slow: threading.Event | None = None

    def __call__(self) -> Shop:
        self.asked += 1
        if self.slow is not None:
            self.slow.wait(10)
        if self.away:
            raise Unreachable("away")
        return Shop(self.url)


def test_a_database_that_is_away_is_said_once_and_again_after_it_was_back(
    hands: Hands, elsewhere: str
) -> None:
    away = Away(elsewhere)
    hands.bench.other_benches = OtherBenches(away)
    _begin(hands, "A1")
    told = hands.say("last time")
    assert told.startswith(AWAY) and "No earlier job" in told
    assert AWAY not in hands.say("last time")
    away.away = False
    assert "at bench two" in hands.say("last time")
    away.away = True
    hands.say("close job", "affirm")
    _begin(hands, "A1")
    assert AWAY in hands.say("last time")
    assert away.asked >= 4


def test_a_slow_one_blocks_nothing_and_is_told_when_it_has_answered(
    hands: Hands, elsewhere: str
) -> None:
    slow = Away(elsewhere)
    slow.away, slow.slow = False, threading.Event()
    hands.bench.other_benches = OtherBenches(slow, patience_s=0.2)
    begun = time.monotonic()
    _begin(hands, "A1")
    assert "Four open" not in hands.say("affirm")
    told = hands.say("last time")
    assert time.monotonic() - begun < 5 and told.startswith(AWAY)
    assert slow.asked == 1, "one that is still looking is not begun again"
    slow.slow.set()
    for _ in range(100):
        told = hands.say("last time")
        if "at bench two" in told:
            break
        time.sleep(0.05)
    assert "Found: circlip worn" in told and AWAY not in told


def test_it_is_looked_for_when_a_job_is_taken_up_again(hands: Hands, elsewhere: str) -> None:
    _begin(hands, "A1")
    hands.bench.other_benches = OtherBenches(lambda: Shop(elsewhere))
    hands.bench.take_up(1)
    assert "at bench two" in hands.say("last time")


def test_whatever_is_wrong_with_it_the_job_goes_on(hands: Hands) -> None:
    def broken() -> Shop:
        raise RuntimeError("no such thing")

    hands.bench.other_benches = OtherBenches(broken)
    _begin(hands, "A1")
    assert hands.say("last time").startswith(AWAY)
    hands.bench.other_benches = OtherBenches(lambda: _not_ours())
    hands.say("close job", "affirm")
    _begin(hands, "A1")
    told = hands.say("last time")
    assert AWAY in told and "Job one of" in told, "what this bench knows is told all the same"


def _not_ours() -> Shop:
    raise AssistantError("There is no record of this version in it yet.")


def test_by_the_command_from_the_option_the_variable_and_the_settings(
    tmp_path: Path,
    elsewhere: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    (tmp_path / "small.yaml").write_text(SMALL)
    runs = iter(range(9))

    def run(*words: str) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO("last time\n"))
        journal = str(tmp_path / f"cli-{next(runs)}.db")
        unit = ["--unit", "A1", "--typed", "--journal", journal]
        assert cli.main(["run", str(tmp_path / "small.yaml"), *unit, *words]) == 0
        return " ".join(capsys.readouterr().out.split())

    assert "at bench two" not in run()
    assert "at bench two" in run("--shop", elsewhere)
    monkeypatch.setenv("ASSISTANT_SHOP", elsewhere)
    assert "at bench two" in run()
    monkeypatch.delenv("ASSISTANT_SHOP")
    settings.place().parent.mkdir(parents=True, exist_ok=True)
    settings.place().write_text(json.dumps({"shop": elsewhere}))
    assert "at bench two" in run()
    wrong = ["run", str(tmp_path / "small.yaml"), "--typed", "--shop", "mysql://x"]
    assert cli.main([*wrong, "--journal", str(tmp_path / "no.db")]) == 2
    assert "postgresql://USER@HOST/DATABASE" in capsys.readouterr().err
