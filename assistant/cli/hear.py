"""Recognising recordings, for `assistant hear` and for measuring how well it hears."""

import json
import sys
import warnings
from collections.abc import Callable, Iterable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, TextIO

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.bench import ears as bench_ears
from assistant.dialogue.intents import Intent, as_dict
from assistant.dialogue.meaning import Meanings
from assistant.errors import AssistantError
from assistant.grammar import jsgf
from assistant.recognition.utterance import Understanding, Utterance
from assistant.text import escaped, plain

Words = tuple[str, ...]


class WordsOnly:
    """Understands every sentence as its own words, for a grammar without a procedure.

    It is careful: both listeners must hear each sentence.
    """

    def means(self, words: Sequence[str]) -> Words | None:
        """Return the words; None where there are none."""
        return tuple(words) or None

    def at_stake(self, meaning: Words) -> bool:
        """Return True: nothing is known of what it costs to be wrong."""
        return True

    def numeric(self, meaning: Words) -> bool:
        """Return False: nothing is known of numbers."""
        return False

    def fits(self, meaning: Words) -> bool:
        """Return True: nothing is known of values."""
        return True


def run(
    files: Sequence[Path],
    *,
    grammar: Path | None = None,
    procedure: str | None = None,
    step: str | None = None,
    recogniser: str = "auto",
    model: Path | None = None,
    respell: Path | None = None,
    as_json: bool = False,
) -> int:
    """Recognise the files and print what was heard. Returns the exit status.

    The grammar is that of a file, or the one that is live at a step of a procedure (its first
    where none is named). Raises AssistantError for anything wrong with these. A file that cannot
    be read is reported on standard error, the others are heard all the same, and the status is 1.
    """
    understanding: Understanding[Any]
    own: dict[str, str] = {}
    if grammar is not None:
        rules, understanding = jsgf.read(grammar), WordsOnly()
    elif procedure is not None:
        rules, understanding, own = _at_step(procedure, step)
    else:
        raise AssistantError("Say what to listen for: --grammar FILE.gram or --procedure NAME.")
    ears = bench_ears.build(recogniser, model, respell, own)
    return hear(
        files,
        lambda sound: ears.hear(sound, rules, understanding),
        with_intents=grammar is None,
        as_json=as_json,
    )


def hear(
    files: Iterable[Path],
    listen: Callable[[Pcm], Utterance[Any]],
    *,
    with_intents: bool = False,
    as_json: bool = False,
    out: TextIO | None = None,
    errors: TextIO | None = None,
) -> int:
    """Print what is heard in each file, taken as one phrase.

    With `as_json`, one object a line: file, words, accepted, confidence, audio_s, took_s, and
    intent (None where nothing was accepted) if `with_intents`. Returns 0, or 1 where some file
    could not be read.
    """
    out, errors = out or sys.stdout, errors or sys.stderr
    status = 0
    for file in files:
        try:
            with warnings.catch_warnings(record=True) as caught:
                warnings.simplefilter("always", UserWarning)
                sound = pcm.read(file)
        except AssistantError as error:
            print(plain(str(error), keep="\n"), file=errors, flush=True)
            status = 1
            continue
        for warning in caught:
            print(plain(str(warning.message)), file=errors, flush=True)
        heard = listen(sound)
        intent = heard.meaning if heard.accepted else None
        meaning = as_dict(intent) if isinstance(intent, Intent) else None
        if as_json:
            line = _as_json(file, heard)
            if with_intents:
                line["intent"] = meaning
            print(escaped(json.dumps(line, ensure_ascii=False)), file=out, flush=True)
        else:
            print(plain(_as_text(file, heard, meaning), keep="\n"), file=out, flush=True)
    return status


def _at_step(name: str, step_id: str | None) -> tuple[jsgf.Grammar, Meanings, dict[str, str]]:
    from assistant.dialogue import live, state
    from assistant.procedure import reading

    procedure = reading.read(reading.find(name))
    try:
        at = state.at_step(procedure, step_id or procedure.steps[0].id)
    except LookupError:
        raise AssistantError(
            f"{name} has no step {step_id!r}. Its steps are "
            f"{', '.join(known.id for known in procedure.steps)}."
        ) from None

    meanings = Meanings(at, datetime.now().astimezone())
    return live.grammar_for(at), meanings, dict(procedure.respell)


def _as_json(file: Path, heard: Utterance[Any]) -> dict[str, object]:
    return {
        "file": str(file),
        "words": " ".join(heard.words),
        "accepted": heard.accepted,
        "confidence": heard.confidence,
        "audio_s": round(heard.audio_s, 3),
        "took_s": round(heard.took_s, 3),
    }


def _as_text(file: Path, heard: Utterance[Any], meaning: dict[str, object] | None) -> str:
    words = " ".join(heard.words) or "(nothing)"
    verdict = "" if heard.accepted else ", not accepted"
    line = (
        f"{file}: {words}  [confidence {heard.confidence or 0.0:.2f}{verdict}; "
        f"{heard.audio_s:.1f} s of sound in {heard.took_s:.2f} s]"
    )
    return line if meaning is None else f"{line}\n    {json.dumps(meaning, ensure_ascii=False)}"
