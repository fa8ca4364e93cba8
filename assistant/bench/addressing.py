"""Decides whether a phrase is meant for the assistant.

A pure state machine. It reads no clock: the times given to it are seconds of any clock that only
goes forward. A shop chooses one of four ways:

- open: every phrase is for the assistant. For a quiet bench.
- call word: a phrase that begins with the call word. The call word alone, or an answer, opens a
  window in which the next phrase needs none.
- key held: a phrase that begins while a key or pedal is down. A terminal reports no release, only
  that the key is down, again and again, so a key counts as held until no repeat comes.
- key tapped: a tap opens the window, and so does an answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True)
class Windows:
    """How long the assistant stays addressed, in seconds. None of it was measured."""

    follow_up_s: float = 8.0
    """After an answer, until when the next phrase may begin without a call word or a tap. Longer
    lets in more talk to others; shorter makes people call twice."""
    repeat_s: float = 0.6
    """How long a key counts as held after a repeat; terminals repeat 10 to 40 times a second.
    Shorter drops a held key on a slow terminal."""
    first_repeat_s: float = 0.8
    """The same after the first press: the first repeat takes 0.25 to 0.66 s, as the system is
    set."""
    early_s: float = 0.3
    """How long before the key goes down a phrase may begin: mouths are quicker than hands."""


WINDOWS = Windows()


class Way(StrEnum):
    """How people show that they mean the assistant."""

    OPEN = "open"
    CALL_WORD = "call-word"
    KEY_HELD = "key-held"
    KEY_TAPPED = "key-tapped"

    @property
    def by_key(self) -> bool:
        """Whether a key or pedal is read."""
        return self in (Way.KEY_HELD, Way.KEY_TAPPED)


@dataclass
class Addressing:
    """Whether the assistant is being addressed at one bench.

    `word` is the call word, of one word or several, in any case. Only the way `CALL_WORD` uses it.
    """

    way: Way = Way.OPEN
    word: tuple[str, ...] = ("bench",)
    follow_up_s: float = WINDOWS.follow_up_s
    _from: float = float("inf")
    """The window, from here until `_until`, in which a phrase may begin without more ado."""
    _until: float = float("-inf")
    _released: bool = True

    def heard(self, words: Sequence[str], at: float) -> tuple[str, ...] | None:
        """Return the words of a phrase without the call word; None if it is not for the assistant.

        `at` is when the phrase began. The call word alone returns (), and opens the window. A
        phrase without words, such as free speech, is for the assistant only in the window.
        """
        rest, called = without_call(words, self.word) if self._calls else (tuple(words), False)
        if called and not rest:
            self._open(at)
        return rest if called or self._is_open(at) else None

    def key(self, down: bool, at: float) -> None:
        """Record a key press, a repeat, or a release where the terminal reports one."""
        if not self.way.by_key:
            return
        if self.way is Way.KEY_TAPPED:
            if down:
                self._open(at)
            return
        if not down:
            self._until = min(self._until, at)
            self._released = True
        elif self._released or at >= self._until:
            self._from, self._until = at - WINDOWS.early_s, at + WINDOWS.first_repeat_s
            self._released = False
        else:
            self._until = max(self._until, at + WINDOWS.repeat_s)

    def listening(self, at: float) -> bool:
        """Return whether to recognise a phrase that begins now; with a call word, always."""
        return self._calls or self._is_open(at)

    def word_optional(self, at: float) -> bool:
        """Return whether the assistant can be addressed now without the call word."""
        return not self._calls or self._is_open(at)

    def meant(self, words: Sequence[str], at: float) -> bool:
        """Return whether words that began at this time are for the assistant."""
        return self.word_optional(at) or without_call(words, self.word)[1]

    def answered(self, at: float, standing_by: bool = False) -> None:
        """Record that an answer to somebody ended now: it opens the window.

        While standing by it closes the window: talk to others follows, and "resume" needs the call
        word or a tap like the first command. What is said unasked, such as that a timer is up, is
        no answer.
        """
        if self.way in (Way.CALL_WORD, Way.KEY_TAPPED):
            if standing_by:
                self._until = float("-inf")
            else:
                self._open(at)

    @property
    def _calls(self) -> bool:
        return self.way is Way.CALL_WORD

    def _open(self, at: float) -> None:
        self._from = min(self._from, at) if self._is_open(at) else at
        self._until = at + self.follow_up_s

    def _is_open(self, at: float) -> bool:
        return self.way is Way.OPEN or self._from <= at < self._until


def without_call(words: Sequence[str], call: Sequence[str]) -> tuple[tuple[str, ...], bool]:
    """Return the words without the call word in front, and whether it was there."""
    first = tuple(word.casefold() for word in words[: len(call)])
    if call and first == tuple(word.casefold() for word in call):
        return tuple(words[len(call) :]), True
    return tuple(words), False
