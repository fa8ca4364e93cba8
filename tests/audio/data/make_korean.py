"""Makes the Korean clips here, for Vosk's Korean model: eSpeak NG through the assistant's voice."""

from pathlib import Path

import numpy as np
import soundfile

from assistant.audio import pcm
from assistant.audio.espeak import Espeak

CLIPS = {"order-bolt": "오더 볼트", "what-torque": "토크 얼마", "next-bolt": "넥스트 볼트"}
HALF_A_SECOND = np.zeros(pcm.RATE // 2, np.int16)

if __name__ == "__main__":
    engine = Espeak()
    engine._library.espeak_SetVoiceByName(b"ko")
    here = Path(__file__).parent
    for name, text in CLIPS.items():
        spoken = here / f"{name}.wav"
        soundfile.write(spoken, engine.sound(text, 115), engine.rate)
        samples = np.concatenate([HALF_A_SECOND, pcm.read(spoken).samples, HALF_A_SECOND])
        (here / f"korean-{name}.flac").write_bytes(pcm.write_flac(pcm.Pcm(samples).tobytes()))
        spoken.unlink()
