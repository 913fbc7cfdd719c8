"""Numbers in the logbook's own units, for people."""

from __future__ import annotations

from camsign.logbook.settings import Settings
from camsign.units import format_length


def length(m: float, settings: Settings, small: bool = False) -> str:
    """Give a length [m] in the logbook's units; `small`: inches or centimeters."""
    return format_length(m, settings.units, small)
