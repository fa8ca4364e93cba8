"""The measurements themselves: each gives rows of plain values, to be printed and kept."""

import time
from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np
import psutil

from assistant.audio import pcm
from assistant.audio.endpoint import Phrase
from assistant.bench.addressing import Addressing, Way
from assistant.bench.hearer import Hearer
from assistant.dialogue import live
from assistant.dialogue.intents import Intent
from assistant.dialogue.state import State
from assistant.grammar.jsgf import Grammar
from assistant.recognition.endpointing import PhraseListener
from assistant.recognition.two_pass import TwoPassRecogniser
from assistant.recognition.utterance import Utterance, Verdict
from tests.benchmark import noises, speech, talk
from tests.benchmark.judging import Counts, Outcome, judge, meant, records
from tests.benchmark.listeners import Listener, Paused, made
from tests.fixtures import every_state, meanings_at

Row = dict[str, Any]
Condition = tuple[str | None, float | None]
"""A noise and how far under the speech it is, in dB."""

_BLOCK_S = 0.03
_BLOCK_BYTES = round(_BLOCK_S * pcm.RATE) * 2
_GAP_S = 1.2
"""Between commands on a stream: longer than any pause that ends a phrase."""


def hear(listener: Listener, sound: pcm.Pcm, state: State) -> Utterance[Intent]:
    return listener.hear(sound, live.grammar_for(state), meanings_at(state))


def _stream_to(
    listener: Listener, state: Callable[[], State], clock: Callable[[], float] | None = None
) -> PhraseListener[Intent] | Paused:
    """What cuts a stream into phrases for this listener and has them heard, at the live state."""

    def heard(phrase: Phrase, early: bool) -> Utterance[Intent]:
        sound, now = pcm.from_bytes(phrase.data), state()
        if isinstance(listener, TwoPassRecogniser):
            meanings, grammar = meanings_at(now), live.grammar_for(now)
            return listener.hear(sound, grammar, meanings, early=early, pause_s=phrase.pause_s)
        return hear(listener, sound, now)

    if isinstance(listener, TwoPassRecogniser):
        return PhraseListener(
            heard,
            lambda: live.grammar_for(state()),
            clock,
            listener.activity,
            lambda meaning: meanings_at(state()).at_stake(meaning),
        )
    return Paused(heard)


def commands(
    name: str, voices: Sequence[str], every: int, first: int, condition: Condition, tell: bool
) -> list[Row]:
    """What becomes of commands, each heard as one phrase: a row a voice.

    `every`, `first`: as `speech.cases` takes them. Time is the processor's, of all threads.
    """
    listener = made(name)
    noise, decibels = condition
    counts: dict[str, Counts] = defaultdict(Counts)
    took: dict[str, list[float]] = defaultdict(list)
    for case in speech.cases(voices, every, first):
        sound = case.in_noise(noise, decibels)
        begun = time.process_time()
        hearing = hear(listener, sound, case.state)
        took[case.voice].append(time.process_time() - begun)
        judged = judge(hearing, case.state, case.intent)
        counts[case.voice].add(judged)
        if tell and judged.outcome is not Outcome.UNDERSTOOD:
            level = f"{noise} {decibels:g} dB" if decibels is not None else "no noise"
            print(
                f"  {name} {case.voice} {level}: “{case.text}” {judged.outcome.value}"
                f"{', recorded' if judged.wrong_recorded else ''}"
                f" as “{' '.join(hearing.words)}” {hearing.confidence:.2f}",
                flush=True,
            )
    return [
        {
            "what": "commands",
            "listeners": name,
            "voice": voice,
            "held_out": voice in speech.HELD_OUT,
            "noise": noise,
            "db": decibels,
            **dict(count),
            "cpu_p50_s": _percentile(took[voice], 50),
            "cpu_p95_s": _percentile(took[voice], 95),
        }
        for voice, count in counts.items()
    ]


def false_accepts(name: str, seconds: float, tell: bool) -> list[Row]:
    """What is taken of speech and noise that is for nobody here, through the endpointer.

    The step that is live changes with each scene. A row a kind of sound.
    """
    listener = made(name)
    states = every_state()
    rows: dict[str, Row] = {}
    for number, scene in enumerate(talk.scenes(seconds)):
        state = states[number % len(states)]
        row = rows.setdefault(
            scene.kind,
            {
                "what": "false accepts",
                "listeners": name,
                "kind": scene.kind,
                "seconds": 0.0,
                "phrases": 0,
                "accepted": 0,
                "recorded": 0,
                "questioned": 0,
                "cpu_s": 0.0,
            },
        )
        begun = time.process_time()
        for start_s, hearing in phrases(listener, scene.sound, state):
            row["phrases"] += 1
            intent = meant(hearing)
            if hearing.verdict is Verdict.DOUBTFUL:
                row["questioned"] += 1
            elif hearing.accepted and intent is not None:
                row["accepted"] += 1
                row["recorded"] += records(intent, state)
            else:
                continue
            if tell:
                print(
                    f"  {name} {scene.kind} over {scene.name}, scene {number} at {start_s:.1f} s: "
                    f"{'taken' if hearing.accepted else 'questioned'} as "
                    f"“{' '.join(hearing.words)}” {hearing.confidence:.2f}",
                    flush=True,
                )
        row["cpu_s"] += time.process_time() - begun
        row["seconds"] += scene.sound.seconds
    return list(rows.values())


def phrases(
    listener: Listener, sound: pcm.Pcm, state: State
) -> Iterator[tuple[float, Utterance[Intent]]]:
    """When each phrase in it began, in seconds, and what was heard."""
    for phrase, hearing in _cut(sound, _stream_to(listener, lambda: state)):
        yield phrase.start_s, hearing


def _cut(
    sound: pcm.Pcm, stream: PhraseListener[Any] | Paused
) -> Iterator[tuple[Phrase, Utterance[Any]]]:
    """The phrases of a whole sound, fed to a stream as a microphone gives it."""
    data = sound.tobytes()
    for start in range(0, len(data), _BLOCK_BYTES):
        yield from stream.feed(data[start : start + _BLOCK_BYTES])
    yield from stream.flush()


class _Called:
    """A bench at one step that is called by a word, and what it would have answered to."""

    def __init__(self, listener: TwoPassRecogniser, state: State) -> None:
        self._state = state
        self._meanings = meanings_at(state)
        self.standing_by = state.standing_by
        self.calls = 0
        self.taken: list[Utterance[Intent]] = []
        """What it would have acted on, or asked for again."""
        self._hearer = Hearer(self, listener, Addressing(Way.CALL_WORD))  # type: ignore[arg-type]
        self._phrases = self._hearer.phrases()

    def grammar(self) -> Grammar:
        return live.grammar_for(self._state)

    def means(self, words: Sequence[str]) -> Intent | None:
        return self._meanings.means(words)

    def at_stake(self, meaning: Intent) -> bool:
        return self._meanings.at_stake(meaning)

    def numeric(self, meaning: Intent) -> bool:
        return self._meanings.numeric(meaning)

    def fits(self, meaning: Intent) -> bool:
        return self._meanings.fits(meaning)

    def called(self, words: str = "") -> None:
        self.calls += 1

    def take(self, utterance: Utterance[Intent]) -> None:
        if utterance.verdict is not Verdict.REJECTED:
            self.taken.append(utterance)

    def listen(self, sound: pcm.Pcm) -> None:
        for phrase, hearing in _cut(sound, self._phrases):
            self._hearer.take(phrase, hearing)


def false_calls(name: str, seconds: float, seed: int, tell: bool) -> list[Row]:
    """What is taken, or answered to, of sound that is for nobody where a call word is needed.

    What opens the window by mistake lets more in, as at a bench. A row a kind of sound.
    """
    listener = made(name)
    assert isinstance(listener, TwoPassRecogniser)
    states = every_state()
    rows: dict[str, Row] = {}
    for number, scene in enumerate(talk.scenes(seconds, seed, (*talk.KINDS, talk.NEAR_CALLS))):
        counted = ("calls", "accepted", "recorded", "questioned")
        nothing = dict.fromkeys(counted, 0) | {"seconds": 0.0, "cpu_s": 0.0}
        kind: Row = {"what": "false calls", "listeners": name, "kind": scene.kind, **nothing}
        row = rows.setdefault(scene.kind, kind)
        state = states[number % len(states)]
        begun = time.process_time()
        bench = _Called(listener, state)
        bench.listen(scene.sound)
        row["cpu_s"] += time.process_time() - begun
        row["seconds"] += scene.sound.seconds
        row["calls"] += bench.calls
        for heard in bench.taken:
            intent = heard.meaning
            row["accepted"] += heard.accepted
            row["questioned"] += not heard.accepted
            row["recorded"] += bool(
                heard.accepted and intent is not None and records(intent, state)
            )
        if tell and (bench.calls or bench.taken):
            print(f"  {name} {scene.kind} over {scene.name}, scene {number}:", end="")
            told = [
                f"{'taken' if heard.accepted else 'questioned'} as “{heard.text}” "
                f"{heard.confidence:.2f}"
                for heard in bench.taken
            ]
            print(f" called {bench.calls} times,", "; ".join(told), flush=True)
    return list(rows.values())


def answers(name: str, cases: Sequence[speech.Case], condition: Condition) -> Row:
    """How long an answer takes, on one stream of commands fed in real time with noise all along.

    Counted from the last sample of speech until it is decided to answer or to ask. A phrase of
    which nothing is taken has no answer, and counts as missed. The share is of one core.
    """
    listener = made(name)
    noise, decibels = condition
    # What is loaded late is loaded now.
    hear(listener, cases[0].in_noise(*condition), cases[0].state)
    stream, starts, ends = _stream(cases, condition)
    data = stream.tobytes()
    process = psutil.Process()
    counts, times = Counts(), []
    answered: set[int] = set()
    at = 0

    def number() -> int:
        """Which command was said last; noise before the first is laid to that."""
        return max(0, int(np.searchsorted(starts, at // 2, side="right")) - 1)

    phrases = _stream_to(listener, lambda: cases[number()].state, time.perf_counter)
    used = sum(process.cpu_times()[:2])
    begun = time.perf_counter()
    for start in range(0, len(data), _BLOCK_BYTES):
        # A microphone gives a block once its last sample is there.
        time.sleep(max(0.0, begun + (start + _BLOCK_BYTES) / 2 / pcm.RATE - time.perf_counter()))
        at = start
        for _, hearing in phrases.feed(data[start : start + _BLOCK_BYTES]):
            taken = hearing.verdict is not Verdict.REJECTED
            if not taken or number() in answered:
                continue
            answered.add(number())
            case = cases[number()]
            times.append(time.perf_counter() - begun - ends[number()] / pcm.RATE)
            counts.add(judge(hearing, case.state, case.intent))
            # At a bench this is done while the answer is spoken.
            upcoming = cases[min(number() + 1, len(cases) - 1)].state
            if isinstance(listener, TwoPassRecogniser):
                listener.prepare(live.grammar_for(upcoming))
    wall = time.perf_counter() - begun
    counts.phrases = len(cases)
    counts.missed = len(cases) - counts.understood - counts.questioned - counts.wrong
    return {
        "what": "answers",
        "listeners": name,
        "noise": noise,
        "db": decibels,
        **dict(counts),
        "p50_s": _percentile(times, 50),
        "within_250_ms": sum(t <= 0.25 for t in times),
        "within_600_ms": sum(t <= 0.6 for t in times),
        "p95_s": _percentile(times, 95),
        "processor": round((sum(process.cpu_times()[:2]) - used) / wall, 3),
        "seconds": round(wall, 1),
    }


def _stream(
    cases: Sequence[speech.Case], condition: Condition
) -> tuple[pcm.Pcm, list[int], list[int]]:
    """The commands one after another, and where the speech of each begins and ends in samples."""
    noise, decibels = condition
    hiss = speech.random("hiss")
    pieces, starts, ends, length = [], [], [], 0
    for case in cases:
        gap = np.round(hiss.normal(0, 10, size=int(_GAP_S * pcm.RATE))).astype(np.int16)
        starts.append(length + len(gap))
        ends.append(length + len(gap) + case.speech_ends)
        pieces += [gap, case.samples]
        length += len(gap) + len(case.samples)
    pieces.append(np.zeros(2 * pcm.RATE, np.int16) + 1)
    samples = np.concatenate(pieces)
    if noise is not None and decibels is not None:
        under = speech.NOISES[noise](len(samples), speech.random(noise, "stream"))
        samples = noises.mix(samples, under, decibels)
    return pcm.Pcm(samples), starts, ends


def _percentile(values: Sequence[float], percent: float) -> float | None:
    return round(float(np.percentile(values, percent)), 3) if values else None
