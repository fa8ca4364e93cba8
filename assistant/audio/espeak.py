"""eSpeak NG, from its own Python package or the system: text in, sound out, in one call.

It is called directly: pyttsx3 runs it in a thread of its own and does not always notice when it is
done. Constants and calls are those of eSpeak NG's speak_lib.h.
"""

from __future__ import annotations

import ctypes
from pathlib import Path

import numpy as np
import numpy.typing as npt

from assistant.errors import AssistantError

_SYNCHRONOUS = 2
_RATE = 1
_BY_CHARACTER = 1
_UTF8_WITH_END_PAUSE = 0x1 | 0x1000
_VOICE = b"gmw/en"
_Callback = ctypes.CFUNCTYPE(
    ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
)


class Espeak:
    """The library; there is one in a process. Raises AssistantError where it is missing."""

    def __init__(self) -> None:
        self._library, data = _loaded()
        self.rate: int = self._library.espeak_Initialize(_SYNCHRONOUS, 0, data, 0)
        if self.rate <= 0 or self._library.espeak_SetVoiceByName(_VOICE) != 0:
            raise AssistantError("No speech can be made: eSpeak NG lacks its data.")
        self._made: list[npt.NDArray[np.int16]] = []
        self._callback = _Callback(self._take)  # kept, or it would be collected
        self._library.espeak_SetSynthCallback(self._callback)

    def sound(self, text: str, words_a_minute: int) -> npt.NDArray[np.float32]:
        """Return the text as sound at `rate`, shape (n,), from -1 to 1."""
        self._made = []
        said = text.encode()
        self._library.espeak_SetParameter(_RATE, words_a_minute, 0)
        self._library.espeak_Synth(
            said, len(said) + 1, 0, _BY_CHARACTER, 0, _UTF8_WITH_END_PAUSE, None, None
        )
        samples = np.concatenate([np.zeros(0, np.int16), *self._made])
        return samples.astype(np.float32) / np.float32(32768)

    def _take(self, samples: ctypes._Pointer[ctypes.c_short], count: int, events: int) -> int:
        if samples and count > 0:
            self._made.append(np.ctypeslib.as_array(samples, (count,)).copy())
        return 0


def _loaded() -> tuple[ctypes.CDLL, bytes | None]:
    """Return the library and the folder of its data, None where it finds that itself."""
    try:
        import espeakng_loader

        # Beside the name that the loader gives, its wheel has the one that is loadable everywhere.
        path = Path(espeakng_loader.get_library_path()).with_name("libespeak-ng.so.1")
        library, data = ctypes.CDLL(str(path)), espeakng_loader.get_data_path().encode()
    except (ImportError, OSError, RuntimeError):
        try:
            library, data = ctypes.CDLL("libespeak-ng.so.1"), None
        except OSError:
            raise AssistantError(
                "No speech can be made: eSpeak NG is missing. Install it with: pip install "
                "espeakng-loader"
            ) from None
    library.espeak_Synth.argtypes = [
        ctypes.c_char_p,
        ctypes.c_size_t,
        ctypes.c_uint,
        ctypes.c_int,
        ctypes.c_uint,
        ctypes.c_uint,
        ctypes.c_void_p,
        ctypes.c_void_p,
    ]
    library.espeak_Initialize.argtypes = [ctypes.c_int, ctypes.c_int, ctypes.c_char_p, ctypes.c_int]
    return library, data
