"""What the fuzzing tests share: how a check is run on many made-up inputs, and what it may raise.

Each check is run on some inputs in the quick tests and on many more in the slow ones. Whatever is
put in, only an AssistantError may come out, within seconds and within memory. What once broke
something is kept beside it by name.
"""

from __future__ import annotations

import signal
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from assistant.errors import AssistantError

T = TypeVar("T")
_LONGEST_S = 15


def sizes(quick: int, slow: int) -> pytest.MarkDecorator:
    """Run a test with so many examples, and in the slow tests with so many."""
    return pytest.mark.parametrize("examples", [quick, pytest.param(slow, marks=pytest.mark.slow)])


def hammer(check: Callable[[T], object], inputs: st.SearchStrategy[T], examples: int) -> None:
    """Run the check on so many inputs."""

    @settings(
        max_examples=examples,
        deadline=None,
        database=None,
        suppress_health_check=list(HealthCheck),
        phases=(Phase.generate, Phase.shrink),
    )
    @given(inputs)
    def run(value: T) -> None:
        only_told(check, value)

    run()


def only_told(check: Callable[[T], object], value: T) -> str | None:
    """Run the check; return what an AssistantError says, None for none. Others come out."""
    try:
        with in_time():
            check(value)
    except AssistantError as error:
        assert str(error).strip()
        return str(error)
    return None


@contextmanager
def in_time(seconds: int = _LONGEST_S) -> Iterator[None]:
    """Fail where it takes longer: an input must not be able to hang the bench."""

    def stop(*_: object) -> None:
        raise TimeoutError(f"took longer than {seconds} s")

    before = signal.signal(signal.SIGALRM, stop)
    signal.alarm(seconds)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)


def mangled(samples: Sequence[str], tokens: Sequence[str]) -> st.SearchStrategy[str]:
    """Texts made from the samples by a few edits: parts cut out, doubled, moved, tokens put in."""
    token = st.sampled_from(list(tokens)) | st.text(max_size=8)

    @st.composite
    def texts(draw: Any) -> str:
        text: str = draw(st.sampled_from(list(samples)))
        for _ in range(draw(st.integers(1, 4))):
            start = draw(st.integers(0, len(text)))
            if draw(st.booleans()):  # from the beginning of a word or line
                start = max(text.rfind(" ", 0, start), text.rfind("\n", 0, start)) + 1
            end = min(len(text), start + draw(st.integers(0, 25)))
            part = text[start:end]
            new = draw(st.sampled_from(["", part * 2, part[::-1]]) | token)
            text = text[:start] + new + text[end:]
        return text

    return texts()
