"""A hands-free bench assistant: reads a procedure aloud, understands, and keeps the record."""

import os

# The runtime of the neural models reports home unless it is told not to before it is imported.
os.environ.setdefault("ORT_DISABLE_TELEMETRY", "1")

__version__ = "0.1.0"
