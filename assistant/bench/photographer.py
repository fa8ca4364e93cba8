"""Takes the pictures that a job asks for, and tells the dialogue what came of it."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256

from assistant.bench.protocols import Camera
from assistant.dialogue import facts, intents
from assistant.imaging.camera import NoPicture


@dataclass(frozen=True)
class Shot:
    """What came of taking a picture."""

    intent: intents.PictureReady | intents.PictureFailed
    """What the dialogue is told."""
    jpeg: bytes | None = None
    detail: str = ""
    """What went wrong, for the screen."""


@dataclass
class Photographer:
    """The camera of a bench, if it has one."""

    camera: Camera | None = None
    _told: bool = False
    """Whether what to do without a camera was told already; once a run is enough."""

    def take(self, of: facts.EventRef) -> Shot:
        """Take a picture of what an event tells; it is in no record yet."""
        if self.camera is None:
            failed = intents.PictureFailed("no camera", told=self._told)
            self._told = True
            return Shot(failed)
        try:
            picture = self.camera.take()
        except NoPicture as error:
            return Shot(intents.PictureFailed(error.why), detail=str(error))
        digest = sha256(picture.jpeg).hexdigest()
        ready = intents.PictureReady(of, digest, picture.width, picture.height)
        return Shot(ready, picture.jpeg)
