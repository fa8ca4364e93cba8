"""The time that goes into the record."""

from datetime import datetime


def local_now() -> datetime:
    """Return the time now, local, with its offset from UTC."""
    return datetime.now().astimezone()
