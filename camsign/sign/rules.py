"""The settings of `[field]` in logbook.toml that this room reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

from camsign.errors import UsageError
from camsign.units import parse_length

if TYPE_CHECKING:
    from camsign.logbook.settings import Settings

WAIST_M = 1.0


def waist_m(settings: Settings) -> float:
    """Give the height that a rub's top is held against [m] (`waist = "100cm"`, the default)."""
    said = settings.tables.get("field", {}).get("waist")
    if said is None:
        return WAIST_M
    height = parse_length(str(said), "cm")
    if not 0.5 <= height <= 1.5:
        raise UsageError(f"waist = {said!r} in logbook.toml is no height of a waist", "mend it")
    return height


def bare_side_rule(settings: Settings) -> bool:
    """Tell whether travel is read from the side of the bare wood (setting, default true)."""
    on = settings.tables.get("field", {}).get("bare_side_rule", True)
    if not isinstance(on, bool):
        raise UsageError(f"bare_side_rule = {on!r} in logbook.toml is neither true nor false")
    return on
