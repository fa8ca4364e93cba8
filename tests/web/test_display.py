"""The display's server: what browsers are told, and that the bench waits for none of them."""

from __future__ import annotations

import json
import socket
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import FrozenInstanceError
from pathlib import Path
from typing import Any

import httpx2
import pytest

from assistant.bench.shift import Shift, on_offer
from assistant.journal.store import CannotRecord
from assistant.web import serving, snapshot
from assistant.web.display import Display
from assistant.web.snapshot import Moment
from tests.bench_helpers import SMALL, Hands


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    return Hands(tmp_path / "journal.db", open_job=False)


class Shown:
    """A bench with its display, served."""

    def __init__(self, hands: Hands) -> None:
        self.hands = hands
        bench = hands.bench
        self.display = Display(bench.presenter, bench.clock, "to what is typed")
        self.served = serving.claim(serving.Opening("127.0.0.1:0"))
        self.link = self.served.link
        self.server = serving.Server(self.display.app(), self.served)
        self.server.start()

    def open(self) -> None:
        self.hands.bench.open(self.hands.procedure, SMALL)

    def latest(self) -> dict[str, Any]:
        """Return what a browser would be told now."""
        with self.reader() as reader:
            return dict(reader.next())

    @contextmanager
    def reader(self) -> Iterator[Reader]:
        with (
            httpx2.Client(timeout=20) as client,
            client.stream("GET", f"{self.link}events") as answer,
        ):
            yield Reader(answer)


class Reader:
    """Reads server-sent events as a browser does."""

    def __init__(self, answer: httpx2.Response) -> None:
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert answer.headers["x-accel-buffering"] == "no"
        self._lines = answer.iter_lines()

    def next(self, kind: str = "snapshot") -> Any:
        while True:
            event = next(self._lines).removeprefix("event: ")
            data = next(self._lines).removeprefix("data:").strip()
            assert next(self._lines) == ""
            if event == kind:
                return json.loads(data) if kind == "snapshot" else data

    def until(self, **wanted: Any) -> dict[str, Any]:
        """Read on until a snapshot is so."""
        while True:
            one: dict[str, Any] = self.next()
            if all(one[name] == value for name, value in wanted.items()):
                return one


@pytest.fixture
def shown(hands: Hands) -> Iterator[Shown]:
    shown = Shown(hands)
    yield shown
    shown.server.stop()


def test_it_follows_the_session(shown: Shown) -> None:
    with shown.reader() as reader:
        assert reader.next()["status"] == "starting"
        shown.open()
        opened = reader.until(status="listening")
        assert opened["hint"] == "to what is typed"
        assert opened["exchanges"][0]["cues"] == ["alert", "question"]
        shown.hands.say("affirm", "bag one")
        latest = reader.until(outstanding=[])["exchanges"][0]
        while not latest["cues"]:
            latest = reader.next()["exchanges"][0]
        assert latest["heard"] == "bag one" and latest["cues"] == ["recorded"]
        assert latest["reply"].startswith("Bag one. Recorded.")


def test_what_became_of_each_phrase_is_shown(shown: Shown) -> None:
    hands = shown.hands
    shown.open()

    def cues(phrase: str) -> list[str]:
        hands.say(phrase)
        return list(shown.display._moment.exchanges[0].cues)

    assert cues("affirm") == []
    assert cues("bag seven") == ["question"]
    assert cues("correction bag one") == ["recorded"]
    assert cues("note all is well") == ["recorded"]
    assert cues("tightened nine") == ["refused"]
    assert cues("what is the weather like") == ["not taken"]
    assert cues("start timer one minute") == ["recorded"]
    hands.wait(minutes=2)
    rang, before, *_ = shown.display._moment.exchanges
    assert rang.cues == ("timer",) and rang.heard == "" and "timer is up" in rang.reply
    assert before.heard == "start timer one minute"
    # What is said next does not ring again.
    assert cues("read back") == []
    assert len(shown.display._moment.exchanges) == 3


def test_what_could_not_be_recorded_is_shown_until_something_can(
    shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    shown.open()
    journal = shown.hands.bench.journal
    with monkeypatch.context() as broken:
        error = CannotRecord("I cannot record: the disk is full.", "no room")

        def refuse(*_: object) -> None:
            raise error

        broken.setattr(journal, "append", refuse)
        shown.hands.say("affirm")
        made = shown.latest()
        assert (made["status"], made["hint"]) == ("cannot record", str(error))
        assert made["exchanges"][0]["cues"] == ["not recorded", "alert"]
        assert made["exchanges"][0]["heard"] == "affirm"
        shown.hands.say("what torque")
        assert shown.latest()["status"] == "cannot record"
    shown.hands.say("affirm")
    assert shown.latest()["status"] == "listening"


def test_it_shows_while_it_speaks(shown: Shown) -> None:
    shown.open()
    go_on = threading.Event()
    with shown.reader() as reader:
        reader.until(status="listening")

        def speak(text: str) -> None:
            assert go_on.wait(20)

        shown.hands.notes.on_saying = speak
        bench = threading.Thread(target=shown.hands.bench.called)
        bench.start()
        reader.until(status="speaking")
        go_on.set()
        assert reader.until(status="listening")["exchanges"][0]["reply"] == "Listening."
        bench.join()
    shown.hands.say("stand by")
    made = shown.latest()
    assert (made["status"], made["hint"]) == ("standing by", "say resume")


def test_it_shows_that_the_microphone_is_gone(shown: Shown) -> None:
    shown.open()
    with shown.reader() as reader:
        reader.until(status="listening")
        shown.hands.bench.refresh(deaf=True)
        assert "plug it in" in reader.until(status="cannot hear")["hint"]
        shown.hands.bench.refresh(deaf=False)
        reader.until(status="listening")


def test_whoever_comes_late_or_again_is_told_all(shown: Shown) -> None:
    shown.open()
    shown.hands.say("affirm", "start timer ten minutes")
    for _ in range(3):
        with shown.reader() as reader:
            assert len(reader.next("version")) == 16
            taken = reader.next()
            assert taken["step"]["say"] == "Take off the end plate."
            assert len(taken["timers"]) == 1 and len(taken["exchanges"]) == 3


def test_silence_is_told_from_a_lost_connection(
    shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("assistant.web.display.BEAT_S", 0.05)
    shown.open()
    with shown.reader() as reader:
        for _ in range(2):
            assert int(reader.next("beat")) == snapshot.ms(shown.hands.now)


def test_the_end_is_told(shown: Shown) -> None:
    shown.open()
    with shown.reader() as reader:
        reader.next()
        shown.display.stop()
        assert reader.until(status="stopped")["step"]["number"] == 1
    begun = time.monotonic()
    shown.server.stop()
    assert time.monotonic() - begun < 3
    with pytest.raises(httpx2.ConnectError):
        httpx2.get(shown.link)


def test_the_bench_waits_for_no_browser(shown: Shown, monkeypatch: pytest.MonkeyPatch) -> None:
    """One reader never reads, one is gone in the middle, and the server itself is stuck."""
    shown.open()
    port = shown.served.socket.getsockname()[1]
    idle = [socket.create_connection(("127.0.0.1", port)) for _ in range(5)]
    for one in idle:
        one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 1)
        one.sendall(b"GET /events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
    idle.pop().close()
    for number in range(300):
        shown.hands.say("affirm" if number == 0 else "note " + "all is well " * 30)
    with shown.reader() as reader:
        # Whoever reads gets the latest, not all that was missed.
        assert reader.next()["exchanges"][0]["cues"] == ["recorded"]

    stuck, go_on = threading.Event(), threading.Event()
    take = snapshot.take

    def slow(*arguments: Any, **named: Any) -> dict[str, Any]:
        stuck.set()
        go_on.wait(20)
        return take(*arguments, **named)

    monkeypatch.setattr(snapshot, "take", slow)
    try:
        shown.hands.say("bag one")
        assert stuck.wait(10)
        assert shown.hands.say("order two drain plugs").endswith("Recorded.")
        assert not go_on.is_set()
    finally:
        go_on.set()
    for one in idle:
        one.close()


def test_the_servers_thread_reads_only_what_the_bench_published(shown: Shown) -> None:
    """Another thread reads as fast as it can: each moment is whole, and none goes back."""
    hands, notes = shown.hands, shown.hands.notes
    bench_thread, strangers = threading.get_ident(), []
    audible = notes.audible

    def watched(since: float, until: float) -> bool:
        if threading.get_ident() != bench_thread:
            strangers.append("audible")
        return audible(since, until)

    notes.audible = watched  # type: ignore[method-assign]
    shown.open()
    seen: list[Moment] = []
    faults: list[BaseException] = []
    done = threading.Event()

    def read() -> None:
        try:
            while not done.is_set():
                moment = shown.display._moment
                taken = snapshot.take(moment, hands.now)
                assert moment.state is not None
                assert taken["step"]["number"] == moment.state.number
                assert (taken["status"] == "speaking") is moment.speaking
                assert len(taken["exchanges"]) == len(moment.exchanges) <= 3
                if not seen or seen[-1] is not moment:
                    seen.append(moment)
        except BaseException as error:
            faults.append(error)

    readers = [threading.Thread(target=read) for _ in range(3)]
    for reader in readers:
        reader.start()
    with shown.reader() as browser:
        hands.say("affirm", "bag one", "next step", "splined shaft")
        for number in range(60):
            hands.say(f"go to step {('two', 'four')[number % 2]}", "note all is well", "what left")
        assert browser.next()["job"]["number"] == 1
    done.set()
    for reader in readers:
        reader.join()
    assert not faults and not strangers
    turns = [moment.state.turn for moment in seen if moment.state is not None]
    assert len(set(turns)) > 10 and len(seen) > 20
    with pytest.raises(FrozenInstanceError):
        seen[0].deaf = True  # type: ignore[misc]


def test_without_a_browser_no_snapshot_is_made(
    shown: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    made: list[object] = []
    monkeypatch.setattr(snapshot, "take", lambda *arguments, **named: made.append(arguments))
    shown.open()
    shown.hands.say("affirm", "bag one")
    assert made == []


def test_it_follows_a_shift_from_job_to_job(hands: Hands, tmp_path: Path) -> None:
    (tmp_path / "small.yaml").write_text(SMALL, encoding="utf-8")
    bench = hands.bench
    bench.shift = Shift(bench.journal, on_offer(tmp_path, hands.notes.refused.append))
    shown = Shown(hands)
    bench.come_in()
    assert shown.latest()["job"] is None
    for number in (1, 2):
        for phrase in ("new job", "affirm", "affirm"):
            bench.typed(phrase)
        latest = shown.latest()
        assert (latest["job"]["number"], latest["step"]["number"]) == (number, 1)
        assert latest["exchanges"][0]["heard"] == "affirm"
        bench.typed("set job aside")
        assert shown.latest()["job"] is None
    shown.server.stop()
