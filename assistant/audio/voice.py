"""The voice that speaks the replies: pyttsx3, with eSpeak NG from its own package on Linux."""

import contextlib
import ctypes
import io
import os
import sys
import tempfile
from pathlib import Path
from typing import Any, Protocol

from assistant.audio.manner import LOUDEST, Manner
from assistant.errors import AssistantError


class Voice(Protocol):
    """Says replies aloud, or not."""

    manner: Manner
    """How it speaks; what is said next is said in it."""

    def say(self, text: str) -> None:
        """Say the text; returns when it is said or stopped."""

    def stop(self) -> None:
        """Stop what is being said, from any thread."""


class PrintedVoice:
    """No sound: whoever shows the dialogue prints the words."""

    def __init__(self) -> None:
        self.manner = Manner()

    def say(self, text: str) -> None:
        """Nothing is said."""

    def stop(self) -> None:
        """Nothing is being said."""


class SpokenVoice:
    """Speaks through the sound device.

    No engine, no sound library or no device: AssistantError when it is made.
    """

    def __init__(self) -> None:
        try:
            import sounddevice
        except (ImportError, OSError):
            raise AssistantError(
                "PortAudio is not installed (on Debian: apt install libportaudio2)"
            ) from None
        try:
            sounddevice.check_output_settings()
        except (sounddevice.PortAudioError, ValueError) as error:
            raise AssistantError(f"no loudspeaker found ({error})") from None
        self._device: Any = sounddevice
        self._engine = _engine()
        self.manner = Manner()

    def say(self, text: str) -> None:
        """Say the text; returns when it is said or stopped."""
        import soundfile

        try:
            with tempfile.TemporaryDirectory() as folder:
                path = Path(folder) / "reply.wav"
                _synthesise(self._engine, text, path, self.manner)
                sound, rate = soundfile.read(path, dtype="float32")
            self._device.play(sound, rate)
            self._device.wait()
        except (AssistantError, self._device.PortAudioError) as error:
            # The words are on the screen; a loudspeaker pulled out must not end the job.
            print(f"Not spoken: {error}.", file=sys.stderr)

    def stop(self) -> None:
        """Stop what is being said."""
        self._device.stop()


def to_wav(text: str, path: Path) -> None:
    """Speak the text into a WAV file, at the engine's own rate."""
    if not path.parent.is_dir():
        raise AssistantError(f"{path.parent}: there is no such folder to write to.")
    try:
        _synthesise(_engine(), text, path, Manner(volume=LOUDEST))
    except OSError as error:
        raise AssistantError(f"{path}: cannot be written: {error.strerror or error}.") from None


def open_voice(*, silent: bool = False) -> Voice:
    """A voice that speaks, or one that does not where there is no engine, device or wish for it."""
    if silent:
        return PrintedVoice()
    try:
        return SpokenVoice()
    except AssistantError as error:
        print(f"Replies are printed, not spoken: {error}.", file=sys.stderr)
        return PrintedVoice()


def _engine() -> Any:
    if sys.platform.startswith("linux"):
        _bring_espeak()
    try:
        import pyttsx3

        engine = pyttsx3.init()
        if sys.platform.startswith("linux"):
            engine.setProperty("voice", "gmw/en")
    except Exception as error:
        # Drivers raise whatever their platform gives them.
        raise AssistantError(f"no speech engine could be started ({error})") from None
    return engine


def _bring_espeak() -> None:
    """Load the eSpeak NG of its Python package, so that pyttsx3 finds it under its usual name.

    The driver opens libespeak-ng.so.1 by name; a library that is loaded already answers to its
    name. The data is found through the environment.
    """
    try:
        import espeakng_loader

        library = Path(espeakng_loader.get_library_path()).with_name("libespeak-ng.so.1")
        os.environ["ESPEAK_DATA_PATH"] = espeakng_loader.get_data_path()
        ctypes.CDLL(str(library), mode=ctypes.RTLD_GLOBAL)
    except (ImportError, OSError, RuntimeError):
        return  # One that is installed on the system may still be found.


def _synthesise(engine: Any, text: str, path: Path, manner: Manner) -> None:
    if not text.strip():
        raise AssistantError("There is nothing to say; give some text.")
    path.unlink(missing_ok=True)
    # The driver prints where it has saved the file.
    with contextlib.redirect_stdout(io.StringIO()):
        for name, value in manner:
            # An engine that has no pitch goes on without.
            engine.setProperty(name, value)
        _finish()  # or eSpeak says this in the manner before
        engine.save_to_file(text, str(path))
        engine.runAndWait()
        _finish()
    if not path.is_file():
        raise AssistantError(f"the speech engine wrote nothing to {path}")


def _finish() -> None:
    """Wait until eSpeak has written all: its driver's loop ends before a long text is done."""
    driver = sys.modules.get("pyttsx3.drivers._espeak")
    if driver is not None:
        driver.Synchronize()
