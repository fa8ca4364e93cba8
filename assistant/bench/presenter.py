"""Presents the conversation: by voice, by tones and on the screens."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

from assistant.audio.cue import Cue
from assistant.audio.manner import Change, Manner
from assistant.audio.pcm import Pcm
from assistant.bench.protocols import Screen, Situation, Speaker
from assistant.dialogue.turn import Reply, Tone

_CUES = (
    (Tone.REFUSED, Cue.REFUSED),
    (Tone.QUESTION, Cue.QUESTION),
    (Tone.RECORDED, Cue.RECORDED),
)
"""Which tone is played before replies of a kind; the kind that matters most comes first."""


def cue_of(replies: Iterable[Reply]) -> Cue:
    """Return the tone to play before an answer: that of the most important reply in it."""
    tones = {reply.tone for reply in replies}
    return next((cue for tone, cue in _CUES if tone in tones), Cue.HEARD)


@dataclass
class Presenter:
    """Says and shows replies, and remembers them for "say again"."""

    speaker: Speaker
    screens: list[Screen] = field(default_factory=list)
    remember_manner: Callable[[Manner], None] = lambda manner: None
    """Told how it was asked to speak, to speak so the next time."""
    situation: Situation = field(default_factory=Situation)
    """What the screens were told last."""
    _last: tuple[Reply, ...] = ()
    """What "say again" repeats."""
    _cut: tuple[Reply, ...] = ()
    """What "stand by" cut short, until it is asked for again."""

    def heard(self, words: str) -> None:
        """Show what was understood."""
        for screen in self.screens:
            screen.heard(words)

    def not_taken(self, words: str, why: str) -> None:
        """Show what was heard and not acted on."""
        for screen in self.screens:
            screen.not_taken(words, why)

    def say(
        self, replies: Iterable[Reply], cue: Cue | None = None, *, remember: bool = True
    ) -> None:
        """Say and show replies, after a tone where one is given.

        With `remember` they are what "say again" repeats.
        """
        replies = tuple(replies)
        if not replies:
            return
        if remember:
            self._last = replies
        if cue is not None:
            self.speaker.cue(cue)
        for screen in self.screens:
            screen.said(replies, cue)
        self._update(speaking=True)
        self.speaker.say(" ".join(reply.text for reply in replies))
        self._update(speaking=self._audible())

    def play(self, sound: Pcm) -> bool:
        """Play kept sound after what is said; return False where there is no loudspeaker."""
        self._update(speaking=True)
        played = self.speaker.play(sound)
        self._update(speaking=self._audible())
        return played

    def tell(self, text: str) -> None:
        """Say something about the assistant itself; "say again" does not repeat it."""
        self.say((Reply(text, Tone.ALERT),), Cue.REFUSED, remember=False)

    def stop(self) -> bool:
        """Stop talking. Returns whether anything was cut short."""
        return self.speaker.stop()

    def keep_cut(self, cut: bool) -> None:
        """Keep what was just cut short, for "say again", or forget what was kept."""
        self._cut = self._last if cut else ()

    def again(self) -> tuple[Reply, ...]:
        """Return what is to be repeated: what was cut short, and what was said last."""
        cut, self._cut = self._cut, ()
        return (*cut, *self._last)

    def change_voice(self, change: Change) -> Reply:
        """Speak otherwise from now on. Returns what to say of it."""
        changed = self.speaker.manner.changed(change)
        if changed == self.speaker.manner:
            return Reply(f"I cannot speak any {change}.", Tone.REFUSED)
        self.speaker.manner = changed
        self.remember_manner(changed)
        return Reply(f"{change.capitalize()}.")

    # What the screens know of the bench

    def show(self, situation: Situation) -> None:
        """Tell the screens where the job stands; whether it speaks and hears is known here."""
        now = self.situation
        self._publish(replace(situation, speaking=now.speaking, deaf=now.deaf))

    def refresh(self, deaf: bool) -> None:
        """Tell the screens whether it can hear, and whether it is speaking, if that changed."""
        self._update(speaking=self._audible(), deaf=deaf)

    def _update(self, *, speaking: bool, deaf: bool | None = None) -> None:
        """Tell the screens what changed, if anything did; `deaf` None leaves it as it is."""
        now = self.situation
        deaf = now.deaf if deaf is None else deaf
        if (speaking, deaf) != (now.speaking, now.deaf):
            self._publish(replace(now, speaking=speaking, deaf=deaf))

    def _publish(self, situation: Situation) -> None:
        self.situation = situation
        for screen in self.screens:
            screen.update(situation)

    def _audible(self) -> bool:
        now = time.monotonic()
        return self.speaker.audible(now, now)
