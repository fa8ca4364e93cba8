"""What the program weighs, each in a process of its own: start-up, time to listen, memory.

`python -m tests.benchmark.footprint LISTENERS` prints one set's as JSON.
"""

import json
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
_PHRASES = 20


def start_up() -> Iterator[dict[str, Any]]:
    """How long the command line takes to say something: best and worst of five."""
    for command in ("--help", "samples"):
        times = []
        for _ in range(5):
            begun = time.perf_counter()
            subprocess.run(
                [sys.executable, "-m", "assistant", command], check=True, capture_output=True
            )
            times.append(time.perf_counter() - begun)
        best, worst = round(min(times), 3), round(max(times), 3)
        yield {"what": "start-up", "command": command, "best_s": best, "worst_s": worst}


def of(listeners: str) -> dict[str, Any]:
    """Seconds until a job listens and resident memory (MB) after twenty phrases, of one set."""
    told = subprocess.run(
        [sys.executable, "-m", "tests.benchmark.footprint", listeners],
        check=True,
        capture_output=True,
        text=True,
        cwd=ROOT,
    )
    return {"what": "footprint", "listeners": listeners, **json.loads(told.stdout.splitlines()[-1])}


def _listen(listeners: str) -> None:
    begun = time.perf_counter()
    from assistant.audio import pcm
    from assistant.journal.clock import local_now
    from assistant.journal.store import Journal
    from assistant.procedure import reading
    from tests import bench_helpers
    from tests.benchmark.listeners import made
    from tests.benchmark.measure import hear

    with tempfile.TemporaryDirectory() as folder:
        loaded = reading.load(reading.find("winch-gearbox"))
        listener = made(listeners)
        journal = Journal(Path(folder) / "job.db")
        bench = bench_helpers.bench(journal, bench_helpers.Notes(), local_now)
        bench.open(loaded.procedure, loaded.text)
        # The first phrase loads what is loaded late: half a second of a quiet room.
        hear(listener, pcm.from_bytes(b"\1\0" * (pcm.RATE // 2)), bench.state)
        ready = time.perf_counter() - begun
        for file in sorted((ROOT / "audio_fixtures" / "demo").glob("*.flac"))[:_PHRASES]:
            hear(listener, pcm.read(file), bench.state)
    import psutil

    memory = psutil.Process().memory_info().rss / 1e6
    print(json.dumps({"ready_s": round(ready, 2), "resident_mb": round(memory)}))


if __name__ == "__main__":
    _listen(sys.argv[1])
