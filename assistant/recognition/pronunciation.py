"""Pronunciations by eSpeak NG's English rules, for words that are not in the dictionary.

`python -m assistant.recognition.pronunciation WORD...` prints one pronunciation per line.
`pronounce` runs that in a process of its own, because eSpeak NG keeps its voice in global state,
and the assistant's speaking voice uses that state in this process.
"""

import ctypes
import subprocess
import sys
from collections.abc import Sequence
from functools import cache

PHONES = (
    "AA", "AE", "AH", "AO", "AW", "AY", "B", "CH", "D", "DH", "EH", "ER", "EY", "F", "G", "HH",
    "IH", "IY", "JH", "K", "L", "M", "N", "NG", "OW", "OY", "P", "R", "S", "SH", "T", "TH", "UH",
    "UW", "V", "W", "Y", "Z", "ZH",
)  # fmt: skip
"""The phones of CMUdict (ARPAbet), without stress."""

# American English in eSpeak NG's IPA, to ARPAbet. The pairs are those of the CMUdict phone set and
# the IPA (from memory); reduced vowels are as CMUdict usually writes them.
_ARPABET = {
    "a": "AA", "aɪ": "AY", "aɪə": "AY AH", "aɪɚ": "AY ER", "aɪʊ": "AY AH", "aʊ": "AW",
    "b": "B", "d": "D", "dʒ": "JH", "eɪ": "EY", "e": "EH", "f": "F", "h": "HH", "i": "IY",
    "iə": "IY AH", "iː": "IY", "iːː": "IY", "j": "Y", "k": "K", "l": "L", "m": "M", "n": "N",
    "oʊ": "OW", "oː": "AO", "oːɹ": "AO R", "o": "OW", "p": "P", "r": "R", "s": "S", "t": "T",
    "tʃ": "CH", "uː": "UW", "u": "UW", "v": "V", "w": "W", "x": "K", "z": "Z", "æ": "AE",
    "ð": "DH", "ŋ": "NG", "ɐ": "AH", "ɑ": "AA", "ɑː": "AA", "ɑːɹ": "AA R", "ɑ̃": "AA N",
    "ɒ": "AA", "ɔ": "AO", "ɔɪ": "OY", "ɔː": "AO", "ɔːɹ": "AO R", "ə": "AH", "əl": "AH L",
    "ɚ": "ER", "ɛ": "EH", "ɛɹ": "EH R", "ɜ": "ER", "ɜː": "ER", "ɡ": "G", "g": "G", "ɪ": "IH",
    "ɪɹ": "IH R", "ɫ": "L", "ɬ": "L", "ɲ": "N Y", "ɹ": "R", "ɾ": "T", "ʃ": "SH", "ʊ": "UH",
    "ʊɹ": "UH R", "ʌ": "AH", "ʒ": "ZH", "ʔ": "T", "ʔn": "T AH N", "ʲ": "Y", "θ": "TH", "ᵻ": "AH",
    "n̩": "AH N", "m̩": "AH M", "l̩": "AH L",
}  # fmt: skip


@cache
def _pronounce(words: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    command = [sys.executable, "-m", "assistant.recognition.pronunciation", *words]
    done = subprocess.run(command, capture_output=True, text=True, encoding="utf-8", check=False)
    lines = done.stdout.split("\n")[: len(words)] if done.returncode == 0 else []
    return tuple(tuple(line.split()) for line in lines) or ((),) * len(words)


def pronounce(words: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Return the probable phones of each word, by word; no phones if eSpeak NG fails."""
    if not words:
        return {}
    return dict(zip(words, _pronounce(tuple(words)), strict=True))


def arpabet(ipa: str) -> tuple[str, ...]:
    """Convert eSpeak NG's IPA, with symbols separated by blanks, to phones without stress."""
    phones: list[str] = []
    for symbol in ipa.translate({ord(mark): None for mark in "ˈˌ\u0361-"}).split():
        rest = symbol
        while rest:
            size = next((n for n in (3, 2, 1) if rest[:n] in _ARPABET), 0)
            if size:
                phones.extend(_ARPABET[rest[:size]].split())
            rest = rest[size or 1 :]
    # CMUdict has no R after an r-coloured vowel where the IPA has ("boundary": B AW N D ER IY).
    return tuple(
        phone
        for place, phone in enumerate(phones)
        if not (phone == "R" and place and phones[place - 1] in ("ER", "R"))
    )


def _speak_phones(words: Sequence[str]) -> list[tuple[str, ...]]:
    import espeakng_loader

    library = ctypes.CDLL(espeakng_loader.get_library_path())
    # speak_lib.h of eSpeak NG 1.52: output 2 is synchronous, nothing is played.
    if library.espeak_Initialize(2, 0, espeakng_loader.get_data_path().encode(), 0) < 0:
        return [()] * len(words)
    library.espeak_SetVoiceByName(b"en-us")
    library.espeak_TextToPhonemes.restype = ctypes.c_char_p
    ipa, blank_between = 0x02, ord(" ") << 8
    spoken = []
    for word in words:
        text = ctypes.c_char_p(word.encode())
        symbols = ""
        while text.value is not None:
            part = library.espeak_TextToPhonemes(ctypes.byref(text), 1, ipa | blank_between)
            symbols += " " + (part or b"").decode()
        spoken.append(arpabet(symbols))
    return spoken


if __name__ == "__main__":
    for phones in _speak_phones(sys.argv[1:]):
        print(" ".join(phones))
