"""What instruments and scanners send, from bytes and keys to what is meant."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.bench import attached
from assistant.bench.attached import Attached
from assistant.bench.cutting import TIMING, SerialLines, TypedLines
from assistant.bench.sent_lines import LONGEST, meaning
from assistant.dialogue import intents
from assistant.dialogue.instrument import Instrument
from assistant.errors import AssistantError

UID = "0f3c7e7a-6f1e-4b52-9d84-3a3f4a1f9e01"
MICROMETER = Attached(
    name="micrometer", kind="instrument", serial="M-17", calibrated_until=date(2031, 12, 31)
)
MARKED = MICROMETER.model_copy(update={"prefix": "01A"})
SCANNER = Attached(name="scanner", kind="scanner", prefix="#")


def means(line: str, by: Attached = MICROMETER) -> Any:
    return meaning(line, by, lambda uid: uid == UID)


@pytest.mark.parametrize(
    ("line", "value", "unit"),
    [
        ("12.05", "12.05", None),
        ("12,05", "12.05", None),
        ("+00012.345", "12.345", None),
        ("-0.02 mm", "-0.02", "mm"),
        ("- 0.02mm", "-0.02", "mm"),
        ("-0.00", "0.00", None),
        (".4700 IN", "0.4700", "in"),
        ('0.4700"', "0.4700", "in"),
        ("0.47 inch", "0.47", "in"),
        ("  14.0 Nm\r\n", "14.0", "N·m"),
        ("14.0 N.m", "14.0", "N·m"),
        ("10.3 LBF.FT", "10.3", "lbf·ft"),
        ("25 µm", "25", "µm"),
        ("90°", "90", "°"),
        ("101.3 kPa", "101.3", "kPa"),
        ("\x0212.05\x03", "12.05", None),
        ("14", "14", None),
    ],
)
def test_a_value_is_read_with_its_unit(line: str, value: str, unit: str | None) -> None:
    sent = means(line)
    assert sent == intents.Sent(Decimal(value), unit, MICROMETER.instrument)
    assert str(sent.value) == value, "no figure is lost"


@pytest.mark.parametrize(
    "line",
    [
        *(
            "",
            "   ",
            "mm",
            "12.",
            "12.05.1",
            "1,234.5",
            "1.2e5",
            "nan",
            "inf",
            "--1",
            "1 2",
            "12:05",
        ),
        *("12.05 mmm", "12.05 mm mm", "0x1F", "١٢", "12.05\x00mm", "ERR", "12.05 OL", "9" * 300),
        *("12.05 lb", "12.05 pounds", "½", "1" * 13),
    ],
)
def test_what_cannot_be_read_is_not_guessed_at(line: str) -> None:
    assert means(line) is None


@given(some.text(max_size=300))
def test_whatever_comes_it_is_a_value_or_nothing(line: str) -> None:
    sent = means(line)
    assert sent is None or (isinstance(sent, intents.Sent) and sent.value.is_finite())
    means(line, SCANNER)
    means("#" + line, SCANNER)


def test_where_it_sends_no_unit_it_has_that_of_the_settings() -> None:
    metric = MICROMETER.model_copy(update={"unit": "mm"})
    assert means("12.05", metric).unit == "mm"
    assert means("0.47 in", metric).unit == "in"


def test_a_prefix_is_taken_off_and_a_line_without_it_is_none() -> None:
    assert means("01A+00012.345", MARKED).value == Decimal("12.345")
    assert means("12.345", MARKED) is None
    assert means("01A", MARKED) is None
    assert means("1A+00012.345", MARKED) is None, "its beginning was lost"


def test_a_scanner_reads_tags_and_part_numbers() -> None:
    assert means(f"#bench:job/{UID}/bag/3", SCANNER) == intents.ScannedTag(3, True)
    other = UID.replace("0", "1")
    assert means(f"#bench:job/{other}/bag/3", SCANNER) == intents.ScannedTag(3, False)
    assert means("#TB-1", SCANNER) == intents.ScannedNumber("TB-1")
    for cut in (f"#bench:job/{UID}/bag/", f"#bench:job/{UID[3:]}/bag/3", "#bench:job/", "#"):
        assert means(cut, SCANNER) is None


# Bytes of a serial line

LATER = TIMING.settle_s + 1


def cut(*chunks: tuple[bytes, float], opened: float = 0.0) -> list[str | None]:
    lines = SerialLines(opened)
    return [line for data, at in chunks for line in lines.feed(data, at)]


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n"])
def test_lines_end_as_devices_end_them(end: bytes) -> None:
    assert cut((b"12.05" + end + b"12.06" + end, LATER)) == ["12.05", "12.06"]


@given(some.lists(some.integers(1, 4), max_size=8))
def test_it_does_not_matter_how_the_bytes_come(sizes: list[int]) -> None:
    data, chunks = b"12.05\r\n24.98\r\n", []
    for size in [*sizes, len(data)]:
        chunks.append((data[:size], LATER))
        data = data[size:]
    assert cut(*chunks) == ["12.05", "24.98"]


def test_the_rest_of_a_line_that_was_lost_is_no_value() -> None:
    # Opened within a line: "1" went before.
    assert cut((b"2.05\r\n", 0.05), (b"12.06\r\n", 3)) == [None, "12.06"]
    # Half a line, and its rest long after.
    late = LATER + TIMING.half_s + 0.1
    assert cut((b"1", LATER), (b"", late), (b"2.05\r", late), (b"7\r", late)) == [None, None, "7"]
    assert cut((b"1", LATER), (b"2.05\r", late)) == [None, None]
    # A short pause is none.
    assert cut((b"1", LATER), (b"", LATER + 0.5), (b"2.05\r", LATER + 0.6)) == ["12.05"]


def test_a_line_without_end_is_dropped_up_to_its_end() -> None:
    noise = b"\xff" * 150
    found = cut((noise, LATER), (noise, LATER), (noise + b"12.05\r", LATER), (b"7\r", LATER))
    assert found == [None, "7"]


@given(some.lists(some.tuples(some.binary(max_size=300), some.floats(0, 2)), max_size=20))
def test_whatever_bytes_come_lines_are_bounded_and_come_whole(
    chunks: list[tuple[bytes, float]],
) -> None:
    lines, at, sent = SerialLines(0.0), LATER, b""
    for data, later in chunks:
        at += later
        sent += data
        for line in lines.feed(data, at):
            means(line or "")
            assert line is None or len(line) <= 300 + LONGEST
            assert line is None or line.encode() in sent or line.encode("latin-1") in sent


def test_older_devices_send_latin_letters() -> None:
    assert cut((b"25 \xb5m\r", LATER)) == ["25 µm"]
    assert cut(("25 µm\r".encode(), LATER)) == ["25 µm"]


# Keys of the terminal


LOOK_S = 0.03
"""How often the loop looks for keys."""


def typed(
    *sent: tuple[str, float], by: tuple[Attached, ...], busy: bool = False
) -> tuple[str, list[str | None]]:
    """Return the presses and the lines that come of keys, each at a time in seconds.

    The loop looks in between, if it is not `busy`, and some time after.
    """
    lines, pressed, found, now = TypedLines(by), "", [], 0.0
    for keys, at in (*sent, ("", sent[-1][1] + 1)):
        while now < at - LOOK_S and not busy:
            now += LOOK_S
            pressed += lines.feed("", now)
        now = at
        pressed += lines.feed(keys, now)
        found += [line for _, line in lines.lines()]
    return pressed, found


def test_a_device_that_types_is_told_from_keys_by_its_prefix() -> None:
    by = (MARKED, SCANNER)
    assert typed(("01A12.05\r", 1), by=by) == ("", ["01A12.05"])
    assert typed(("01A1", 1), ("2.05", 1.05), ("\r", 1.1), by=by) == ("", ["01A12.05"])
    assert typed(("#TB-1\r01A7\r", 1), by=by) == ("", ["#TB-1", "01A7"])
    assert typed((" ", 1), ("y", 2), ("\r", 3), by=by) == (" y\r", [])


def test_what_nobody_s_device_types_is_no_press_of_a_key_and_hides_no_line() -> None:
    # Its first key cannot be told from a press; its Enter is none, however it comes.
    assert typed(("x12.05\r", 1), by=(MARKED,)) == ("x", [])
    assert typed(("x12.05", 1), ("\r", 1.05), by=(MARKED,)) == ("x", [])
    assert typed(("x01A7\r", 1), by=(MARKED,)) == ("x", []), "a line has a beginning"
    assert typed(("x1\r01A7\r", 1), by=(MARKED,)) == ("x", ["01A7"])


def test_a_key_that_begins_like_a_line_counts_when_no_line_follows() -> None:
    assert TypedLines((MARKED,)).feed("0", 1) == ""
    assert typed(("0", 1), by=(MARKED,)) == ("0", [])
    # Half a line: what was typed of it is no value, and the next one is whole.
    assert typed(("01A1", 1), ("01A12.05\r", 3), by=(MARKED,)) == ("", [None, "01A12.05"])
    assert typed(("\x1b[A", 1), by=(MICROMETER,)) == ("\x1b[A", []), "a function key"


def test_a_line_is_whole_though_the_bench_was_busy_while_it_came() -> None:
    assert typed(("01A1", 1), ("2.05\r", 2), by=(MARKED,), busy=True) == ("", ["01A12.05"])


def test_alone_it_needs_no_prefix_and_a_pedal_works_beside_it() -> None:
    assert typed(("12,05\r", 1), by=(MICROMETER,)) == ("", ["12,05"])
    assert typed(("   ", 1), (" ", 1.05), by=(MICROMETER,)) == ("    ", [])
    assert typed(("\r", 1), ("\r", 1.1), by=(MICROMETER,)) == ("\r\r", [])


@given(some.lists(some.tuples(some.text("01A#TB.\r x", max_size=9), some.floats(0, 0.3))))
def test_whatever_is_typed_a_line_is_whole_and_a_press_is_a_key(
    sent: list[tuple[str, float]],
) -> None:
    lines, at = TypedLines((MARKED, SCANNER)), 0.0
    for keys, later in [*sent, ("", 9.0)]:
        at += later
        if later > TIMING.key_s:
            lines.feed("", at)
        pressed = lines.feed(keys, at)
        assert "\r" not in pressed or set(pressed[pressed.index("\r") :]) <= {"\r"}
        for device, line in lines.lines():
            if line is None:
                continue
            assert line.startswith(device.prefix) and len(line) > len(device.prefix)
            assert line in "".join(keys for keys, _ in sent)


# Which is which


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ({"name": "micrometer", "port": "a"}, {"name": "micrometer", "port": "b"}, "already"),
        (
            {"name": "micrometer", "port": "a"},
            {"name": "dial gauge", "port": "a"},
            "port a already",
        ),
        ({"name": "micrometer"}, {"name": "dial gauge"}, "nothing tells them apart"),
        ({"name": "micrometer"}, {"name": "dial gauge", "prefix": "D"}, "nothing tells them"),
        ({"name": "micrometer", "prefix": "M"}, {"name": "dial gauge", "prefix": "M2"}, "nothing"),
    ],
)
def test_devices_that_could_be_mixed_up_are_refused(
    first: dict[str, str], second: dict[str, str], why: str
) -> None:
    both = [Attached(kind="instrument", **one) for one in (first, second)]  # type: ignore[arg-type]
    with pytest.raises(AssistantError, match=why):
        attached.check(both)


def test_a_scanner_s_prefix_is_no_word() -> None:
    with pytest.raises(AssistantError, match="also begins words"):
        attached.check([SCANNER.model_copy(update={"prefix": "s"})])


def test_devices_that_are_told_apart_are_taken() -> None:
    port = MICROMETER.model_copy(update={"name": "gauge", "port": "/dev/ttyUSB0"})
    attached.check([MARKED, SCANNER, port])
    assert MICROMETER.instrument == Instrument(
        name="micrometer", serial="M-17", calibrated_until=date(2031, 12, 31)
    )


@pytest.mark.parametrize("text", ["9600", "9600 9N1", "fast", "9600 8N3", "9600 8n1 x"])
def test_how_a_line_is_set_is_read_or_refused(text: str) -> None:
    assert attached.framing("4800 7e2") == (4800, 7, "E", 2)
    with pytest.raises(AssistantError, match="9600 8N1"):
        attached.framing(text)


@pytest.mark.parametrize(
    "wrong", [{"name": "M 17"}, {"unit": "furlong"}, {"line": "x"}, {"prefix": "a b"}]
)
def test_settings_that_cannot_be_are_refused(wrong: dict[str, str]) -> None:
    with pytest.raises(ValueError):
        Attached(**{"name": "gauge", "kind": "instrument", **wrong})  # type: ignore[arg-type]
