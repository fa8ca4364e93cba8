"""Who is being spoken to, second by second; no clock, no key, no sound."""

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as some

from assistant.bench import keys
from assistant.bench.addressing import WINDOWS, Addressing, Way
from assistant.cli import main as cli
from assistant.errors import AssistantError
from tests.bench_helpers import Hands

NEXT = ("next", "step")
WAYS = list(Way)
DOINGS = ("key", "up", "answer", "stand by", "call")


def test_openly_everything_is_for_it() -> None:
    bench = Addressing()
    assert bench.listening(0.0) and bench.word_optional(0.0)
    assert bench.heard(NEXT, 0.0) == NEXT
    # Nobody calls it by a word, so none is taken off.
    assert bench.heard(("bench", *NEXT), 0.0) == ("bench", *NEXT)


def test_with_a_call_word_other_talk_is_not_for_it() -> None:
    bench = Addressing(Way.CALL_WORD)
    assert bench.listening(0.0) and not bench.word_optional(0.0)
    assert bench.heard(NEXT, 0.0) is None
    assert bench.heard(("Bench", *NEXT), 1.0) == NEXT
    assert bench.heard(("next", "bench", "step"), 1.0) is None
    # The command alone opens nothing; the answer to it does.
    assert bench.heard(NEXT, 2.0) is None
    assert bench.meant(("bench", *NEXT), 3.0) and not bench.meant(NEXT, 3.0)
    bench.answered(4.0)
    assert bench.meant(NEXT, 4.1)


def test_the_call_word_alone_opens_the_window_and_so_does_an_answer() -> None:
    bench = Addressing(Way.CALL_WORD)
    assert bench.heard(("bench",), 10.0) == ()
    assert bench.word_optional(10.0 + WINDOWS.follow_up_s - 0.1)
    assert bench.heard(NEXT, 17.9) == NEXT
    assert bench.heard(NEXT, 18.0) is None
    bench.answered(20.0)
    # What began before the answer ended was not said in the window.
    assert bench.heard(NEXT, 19.9) is None
    assert bench.heard(NEXT, 27.9) == NEXT
    assert bench.heard(("bench", *NEXT), 28.1) == NEXT
    # What was heard and not answered does not keep it open.
    assert bench.heard(NEXT, 28.2) is None


def test_a_call_word_can_be_several_words_and_another() -> None:
    bench = Addressing(Way.CALL_WORD, ("hello", "workshop"), follow_up_s=2.0)
    assert bench.heard(("hello", *NEXT), 0.0) is None
    assert bench.heard(("hello", "workshop", *NEXT), 0.0) == NEXT
    bench.answered(1.0)
    assert bench.heard(NEXT, 2.9) == NEXT
    assert bench.heard(NEXT, 3.0) is None


def test_a_key_is_held_until_no_repeat_comes() -> None:
    bench = Addressing(Way.KEY_HELD)
    assert not bench.listening(4.9) and bench.heard(NEXT, 4.9) is None
    bench.key(True, 5.0)
    # The first repeat is late, at 0.66 s where nobody set it otherwise; then 25 a second.
    at = 5.66
    while at < 8.0:
        bench.key(True, at)
        at += 0.04
    assert all(bench.listening(5.0 + 0.05 * n) for n in range(60))
    assert bench.heard(NEXT, 4.8) == NEXT, "the mouth was quicker than the hand"
    assert bench.heard(NEXT, 8.4) == NEXT
    assert bench.heard(NEXT, 8.7) is None
    bench.answered(9.0)
    assert not bench.listening(9.1)


def test_a_pedal_that_tells_its_release_ends_at_once() -> None:
    bench = Addressing(Way.KEY_HELD)
    bench.key(True, 1.0)
    bench.key(False, 1.3)
    assert bench.listening(1.29) and not bench.listening(1.3)
    bench.key(True, 1.4)
    assert bench.listening(1.4) and bench.listening(2.1)


def test_a_tap_opens_the_window_and_so_does_an_answer() -> None:
    bench = Addressing(Way.KEY_TAPPED)
    assert not bench.listening(0.0)
    bench.key(True, 1.0)
    bench.key(False, 1.1)
    assert bench.listening(8.9) and bench.heard(NEXT, 8.9) == NEXT
    assert not bench.listening(9.0)
    bench.answered(9.5)
    assert bench.heard(NEXT, 17.4) == NEXT
    assert bench.heard(NEXT, 17.5) is None


@pytest.mark.parametrize("way", WAYS)
def test_it_stands_by_and_is_resumed_in_the_way_that_is_its_own(way: Way) -> None:
    bench = Addressing(way)
    call = ("bench",) if way is Way.CALL_WORD else ()
    bench.key(True, 0.0)
    assert bench.heard((*call, "stand", "by"), 0.1) == ("stand", "by")
    bench.key(False, 0.5)
    bench.answered(2.0, standing_by=True)
    if way is not Way.OPEN:
        assert bench.heard(("resume",), 2.5) is None
    bench.key(True, 3.0)
    assert bench.heard((*call, "resume"), 3.1) == ("resume",)


@given(
    some.sampled_from(WAYS),
    some.lists(some.tuples(some.sampled_from(DOINGS), some.floats(0, 3)), max_size=12),
    some.floats(0, 40),
)
def test_only_a_call_a_key_or_an_answer_opens_anything(
    way: Way, doings: list[tuple[str, float]], later: float
) -> None:
    bench, at, opened = Addressing(way), 0.0, float("-inf")
    opens = {
        Way.OPEN: (),
        Way.CALL_WORD: ("answer", "call"),
        Way.KEY_HELD: ("key",),
        Way.KEY_TAPPED: ("key", "answer"),
    }[way]
    for doing, pause in doings:
        at += pause
        if doing in ("key", "up"):
            bench.key(doing == "key", at)
        elif doing == "call":
            bench.heard(("bench",), at)
        else:
            bench.answered(at, standing_by=doing == "stand by")
        if doing in opens:
            opened = at
        elif doing == "stand by" and way is not Way.KEY_HELD:
            opened = float("-inf")
    since = at + later - opened
    taken = bench.heard(NEXT, at + later)
    if way is Way.OPEN:
        assert taken == NEXT
    elif since > (WINDOWS.first_repeat_s if way is Way.KEY_HELD else WINDOWS.follow_up_s) + 1e-6:
        assert taken is None
    elif way is not Way.KEY_HELD and since < WINDOWS.follow_up_s - 1e-6:
        assert taken == NEXT


def test_the_call_word_alone_is_answered(tmp_path: Path) -> None:
    hands = Hands(tmp_path / "journal.db")
    before = hands.bench.journal.events(1)
    hands.notes.replies.clear()
    hands.bench.called()
    assert hands.notes.replies == ["Listening."]
    assert "Step one" in hands.say("say again"), "that it listens is nothing to say again"
    hands.say("stand by")
    hands.notes.replies.clear()
    hands.bench.called()
    assert hands.notes.replies == ["Standing by. Say resume."]
    assert len(hands.bench.journal.events(1)) == len(before) + 1


@pytest.mark.skipif(sys.platform == "win32", reason="there is no pty on Windows")
def test_keys_are_read_from_a_terminal_which_is_left_as_it_was(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    import pty
    import termios

    here, terminal = pty.openpty()
    with os.fdopen(terminal) as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        before = termios.tcgetattr(terminal)
        with pytest.raises(KeyError), keys.presses() as pressed:
            assert not pressed()
            os.write(here, b" ")
            assert _soon(pressed)
            assert not pressed()
            os.write(here, b"\x1b[6~\x1b[6~")  # A pedal that sends "page down", twice.
            assert _soon(pressed)
            assert not pressed()
            raise KeyError
        assert termios.tcgetattr(terminal) == before
    os.close(here)


def _soon(pressed: Callable[[], bool]) -> bool:
    for _ in range(100):
        if pressed():
            return True
        time.sleep(0.01)
    return False


def test_without_a_terminal_there_is_no_key(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    with (tmp_path / "empty").open("w+") as stdin:
        monkeypatch.setattr(sys, "stdin", stdin)
        with pytest.raises(AssistantError, match="--address"), keys.presses():
            pass
        journal = tmp_path / "journal.db"
        arguments = ["run", "pump-rebuild", "--silent", "--journal", str(journal)]
        assert cli.main([*arguments, "--address", "key-held"]) == 2
        assert "terminal" in capsys.readouterr().err
        assert cli.main([*arguments, "--address", "key-tapped", "--from", "a.wav"]) == 2
        assert "recordings" in capsys.readouterr().err
        assert cli.main([*arguments, "--address", "call-word", "--call-word", "r2 d2"]) == 2
        assert "no call word" in capsys.readouterr().err
        assert not journal.exists()
