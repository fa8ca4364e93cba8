"""Makes the English clips here with flite (apt install flite), voice rms."""

import subprocess
from pathlib import Path

from assistant.audio import pcm

CLIPS = ["circlip missing upper", "tightened one four", "note"]

if __name__ == "__main__":
    here = Path(__file__).parent
    for text in CLIPS:
        spoken = here / "spoken.wav"
        said = text + " the paint is flaking off" if text == "note" else text
        subprocess.run(["flite", "-voice", "rms", "-t", said, "-o", str(spoken)], check=True)
        sound = pcm.read(spoken)
        (here / f"rms-{text.replace(' ', '-')}.flac").write_bytes(pcm.write_flac(sound.tobytes()))
        spoken.unlink()
