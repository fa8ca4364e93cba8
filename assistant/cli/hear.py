"""Recognising recordings, for `assistant hear` and for measuring how well it hears."""

import json
import sys
import warnings
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TextIO

from assistant.audio import pcm
from assistant.audio.pcm import Pcm
from assistant.bench import ears as bench_ears
from assistant.dialogue.intents import Intent, as_dict
from assistant.errors import AssistantError
from assistant.grammar import jsgf
from assistant.recognition.recogniser import Hearing
from assistant.recognition.weighing import Understand
from assistant.text import escaped, plain

Understanding = Callable[[Sequence[str]], Intent | None]
"""Words to what they mean; None where they mean nothing."""


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
    """Recognise the files and print what was heard; the exit status.

    The grammar is that of a file, or the one that is live at a step of a procedure (its first
    where none is named). Anything wrong with these is an AssistantError; a file that cannot be read
    is told on standard error, the others are heard all the same, and the status is then 1.
    """
    understanding: Understanding | None = None
    own: dict[str, str] = {}
    if grammar is not None:
        rules = jsgf.read(grammar)
    elif procedure is not None:
        rules, understanding, own = _at_step(procedure, step)
    else:
        raise AssistantError("Say what to listen for: --grammar FILE.gram or --procedure NAME.")
    ears = bench_ears.build(recogniser, model, respell, own)
    means: Understand = understanding or (lambda words: words or None)
    return hear(files, lambda sound: ears.hear(sound, rules, means), understanding, as_json=as_json)


def hear(
    files: Iterable[Path],
    listen: Callable[[Pcm], Hearing],
    understanding: Understanding | None = None,
    *,
    as_json: bool = False,
    out: TextIO | None = None,
    errors: TextIO | None = None,
) -> int:
    """Print what is heard in each file, taken as one phrase.

    With `as_json` one object a line: file, words, accepted, confidence, audio_s, took_s, and
    intent where there is an understanding. Returns 0, or 1 where some file could not be read.
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
        intent = understanding(heard.words) if understanding and heard.accepted else None
        meaning = as_dict(intent) if intent is not None else None
        if as_json:
            line = _as_json(file, heard)
            if understanding:
                line["intent"] = meaning
            print(escaped(json.dumps(line, ensure_ascii=False)), file=out, flush=True)
        else:
            print(plain(_as_text(file, heard, meaning), keep="\n"), file=out, flush=True)
    return status


def _at_step(name: str, step_id: str | None) -> tuple[jsgf.Grammar, Understanding, dict[str, str]]:
    from assistant.dialogue import live, state, understanding
    from assistant.procedure import reading

    procedure = reading.read(reading.find(name))
    try:
        at = state.at_step(procedure, step_id or procedure.steps[0].id)
    except LookupError:
        raise AssistantError(
            f"{name} has no step {step_id!r}. Its steps are "
            f"{', '.join(known.id for known in procedure.steps)}."
        ) from None

    def understand(words: Sequence[str]) -> Intent | None:
        return understanding.understand(words, at)

    return live.grammar_for(at), understand, dict(procedure.respell)


def _as_json(file: Path, heard: Hearing) -> dict[str, object]:
    return {
        "file": str(file),
        "words": " ".join(heard.words),
        "accepted": heard.accepted,
        "confidence": heard.confidence,
        "audio_s": round(heard.audio_s, 3),
        "took_s": round(heard.took_s, 3),
    }


def _as_text(file: Path, heard: Hearing, meaning: dict[str, object] | None) -> str:
    words = " ".join(heard.words) or "(nothing)"
    verdict = "" if heard.accepted else ", not accepted"
    line = (
        f"{file}: {words}  [confidence {heard.confidence:.2f}{verdict}; "
        f"{heard.audio_s:.1f} s of sound in {heard.took_s:.2f} s]"
    )
    return line if meaning is None else f"{line}\n    {json.dumps(meaning, ensure_ascii=False)}"
