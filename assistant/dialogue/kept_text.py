"""The text of a procedure as a job keeps it, read again."""

from __future__ import annotations

from functools import lru_cache

from assistant.procedure import reading
from assistant.procedure.model import Procedure


@lru_cache(maxsize=32)
def procedure(source: str) -> Procedure:
    """Return the procedure of a text that was kept with a job. Raises ProcedureError."""
    # A shop has few procedures and many jobs, and one job's is asked for several times.
    return reading.parse(source, "the procedure kept with the job", stored=True)
