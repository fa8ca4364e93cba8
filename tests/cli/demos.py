"""The demos with each phrase typed in place of its recording: the same job, in seconds."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from assistant.cli import demo


def typed(out: Path, work: demo.Work) -> Path:
    """Run a demo typed; return the folder with what it leaves."""
    said = (part for part in demo.script(work) if isinstance(part, demo.Said))
    text_of = {one.recording: one.text for one in said}

    def play(bench, ears, files) -> None:  # type: ignore[no-untyped-def]
        for file in files:
            bench.typed(text_of[file])

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(demo.recordings, "play", play)
        patch.setattr(demo.bench_ears, "build", lambda *_: SimpleNamespace(name="typed"))
        assert demo.run(out, True, "pocketsphinx", None, None, work) == 0
    return out
