"""The sky over a deployment: its sun's table, kept for places near each other, and its switches."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from camsign.clock.light import DAY_STEPS, SunTable, sun_table
from camsign.clock.resets import DAY_S
from camsign.logbook.records import Deployment
from camsign.zones import offsets

_BLOCK_DAYS = 64


def switches(deployment: Deployment, first_s: float, last_s: float) -> list[float]:
    """Give the daylight-saving switches of the place between two instants [s since 1970]."""
    first, last = (datetime.fromtimestamp(at, UTC) for at in (first_s, last_s))
    spans = offsets(deployment.tz or "UTC", first, last)
    return [span.start.timestamp() for span in spans[1:]]


def sky(deployment: Deployment, first_s: float, last_s: float) -> SunTable:
    """Give the sun's table for a deployment's place, two days beyond two instants [s since 1970].

    Places are rounded to 0.1°, which moves the sun by 0.1° at most.
    """
    lat, lon = round(deployment.lat, 1), round(deployment.lon, 1)
    first = int((first_s // DAY_S - 2) // _BLOCK_DAYS)
    last = int((last_s // DAY_S + 2) // _BLOCK_DAYS)
    blocks = [_block(lat, lon, block) for block in range(first, last + 1)]
    return SunTable(first * _BLOCK_DAYS * DAY_STEPS, np.concatenate(blocks))


@lru_cache(maxsize=256)
def _block(lat: float, lon: float, block: int) -> npt.NDArray[np.int16]:
    return sun_table(lat, lon, block * _BLOCK_DAYS, _BLOCK_DAYS).codes
