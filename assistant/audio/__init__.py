"""Sound: devices, PCM, noise suppression, voice activity, endpointing, and the voice."""
