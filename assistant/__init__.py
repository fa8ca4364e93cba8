"""A hands-free bench assistant: reads a procedure aloud, understands, and keeps the record."""

__version__ = "0.1.0"
