"""The Vosk recogniser (Kaldi models), preferred if one of its English models is found.

Vosk takes a grammar as a list of phrases and learns from them which word may follow which. The
phrases made here cover every such pair. That allows more than the grammar does, so each result is
checked to be a sentence. Vosk silently drops words that its model does not know, so they are looked
up first and respelt.
"""

import json
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any

from cachetools import LRUCache

from assistant.audio.pcm import RATE
from assistant.errors import AssistantError
from assistant.grammar.jsgf import GARBAGE, Grammar, cover
from assistant.grammar.network import Network
from assistant.grammar.respelling import Respellings
from assistant.recognition.recogniser import Acceptance, Hypothesis

_UNKNOWN = "[unk]"
_CACHED_GRAMMARS = 32

ACCEPTANCE = Acceptance(accepted=0.7, doubtful=0.4)
"""Thresholds on the mean confidence of the words. `accepted` was set on only a dozen Korean clips,
where right results had 0.78 and more; `doubtful` is a judgement."""


class Vosk:
    """A Vosk model limited to a grammar.

    `folder` is the model's folder, or one that contains it as `model` (as Python packages of models
    do). The name of the folder or package is the model's name, which selects respellings. `warn`
    gets a sentence about words that the model cannot hear. Raises AssistantError if the model
    cannot be used.
    """

    name = "vosk"

    def __init__(
        self,
        folder: Path,
        respellings: Respellings | None = None,
        warn: Callable[[str], None] = lambda text: None,
    ) -> None:
        model = folder / "model" if (folder / "model" / "am").is_dir() else folder
        _check(folder, model)
        self.model_name = _model_name(model)
        import vosk

        vosk.SetLogLevel(-1)
        try:
            self._model: Any = vosk.Model(str(model))
        except Exception:
            raise AssistantError(
                f"{folder}: Vosk cannot load this model. Unpack it again, or use "
                "--recogniser pocketsphinx."
            ) from None
        self._respellings = respellings or Respellings()
        self._warn = warn
        self._listeners: LRUCache[Grammar, _Listener | None] = LRUCache(_CACHED_GRAMMARS)
        self._grammar: Grammar | None = None
        self._fed = 0
        self._took = 0.0
        self._heard: list[dict[str, Any]] = []

    def knows(self, word: str) -> bool:
        """Whether the word is in the model's vocabulary."""
        return bool(self._model.vosk_model_find_word(word) >= 0)

    def listen_for(self, grammar: Grammar) -> None:
        """Limit recognition to a grammar; quick for one that was used before."""
        if grammar not in self._listeners:
            self._listeners[grammar] = self._make_listener(grammar)
        self._grammar = grammar

    def feed(self, block: bytes) -> None:
        """Decode the next block of the phrase: 16 kHz mono 16-bit PCM of any length."""
        started = time.perf_counter()
        listener = self._listener()
        self._fed += len(block) // 2
        if listener and block and listener.decoder.AcceptWaveform(bytes(block)):
            self._heard.extend(json.loads(listener.decoder.Result()).get("result", []))
        self._took += time.perf_counter() - started

    def finish(self) -> Hypothesis:
        """End the phrase and return the hypothesis."""
        started = time.perf_counter()
        listener = self._listener()
        if listener:
            self._heard.extend(json.loads(listener.decoder.FinalResult()).get("result", []))
            listener.restart()
        spans = listener.sentence([entry["word"] for entry in self._heard]) if listener else None
        raw = [entry for entry in self._heard if entry["word"] != _UNKNOWN]
        if spans is None:
            plain = listener.plain if listener else {}
            times = tuple(
                (plain.get(e["word"], e["word"]), float(e["start"]), float(e["end"])) for e in raw
            )
            words = tuple(word for word, _, _ in times)
        else:
            words = tuple(word for word, _, _ in spans)
            times = tuple(
                (word, float(self._heard[first]["start"]), float(self._heard[last - 1]["end"]))
                for word, first, last in spans
            )
        confidence = sum(float(e["conf"]) for e in raw) / len(raw) if raw else 0.0
        is_sentence = spans is not None and bool(words)
        hypothesis = Hypothesis(
            words=words,
            is_sentence=is_sentence,
            verdict=ACCEPTANCE.verdict(is_sentence, confidence),
            confidence=round(min(1.0, max(0.0, confidence)), 3),
            recogniser=self.name,
            times=times,
            audio_s=self._fed / RATE,
            took_s=self._took + time.perf_counter() - started,
        )
        self._fed, self._took, self._heard = 0, 0.0, []
        return hypothesis

    def _listener(self) -> "_Listener | None":
        if self._grammar is None:
            raise RuntimeError("call listen_for first")
        return self._listeners[self._grammar]

    def _make_listener(self, grammar: Grammar) -> "_Listener | None":
        spelling: dict[str, tuple[str, ...]] = {}
        lacking = []
        for word in sorted(grammar.words()):
            if self.knows(word):
                spelling[word] = (word,)
                continue
            parts = self._respellings.of(word, self.model_name) or ()
            parts = tuple(part.casefold() for part in parts)
            if parts and all(map(self.knows, parts)):
                spelling[word] = parts
            else:
                lacking.append(word)
        if lacking:
            self._warn(
                f"{self.model_name} cannot hear: {', '.join(lacking)}. Give them respellings in "
                "words that it knows, in a file for --respell."
            )
        network = grammar.network().compact()
        arcs = tuple(a for a in network.arcs if a.word == GARBAGE or a.word in spelling)
        network = Network(network.start, network.finals, arcs, network.states).trimmed()
        phrases = cover(network, garbage=_UNKNOWN if self.knows(_UNKNOWN) else None)
        if not phrases:
            if lacking:
                raise AssistantError(
                    f"{self.model_name} can hear no sentence of this grammar: it knows too few of "
                    "its words. Is it a model for this language?"
                )
            return None
        respelt = [
            " ".join(" ".join(spelling.get(word, (word,))) for word in phrase.split())
            for phrase in phrases
        ]
        if self.knows(_UNKNOWN):
            respelt.append(_UNKNOWN)
        return _Listener(self._model, json.dumps(respelt, ensure_ascii=False), network, spelling)


class _Listener:
    """A decoder for one grammar, and the mapping from its words back to the grammar's."""

    def __init__(
        self, model: Any, phrases: str, network: Network, spelling: Mapping[str, tuple[str, ...]]
    ) -> None:
        self._model = model
        self._phrases = phrases
        self._network = network
        self._spelling = spelling
        self.plain = {parts[0]: word for word, parts in spelling.items() if len(parts) == 1}
        """The grammar's word for each word of the model that stands for one word alone."""
        self.restart()

    def restart(self) -> None:
        """Make a new decoder, because a reset decoder still adapts to the phrases before."""
        import vosk

        self.decoder: Any = vosk.KaldiRecognizer(self._model, RATE, self._phrases)
        self.decoder.SetWords(True)

    def sentence(self, heard: Sequence[str]) -> list[tuple[str, int, int]] | None:
        """Return the sentence that these words spell, or None if they do not spell one.

        Each word comes as (word, index of its first part in `heard`, index after its last part).
        Unknown words fit only free speech.
        """
        failed: set[tuple[int, int]] = set()

        def walk(state: int, place: int) -> list[tuple[str, int, int]] | None:
            if (state, place) in failed:
                return None
            if place == len(heard) and state in self._network.finals:
                return []
            failed.add((state, place))
            for arc in self._network.leaving[state]:
                assert arc.word is not None
                if arc.word == GARBAGE:
                    after = place
                    while after < len(heard) and heard[after] == _UNKNOWN:
                        after += 1
                    rest = walk(arc.target, after)
                    if rest is not None:
                        return rest
                    continue
                parts = self._spelling[arc.word]
                after = place + len(parts)
                if tuple(heard[place:after]) == parts:
                    rest = walk(arc.target, after)
                    if rest is not None:
                        return [(arc.word, place, after), *rest]
            return None

        return walk(self._network.start, 0)


def _check(folder: Path, model: Path) -> None:
    if not folder.is_dir():
        raise AssistantError(f"{folder}: there is no such folder; expected a Vosk model's folder.")
    if not (model / "am" / "final.mdl").is_file():
        inside = sorted(path.name for path in folder.glob("*/") if (path / "am").is_dir())
        hint = f" Did you mean {folder / inside[0]}?" if inside else ""
        raise AssistantError(
            f"{folder} is not a Vosk model: expected am/final.mdl in it. Give the folder that the "
            f"model was unpacked to.{hint}"
        )
    if not (model / "graph" / "Gr.fst").is_file() or not (model / "graph" / "HCLr.fst").is_file():
        raise AssistantError(
            f"{folder} has its grammar built in and cannot be limited to another; choose a model "
            "that takes a grammar at run time (graph/HCLr.fst and graph/Gr.fst), such as those "
            "marked small."
        )


def _model_name(model: Path) -> str:
    path = model.resolve()
    name = path.parent.name if path.name == "model" else path.name
    return name.replace("_", "-").casefold()
