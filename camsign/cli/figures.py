"""Bearings and lengths where there may be none."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from camsign.units import UnitSystem


def bearing(deg: float | None) -> str:
    """Write a bearing, letters first."""
    from camsign.units import format_bearing

    return "–" if deg is None else format_bearing(deg)


def lengths(units: UnitSystem, metres: float | None) -> str:
    """Write a length in a logbook's units."""
    from camsign.units import format_length

    if metres is None:
        return "–"
    return format_length(metres, units)
