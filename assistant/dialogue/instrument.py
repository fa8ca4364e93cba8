"""A measuring instrument, as the shop knows it: its name, its serial number, its calibration."""

from __future__ import annotations

from datetime import date

from pydantic import BaseModel, ConfigDict, Field


class Instrument(BaseModel):
    """What a value was measured with. Kept with the value, as it was then."""

    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)

    name: str = Field(min_length=1, max_length=60)
    """What it is called at the bench, such as "micrometer"."""
    serial: str | None = Field(default=None, max_length=60)
    """Its serial or inventory number."""
    calibrated_until: date | None = None
    """The last day on which its calibration holds; None where nobody has said."""

    def overdue(self, on: date) -> bool:
        """Return whether its calibration has run out on a day."""
        return self.calibrated_until is not None and on > self.calibrated_until
