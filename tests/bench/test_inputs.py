"""Instruments and scanners at a bench: serial lines on pseudo-terminals, typed lines, the loop."""

from __future__ import annotations

import io
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from decimal import Decimal
from pathlib import Path

import numpy as np
import pytest

from assistant.audio.pcm import RATE
from assistant.bench import keys, microphone, typed
from assistant.bench.attached import Attached
from assistant.bench.inputs import AGAIN_S, Inputs, Received
from assistant.bench.microphone import Live
from assistant.dialogue import events, tag_codes
from assistant.recognition.sphinx import PocketSphinx
from assistant.recognition.two_pass import TwoPassRecogniser
from tests.bench_helpers import Hands
from tests.live.made_up import MadeUpMicrophone, MadeUpVoice, recorded

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")

MICROMETER = Attached(name="micrometer", kind="instrument", serial="M-17", prefix="M")
SCANNER = Attached(name="scanner", kind="scanner", prefix="#")


class Device:
    """A made-up device on a pseudo-terminal, at a path that stays as it is plugged in again."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.plug_in()

    def plug_in(self) -> None:
        self._far, near = os.openpty()
        self.path.unlink(missing_ok=True)
        self.path.symlink_to(os.ttyname(near))
        os.close(near)

    def pull_out(self) -> None:
        self.path.unlink()
        os.close(self._far)

    def send(self, data: bytes) -> None:
        os.write(self._far, data)

    def attached(self, name: str = "bore gauge", **more: str) -> Attached:
        return Attached(name=name, kind="instrument", port=str(self.path), **more)  # type: ignore[arg-type]


@pytest.fixture
def device(tmp_path: Path) -> Iterator[Device]:
    device = Device(tmp_path / "ttyUSB0")
    yield device
    with suppress(OSError):
        device.pull_out()


@pytest.fixture
def hands(tmp_path: Path) -> Hands:
    hands = Hands(tmp_path / "journal.db")
    hands.say("affirm", "bag one", "next step", "splined shaft", "next step")
    hands.notes.replies.clear()
    return hands


def attend_until(inputs: Inputs, hands: Hands, done: Callable[[], bool]) -> None:
    """Have the bench take what comes, until something is so; at most for ten seconds."""
    until = time.monotonic() + 10
    while not done():
        assert time.monotonic() < until, hands.notes.replies
        inputs.attend(hands.bench)
        time.sleep(0.02)


def measured(hands: Hands) -> list[Decimal]:
    return [e.value for e in hands.bench.state.of_job(events.ReadingRecorded)]


def test_a_value_on_a_serial_line_is_recorded_and_said_back(hands: Hands, device: Device) -> None:
    inputs = Inputs([device.attached(serial="B-3", line="4800 7E2")])
    with inputs.opened():
        inputs.attend(hands.bench)
        time.sleep(0.3)
        device.send(b"+025.01 mm\r\n")
        attend_until(inputs, hands, lambda: measured(hands) == [Decimal("25.01")])
        assert "Recorded." in hands.notes.replies[-1] and "bore gauge" in hands.notes.replies[-1]
        time.sleep(AGAIN_S)
        device.send(b"?!\r\n")
        attend_until(inputs, hands, lambda: "cannot be read" in hands.notes.replies[-1])
        time.sleep(AGAIN_S)
        device.send(b"24,9")
        device.send(b"8\r\n")
        attend_until(inputs, hands, lambda: len(measured(hands)) == 2)
    (first, _) = hands.events("reading recorded")
    assert isinstance(first, events.ReadingRecorded) and first.instrument is not None
    assert (first.instrument.name, first.instrument.serial) == ("bore gauge", "B-3")
    assert first.heard is not None and first.heard.words == "+025.01 mm"


def test_pulled_out_it_is_told_once_tried_again_and_used_when_it_is_back(
    hands: Hands, device: Device
) -> None:
    inputs, told = Inputs([device.attached()]), hands.notes.replies
    with inputs.opened():
        device.send(b"25.")
        time.sleep(0.2)
        device.pull_out()
        attend_until(inputs, hands, lambda: bool(told))
        assert told == ["The bore gauge is not connected. Plug it in, or say its values."]
        until = time.monotonic() + 1.2
        while time.monotonic() < until:
            inputs.attend(hands.bench)
            time.sleep(0.02)
        assert len(told) == 1 and measured(hands) == []
        device.plug_in()
        attend_until(inputs, hands, lambda: told[-1] == "The bore gauge is back.")
        time.sleep(0.4)
        device.send(b"25.01\r")
        attend_until(inputs, hands, lambda: measured(hands) == [Decimal("25.01")])
    assert len(told) == 3


def test_a_device_that_sends_on_and_on_holds_up_nothing_and_records_one_value(
    hands: Hands, device: Device
) -> None:
    inputs, told = Inputs([device.attached()]), hands.notes.replies
    with inputs.opened():
        inputs.attend(hands.bench)
        time.sleep(0.3)
        for hundredths in range(100):
            device.send(f"25.{hundredths % 4:02}\r\n".encode())
        attend_until(inputs, hands, lambda: len(told) == 2)
        time.sleep(0.3)
        inputs.attend(hands.bench)
    assert measured(hands) == [Decimal("25.00")] and len(told) == 2
    assert told[1].startswith("The bore gauge sent more than one value at once.")
    assert len(hands.notes.refused) < 99, "what nobody waits for is not kept"


def test_what_is_not_there_at_the_start_is_told_and_the_job_goes_on(
    hands: Hands, tmp_path: Path
) -> None:
    away = Attached(name="bore gauge", kind="instrument", port=str(tmp_path / "none"))
    inputs = Inputs([away])
    with inputs.opened():
        inputs.attend(hands.bench)
        inputs.attend(hands.bench)
        assert hands.notes.replies == [
            "The bore gauge is not connected. Plug it in, or say its values."
        ]
        assert "Recorded." in hands.say("reading bore 25.01")


def test_a_button_that_bounces_records_one_thing_only(hands: Hands) -> None:
    inputs = Inputs([MICROMETER])
    for at, line in ((1.0, "M25.01"), (1.3, "M25.01"), (1.6, "M25.02"), (1.9, "M25.03")):
        inputs.hand_over(Received(MICROMETER, line, at), hands.bench)
    assert measured(hands) == [Decimal("25.01")]
    assert hands.notes.refused == ["M25.01", "M25.02", "M25.03"]
    told = "The micrometer sent more than one value at once. Only the first was taken."
    assert hands.notes.replies.count(told) == 1
    assert inputs.hand_over(Received(MICROMETER, "M24.98", 2.7), hands.bench)
    assert measured(hands) == [Decimal("25.01"), Decimal("24.98")]
    # Another device is another matter.
    assert inputs.hand_over(Received(SCANNER, "#TB-1", 2.8), hands.bench)


def test_typed_with_a_prefix_it_is_a_device_and_without_one_somebody(hands: Hands) -> None:
    code = tag_codes.code(hands.bench.journal.identity(1).uid, 1)
    lines = [
        "M25.01",
        "Measured nothing",
        "Mistake",
        "reading shaft 24.98",
        f"#{code}",
        "order drain plug",
        "#TB-1",
        "M24.97",
    ]
    lines += ["bore", "negative"]
    typed.attend(hands.bench, io.StringIO("\n".join(lines) + "\n"), Inputs([MICROMETER, SCANNER]))
    stand = hands.bench.state.of_job(events.ReadingRecorded)
    assert [e.instrument and e.instrument.name for e in stand] == ["micrometer", None]
    (moved,) = hands.events("order moved")
    assert isinstance(moved, events.OrderMoved) and moved.heard is not None
    assert (moved.heard.words, moved.heard.recogniser) == ("#TB-1", "scanner")
    assert hands.notes.refused == ["Measured nothing", "Mistake"], "somebody typed that"
    assert "In bag one" in "".join(hands.notes.replies)
    assert "Which reading: bore or shaft?" in "".join(hands.notes.replies)


def test_a_tag_of_another_job_is_refused(hands: Hands) -> None:
    code = tag_codes.code("0f3c7e7a-6f1e-4b52-9d84-3a3f4a1f9e01", 1)
    # A tag's code is like nothing that is typed: it needs no prefix.
    inputs = Inputs([SCANNER.model_copy(update={"prefix": ""})])
    typed.attend(hands.bench, io.StringIO(f"{code}\n12.05\n"), inputs)
    assert hands.notes.replies == ["That tag is of another job. Nothing recorded."]
    assert hands.notes.refused == ["12.05"], "somebody typed it"


def test_typed_lines_and_a_serial_line_go_together(hands: Hands, device: Device) -> None:
    inputs = Inputs([device.attached()])
    far, near = os.pipe()

    def once_recorded(text: str) -> None:
        # What is typed next waits for the value, as somebody would.
        if "bore gauge. Recorded." in text:
            os.write(near, b"reading shaft 24.98\n")
            os.close(near)

    hands.notes.on_saying = once_recorded
    with os.fdopen(far) as lines:
        sender = Inputs.attend

        def attend(self: Inputs, bench: object) -> bool:
            attend.times += 1  # type: ignore[attr-defined]
            if attend.times == 10:  # type: ignore[attr-defined]
                device.send(b"25.01\r")
            return sender(self, bench)  # type: ignore[arg-type]

        attend.times = 0  # type: ignore[attr-defined]
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Inputs, "attend", attend)
            typed.attend(hands.bench, lines, inputs)
    assert measured(hands) == [Decimal("25.01"), Decimal("24.98")]


def test_in_the_live_loop_a_device_types_beside_a_pedal(
    hands: Hands, monkeypatch: pytest.MonkeyPatch
) -> None:
    pressed = iter(["", "M25", ".01\r", "", *[""] * 40, "y", *[""] * 40, "M24,98\r"])

    @contextmanager
    def presses() -> Iterator[object]:
        yield lambda: next(pressed, "")

    monkeypatch.setattr(keys, "presses", presses)
    made_up = MadeUpMicrophone(recorded(np.zeros(4 * RATE, np.int16)))
    live = Live(
        made_up,
        MadeUpVoice(made_up.clock),
        answers=keys.Answers({"y": "disregard"}),
        clock=made_up.clock,
        inputs=Inputs([MICROMETER], made_up.clock),
    )
    with suppress(KeyboardInterrupt):
        microphone.listen(hands.bench, TwoPassRecogniser(PocketSphinx()), live)
    # The pedal took back the first, so that the second is of the bore again, and questioned or not.
    kept = [e for e in hands.events("reading recorded") if isinstance(e, events.ReadingRecorded)]
    assert [(e.name, str(e.value)) for e in kept] == [("bore", "25.01"), ("bore", "24.98")]
    assert all(e.instrument is not None for e in kept)
