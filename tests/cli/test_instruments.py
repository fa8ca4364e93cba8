"""Instruments and scanners set up, tried, used in a run, and told of in the report."""

from __future__ import annotations

import csv
import io
import json
import os
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from assistant.audio import devices as sound
from assistant.bench import settings
from assistant.bench.attached import Attached
from assistant.bench.cutting import TIMING
from assistant.cli import attached, devices
from assistant.cli import main as cli
from assistant.dialogue import tag_codes
from assistant.journal.store import Journal
from tests.bench_helpers import SMALL

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs pseudo-terminals")

Out = pytest.CaptureFixture[str]


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    monkeypatch.setattr(sound, "listed", lambda kind: [])
    monkeypatch.setattr(devices, "_check", lambda args: 0)
    return tmp_path


def run(*words: str) -> int:
    return cli.main(list(words))


MICROMETER = ["devices", "--instrument", "micrometer", "--prefix", "M", "--serial", "M-17"]


def test_which_device_is_which_is_settled_once_and_listed(capsys: Out) -> None:
    assert run("devices") == 0
    assert "No instrument or scanner is set up." in capsys.readouterr().out
    assert run(*MICROMETER, "--calibrated-until", "2031-12-31", "--unit-sent", "Nm") == 0
    assert run(*MICROMETER, "--calibrated-until", "2020-01-31", "--unit-sent", "mm") == 0
    assert run("devices", "--scanner", "scanner", "--prefix", "#") == 0
    assert (
        run("devices", "--instrument", "bore gauge", "--port", "/dev/x", "--line", "4800 7e2") == 0
    )
    told = capsys.readouterr().out.split("Instruments and scanners:")[-1]
    assert (
        "  micrometer, serial M-17, out of calibration since 2020-01-31, in mm   (types, prefix M)"
    ) in told
    assert "  scanner   (types, prefix #)" in told and "  bore gauge   (/dev/x, 4800 7e2)" in told
    assert run("devices", "--forget", "micrometer") == 0
    assert [one.name for one in settings.read().attached] == ["scanner", "bore gauge"]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["--instrument", "dial gauge"], "nothing tells them apart"),
        (["--instrument", "gauge 2"], "small letters and spaces only"),
        (["--instrument", "gauge", "--port", "x", "--line", "fast"], "such as '9600 8N1'"),
        (["--instrument", "gauge", "--port", "x", "--unit-sent", "furlong"], "is no unit"),
        (["--instrument", "gauge", "--port", "x", "--calibrated-until", "May"], "Write a date as"),
        (["--forget", "gauge"], "There is no gauge. These are set up: micrometer."),
        (["--serial", "7"], "Say which device this is of"),
    ],
)
def test_what_cannot_be_set_up_is_refused_and_nothing_changes(
    words: list[str], why: str, capsys: Out
) -> None:
    assert run(*MICROMETER) == 0
    before = settings.read()
    assert run("devices", *words) == 2
    assert why in capsys.readouterr().err
    assert settings.read() == before


def test_the_check_prints_what_is_sent_and_what_sends_nothing(tmp_path: Path, capsys: Out) -> None:
    far, near = os.openpty()
    gauge = Attached(name="bore gauge", kind="instrument", port=os.ttyname(near), unit="mm")
    away = Attached(name="dial gauge", kind="instrument", port=str(tmp_path / "none"))
    threading.Timer(0.5, os.write, (far, b"25,01\r\n")).start()
    assert attached.check([gauge, away], 1.5) == 1
    told = capsys.readouterr().out
    assert "The bore gauge: 25.01 mm." in told and "The dial gauge sent nothing." in told
    threading.Timer(0.5, os.write, (far, b"25.01 OL\r\n")).start()
    assert attached.check([gauge], 5) == 1
    assert "The bore gauge: sent '25.01 OL', which cannot be read." in capsys.readouterr().out
    threading.Timer(0.5, os.write, (far, b"25.01\r\n")).start()
    assert attached.check([gauge], 5) == 0


class Run:
    """`assistant run --typed` in a process of its own; what is typed waits for the answer."""

    def __init__(self, tmp_path: Path) -> None:
        self.journal = tmp_path / "journal.db"
        procedure = tmp_path / "small.yaml"
        procedure.write_text(SMALL, encoding="utf-8")
        command = ["run", str(procedure), "--typed", "--by", "sam", "--journal", str(self.journal)]
        self._process = subprocess.Popen(
            [sys.executable, "-m", "assistant", *command],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env={**os.environ, "XDG_CONFIG_HOME": str(tmp_path)},
            text=True,
        )
        self.told = ""
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self.told = " ".join((self.told + line).split()) + " "

    def until(self, words: str) -> None:
        end = time.monotonic() + 30
        while words not in self.told:
            assert time.monotonic() < end, self.told
            time.sleep(0.05)

    def type(self, *lines: str) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write("".join(f"{line}\n" for line in lines))
        self._process.stdin.flush()

    def end(self) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        assert self._process.wait(60) == 0


def test_a_run_with_a_serial_gauge_a_typing_micrometer_and_a_scanner_and_its_report(
    tmp_path: Path, capsys: Out
) -> None:
    far, near = os.openpty()
    port = os.ttyname(near)
    run(*MICROMETER, "--calibrated-until", "2020-01-31")
    run("devices", "--instrument", "bore gauge", "--port", port, "--serial", "B-3")
    run("devices", "--scanner", "scanner", "--prefix", "#")
    job = Run(tmp_path)
    job.until("Affirm that you heard.")
    job.type("affirm")
    job.until("Bag one.")
    uid = Journal(job.journal).identity(1).uid
    job.type(f"#{tag_codes.code(uid, 1)}", "next step", "splined shaft", "next step")
    job.until("Measure bore and shaft")
    time.sleep(2 * TIMING.settle_s)  # A value that comes as the line is opened may be half of one.
    os.write(far, b"+25.01 mm\r\n")
    job.until("from the bore gauge. Recorded.")
    job.type("M24,98")
    job.until("from the micrometer, out of calibration since")
    job.type("order circlip", "#TB-2", "next step", "affirm")
    job.until("circlip received. Recorded.")
    job.end()
    capsys.readouterr()

    where = ["--journal", str(job.journal)]
    assert run("report", "1", "--json", *where) == 0
    record = json.loads(capsys.readouterr().out)
    assert [
        (r["value"], r["instrument"], r["instrument_serial"], r["calibrated_until"], r["overdue"])
        for r in record["readings"]
    ] == [
        ("25.01", "bore gauge", "B-3", None, False),
        ("24.98", "micrometer", "M-17", "2020-01-31", True),
    ]
    assert [r["heard"]["recogniser"] for r in record["readings"]] == ["instrument", "instrument"]
    overdue = "micrometer, serial M-17, out of calibration since 2020-01-31"
    assert overdue in json.dumps(record["summary"]["stands_out"])
    assert run("report", "1", "--csv", "--list", "readings", *where) == 0
    rows = list(csv.DictReader(io.StringIO(capsys.readouterr().out)))
    assert rows[1]["instrument"] == "micrometer" and rows[1]["overdue"] == "true"
    assert run("log", "1", *where) == 0
    assert "25.01 mm (from the bore gauge, serial B-3)" in capsys.readouterr().out
    page = tmp_path / "report.html"
    assert run("report", "1", "-o", str(page), *where) == 0
    shown = page.read_text(encoding="utf-8")
    assert "from the bore gauge, serial B-3" in shown and overdue in shown


def test_without_a_prefix_what_is_typed_is_somebody_s_and_it_says_so(
    tmp_path: Path, capsys: Out, caplog: pytest.LogCaptureFixture
) -> None:
    run("devices", "--instrument", "micrometer")
    assert settings.read().attached[0].types
    from assistant.cli import live

    assert not live.inputs(typed=False).types, "no terminal here"
    assert live.inputs(typed=True).types
    assert "told from what you type by a prefix alone" in caplog.text
