"""Fits the weights of `recognition.weighing` again; prints them, and what they would take.

Run as `python -m tests.benchmark.fit` with `pip install -e '.[dev]'` and Debian's flite and
espeak-ng; it takes half an hour on two cores. It hears the commands of audio_fixtures, as recorded
and in six shop noises at 20, 10 and 5 dB, and other talk in the same voices. The numbers printed
are for voices that the second set of weights was not fitted to: each of five parts is judged by a
fit to the other four. The first set has seen all of them. Other voices are what
`python -m tests.benchmark` measures.
"""

import argparse
import importlib.util
import multiprocessing
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cache
from types import ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import minimize

from assistant.audio import pcm
from assistant.dialogue import intents, stakes
from assistant.recognition import weighing
from assistant.recognition.recogniser import Hypothesis
from assistant.recognition.utterance import Understanding, Utterance
from assistant.recognition.whisper import Opinion
from tests.benchmark import measure, noises, speech, talk
from tests.benchmark.listeners import made
from tests.fixtures import AUDIO, every_state

LEVELS = (None, 20.0, 10.0, 5.0)
PARTS = 5
SEED = 5
"""Of the talk; the benchmark's own is another."""
_PENALTY = 3e-4
"""On the squares of the weights, so that they stay small where the data does not tell."""
_ASKED = 5
"""Of so many sentences the loss is kept: more than are asked for, as weights change the order."""

Row = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Evidence:
    """What two listeners made of one phrase."""

    first: Hypothesis
    opinion: Opinion
    meanings: dict[tuple[str, ...], intents.Intent | None]
    losses: dict[tuple[str, ...], float]
    intent: dict[str, Any] | None
    """What was said, as `intents.as_dict` gives it; None: nothing that is for the assistant."""
    group: str
    """Phrases of one group are fitted to together, or not at all."""

    def means(self, words: Sequence[str]) -> intents.Intent | None:
        return self.meanings.get(tuple(words))

    def at_stake(self, meaning: intents.Intent) -> bool:
        return stakes.high(meaning)

    def numeric(self, meaning: intents.Intent) -> bool:
        return stakes.numeric(meaning)

    def fits(self, meaning: intents.Intent) -> bool:
        return True

    def loss(self, words: tuple[str, ...]) -> float:
        return self.losses.get(words, np.inf)

    def right(self, weighed: weighing.Weighed[intents.Intent]) -> bool:
        meaning = weighed.meaning
        if self.intent is None:
            return False
        return intents.as_dict(meaning) == self.intent or (
            isinstance(meaning, intents.Note)
            and self.intent == intents.as_dict(intents.Note(clipped=True))
        )


@contextmanager
def _overheard() -> Iterator[list[Evidence]]:
    """Have the judge write down what it is given."""
    found: list[Evidence] = []
    judge = weighing.judge

    def recording(
        first: Hypothesis,
        opinion: Opinion,
        understanding: Understanding[Any],
        name: str,
        loss: weighing.Loss,
    ) -> Utterance[Any]:
        words = [candidate.words for candidate in opinion.candidates]
        meanings = {each: understanding.means(each) for each in [*words, first.words] if each}
        asked = [each for each in words if meanings[each] is not None and each != first.words]
        losses = {each: loss(each) for each in asked[:_ASKED]}
        found.append(Evidence(first, opinion, meanings, losses, None, ""))
        return judge(first, opinion, understanding, name, lambda w: losses.get(w, np.inf))

    weighing.judge = recording
    try:
        yield found
    finally:
        weighing.judge = judge


def of_commands(decibels: float | None, every: int) -> list[Evidence]:
    """What is made of the recorded commands, in a noise so far under them."""
    found = []
    names = list(noises.SHOP)
    for number, case in enumerate(speech.cases(speech.TUNED, every)):
        sound = case.in_noise(names[number % len(names)] if decibels else None, decibels)
        with _overheard() as overheard:
            measure.hear(made("both"), sound, case.state)
        found += [replace(each, intent=case.intent, group=case.voice) for each in overheard]
    return found


def of_talk(minutes: float, part: int) -> list[Evidence]:
    """What is made of other talk, in the voices of audio_fixtures."""
    found: list[Evidence] = []
    states = every_state()
    speakers = list(_recordings().VOICES)
    scenes = talk.scenes(minutes * 60, SEED + part, speakers=speakers, speak=_speak)
    for number, scene in enumerate(scenes):
        if scene.kind == "prose":
            continue
        with _overheard() as overheard:
            for _ in measure.phrases(made("both"), scene.sound, states[number % len(states)]):
                pass
        found += [replace(each, group=f"{part} {number % PARTS}") for each in overheard]
    return found


@cache
def _recordings() -> ModuleType:
    """The script that makes the recordings: it speaks in their voices."""
    spec = importlib.util.spec_from_file_location("make_recordings", AUDIO / "make.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _speak(text: str, voice: str, pause_s: float) -> pcm.Samples:
    pause = np.random.default_rng(len(text)).normal(0, 0.0003, round(pause_s * pcm.RATE))
    said = np.concatenate([_recordings().speak(text, voice), pause])
    return np.round(np.clip(said, -1, 1) * 32767).astype(np.int16)


def utility_weights(evidence: Sequence[Evidence]) -> Row:
    """By maximum likelihood of the right sentence among those that it may have been."""
    choices: list[tuple[list[Row], list[int], int]] = []
    for each in evidence:
        weighed = weighing.weigh(each.first, each.opinion, each, each.loss)
        meanings: list[object] = []
        places, right = [], None
        for one in weighed:
            if one.meaning not in meanings:
                meanings.append(one.meaning)
            places.append(meanings.index(one.meaning))
            if each.right(one):
                right = places[-1]
        if right is not None:
            choices.append(([np.array(one.features) for one in weighed], places, right))

    def unlikelihood(weights: Row) -> float:
        total = 0.0
        for features, places, right in choices:
            best = np.full(max(places) + 1, -np.inf)
            for values, place in zip(features, places, strict=True):
                best[place] = max(best[place], weights @ values)
            total += np.logaddexp.reduce(best) - best[right]
        return float(total / len(choices) + _PENALTY * weights @ weights)

    return np.array(minimize(unlikelihood, np.array(weighing.WEIGHTS.utility), method="BFGS").x)


def sure_weights(signs: npt.NDArray[np.float64], right: npt.NDArray[np.bool_]) -> Row:
    """By logistic regression."""
    sides = np.where(right, 1.0, -1.0)

    def unlikelihood(weights: Row) -> float:
        return float(
            np.mean(np.logaddexp(0, -sides * (signs @ weights))) + _PENALTY * weights @ weights
        )

    return np.array(minimize(unlikelihood, np.array(weighing.WEIGHTS.sure), method="BFGS").x)


def _signs(evidence: Sequence[Evidence]) -> Iterator[tuple[Evidence, tuple[float, ...], bool]]:
    for each in evidence:
        weighed = weighing.weigh(each.first, each.opinion, each, each.loss)
        # Of notes there is too little speech here; they have a rule of their own.
        if weighed and not weighing.free_follows(weighed[0].candidate, each.first):
            yield each, weighing.signs(weighed, each.first, each.opinion), each.right(weighed[0])


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.benchmark.fit", description=__doc__)
    parser.add_argument("--every", type=int, default=2, help="one command in so many")
    parser.add_argument("--minutes", type=float, default=40, help="of other talk")
    parser.add_argument("--jobs", type=int, default=2)
    chosen = parser.parse_args()
    with ProcessPoolExecutor(chosen.jobs, multiprocessing.get_context("spawn")) as pool:
        waiting = [pool.submit(of_talk, chosen.minutes / 4, part) for part in range(4)]
        waiting += [pool.submit(of_commands, level, chosen.every) for level in LEVELS]
        evidence = [each for future in waiting for each in future.result()]
    commands_ = sum(each.intent is not None for each in evidence)
    print(
        f"{commands_} commands and {len(evidence) - commands_} phrases of other talk were weighed"
    )
    weights = utility_weights(evidence)
    print("utility =", tuple(np.round(weights, 3).tolist()))
    weighing.WEIGHTS = replace(weighing.WEIGHTS, utility=tuple(weights.tolist()))
    rows = list(_signs(evidence))
    signs = np.array([values for _, values, _ in rows])
    right = np.array([ok for *_, ok in rows])
    said = np.array([each.intent is not None for each, *_ in rows])
    print("sure =", tuple(np.round(sure_weights(signs, right), 3).tolist()))
    groups = [each.group for each, *_ in rows]
    part = np.array([sorted(set(groups)).index(group) % PARTS for group in groups])
    sure = np.zeros(len(rows))
    for number in range(PARTS):
        fitted = sure_weights(signs[part != number], right[part != number])
        sure[part == number] = 1 / (1 + np.exp(-signs[part == number] @ fitted))
    print("at   commands right  wrong  other talk taken, of these")
    for least in (0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95):
        taken = sure >= least
        print(
            f"{least:.2f} {np.mean(right[said] & taken[said]):15.1%}"
            f"{np.mean(~right[said] & taken[said]):7.1%} {np.sum(taken & ~said)}"
        )


if __name__ == "__main__":
    main()
