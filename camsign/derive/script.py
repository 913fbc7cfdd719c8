"""What steps have in common: the values for their SQL, what is new, arrays put into a table."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta
from typing import TYPE_CHECKING, Any

from camsign.formats.shown import EARLIEST_LIKELY_YEAR
from camsign.logbook.settings import Settings

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt
    from duckdb import DuckDBPyConnection

# Two people's fixes of one tree, one from a handheld under the canopy and one from a map, lie up
# to this far apart (common practice, no source).
SAME_PLACE_M = 50.0
EDITORS = "adobe|photoshop|lightroom|gimp|paint|picasa|photos|snapseed|magick|darktable|digikam"
"""Software that saves pictures anew, and DateTime with them; names from memory."""

PHONES = r"(^|/)(whatsapp|signal-|photo_|video_|screen ?(shot|_?recording))[^/]*$"
"""How names begin that apps on phones give to what they save; from memory."""


def values_of(settings: Settings) -> dict[str, Any]:
    """Give what the SQL of steps may ask for by `$name`; home is rounded as places of the sun."""
    lat, lon = (None if x is None else round(x, 2) for x in settings.home or (None, None))
    return {
        "tz": settings.tz,
        "lat": lat,
        "lon": lon,
        "near": SAME_PLACE_M,
        "gap": settings.burst_gap_s,
        "before": timedelta(minutes=settings.light_before_min),
        "after": timedelta(minutes=settings.light_after_min),
        "earliest": EARLIEST_LIKELY_YEAR,
        "editors": EDITORS,
        "phones": PHONES,
    }


def touched(con: DuckDBPyConnection, *kinds: str) -> bool:
    """Say whether anything of these kinds is new since the last opening."""
    row = con.execute("SELECT 1 FROM touched WHERE list_contains(?, kind) LIMIT 1", [kinds])
    return row.fetchone() is not None


def insert_arrays(
    con: DuckDBPyConnection, table: str, columns: Mapping[str, npt.NDArray[np.generic]]
) -> None:
    """Put equally long arrays into the columns of their names."""
    if len(next(iter(columns.values()))):
        con.register("made_arrays", columns)
        con.execute(f"INSERT INTO {table} BY NAME SELECT * FROM made_arrays")
        con.unregister("made_arrays")
