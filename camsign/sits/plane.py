"""Places as x, y in meters east and north of the property's origin, and back."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from camsign.arrays import Floats
from camsign.errors import UsageError
from camsign.geo import destination, distance_bearing
from camsign.logbook.session import Session


def seed_at(lat: float, lon: float) -> tuple[int, int]:
    """Seed the draws of a place [deg] by where it is: ids are random, and names change."""
    return round((lat + 90) * 1e6), round((lon + 180) * 1e6)


@dataclass(frozen=True, slots=True)
class Plane:
    """Azimuthal equidistant about (lat, lon) [deg]: true bearings and distances from there.

    Between two places within 5 km of it distances are off by less than a meter.
    """

    lat: float
    lon: float

    def xy(self, lat: npt.ArrayLike, lon: npt.ArrayLike) -> Floats:
        """Places [deg] as n x 2 [m]."""
        away, bearing = distance_bearing(self.lat, self.lon, np.ravel(lat), np.ravel(lon))
        turn = np.radians(np.nan_to_num(bearing))
        return np.stack([away * np.sin(turn), away * np.cos(turn)], 1)

    def at(self, lat: float, lon: float) -> tuple[float, float]:
        """One place [deg] as x, y [m]."""
        ((x, y),) = self.xy(lat, lon)
        return float(x), float(y)

    def lat_lon(self, points: Floats) -> Floats:
        """Places n x 2 [m] as n x 2 latitude, longitude [deg]."""
        x, y = points[:, 0], points[:, 1]
        lat, lon = destination(
            self.lat, self.lon, np.degrees(np.arctan2(x, y)) % 360, np.hypot(x, y)
        )
        return np.stack([lat, lon], 1)


def plane_of(session: Session) -> Plane:
    """The plane about home. Raises UsageError without one."""
    home = session.settings.home
    if home is None:
        raise UsageError("this logbook has no home", "set home = [LAT, LON] in logbook.toml")
    return Plane(*home)
