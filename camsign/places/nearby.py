"""Whether a place can be right: receivers without a fix write 0,0, people swap two numbers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from math import asin, cos, radians, sin, sqrt
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.session import Session

FAR_M = 1_000_000.0
# Farther than this from everything known a digit may be wrong; 3 miles, our choice.
ODD_M = 4828.0
_MANY = 3
_EARTH_M = 6_371_000.0
_OTHERWISE = "take it as it is with --anywhere"


@dataclass(frozen=True, slots=True)
class Nearby:
    """Places known of this property: its home and its cameras; `anywhere` asks no questions.

    `otherwise`: what to do where a far place is right.
    """

    known: tuple[tuple[float, float], ...]
    anywhere: bool = False
    home: tuple[float, float] | None = None
    otherwise: str = _OTHERWISE

    @classmethod
    def of(cls, session: Session, anywhere: bool = False) -> Nearby:
        """Gather what is known; cameras within the same tenth of a degree count once."""
        rows = session.con.execute(
            "SELECT DISTINCT round(lat, 1), round(lon, 1) FROM deployments WHERE gone IS NOT TRUE"
            " AND lat IS NOT NULL AND lon IS NOT NULL"
        ).fetchall()
        home = session.settings.home
        known = (*([home] if home else []), *((lat, lon) for lat, lon in rows))
        return cls(known, anywhere, home)

    def check(self, at: tuple[float, float]) -> None:
        """Raise UsageError if a place [deg] is 0,0 or over 1,000 km from everything known."""
        if abs(at[0]) < 0.01 and abs(at[1]) < 0.01:
            raise UsageError("0,0 is what a receiver without a fix writes", "mend its place")
        if self.anywhere or not self.known or (self._near(at) and not self._lacks_minus(at)):
            return
        if self._near((at[1], at[0])):
            raise UsageError(
                f"{at[0]:.10g},{at[1]:.10g} is far from this property, and looks swapped",
                f"swap its two numbers, or {self.otherwise}",
            )
        far = f"{at[0]:.10g},{at[1]:.10g} is over 600 miles (1,000 km) from this property"
        mirrored = next((x for x in _mirrored(at) if self._near(x)), None)
        if mirrored:
            raise UsageError(
                f"{far}, so a minus may be missing",
                f"write {mirrored[0]:.10g},{mirrored[1]:.10g}, or {self.otherwise}",
            )
        raise UsageError(far, f"mend it, or {self.otherwise}")

    def check_home(self, places: Sequence[tuple[float, float]]) -> None:
        """Raise UsageError if it is home, of which no camera speaks yet, that lacks its minus: all
        places [deg] of a file lie where home would with one."""
        if self.anywhere or len(self.known) != 1 or len(places) < _MANY:
            return
        if any(self._near(at) or not any(map(self._near, _mirrored(at))) for at in places):
            return
        home, (lat, lon) = self.known[0], places[0]
        meant = next(x for x in _mirrored(home) if _rough_m(x, (lat, lon)) < FAR_M)
        raise UsageError(
            f"all {len(places)} places of it lie around {lat:.1f},{lon:.1f}, but this logbook's "
            f"home is {home[0]:.10g},{home[1]:.10g}: its minus is missing",
            f"camsign init FOLDER --home {meant[0]:.10g},{meant[1]:.10g} mends it while the "
            "logbook is empty; else home and tz in logbook.toml",
        )

    def _lacks_minus(self, at: tuple[float, float]) -> bool:
        """Say whether it is home's side of the world with a sign turned, whatever lies there: one
        place that went in so would vouch for the next."""
        if self.home is None or _rough_m(at, self.home) < FAR_M:
            return False
        return any(_rough_m(one, self.home) < FAR_M for one in _mirrored(at))

    def _near(self, at: tuple[float, float]) -> bool:
        cell = round(at[0], 1), round(at[1], 1)
        return any(_rough_m(cell, known) < FAR_M for known in self.known)


def check_near(session: Session, at: Any, otherwise: str = _OTHERWISE) -> None:
    """Raise UsageError for a point (lat, lon) [deg], or any of a line, that cannot lie on this
    property; `otherwise` says what to do where it does."""
    nearby = replace(Nearby.of(session), otherwise=otherwise)
    for point in at if isinstance(at, list) else [at]:
        nearby.check(point)


def far_off_m(session: Session, at: tuple[float, float]) -> float | None:
    """Give how far a place lies from home and every camera [m] where that is farther than one digit
    of it typed wrong explains better than a far corner of the property; else None."""
    rows = session.con.execute(
        "SELECT lat, lon FROM deployments WHERE gone IS NOT TRUE AND lat IS NOT NULL"
        " AND lon IS NOT NULL"
    ).fetchall()
    home = session.settings.home
    off = min((_rough_m(at, one) for one in (*([home] if home else []), *rows)), default=0.0)
    return off if off > ODD_M else None


def _mirrored(at: tuple[float, float]) -> tuple[tuple[float, float], ...]:
    """The places whose latitude or longitude, or both, have the other sign."""
    return (at[0], -at[1]), (-at[0], at[1]), (-at[0], -at[1])


@lru_cache(maxsize=4096)
def _rough_m(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Distance on a sphere [m], within 0.6%: enough to tell a slip. Haversine formula."""
    lat_a, lon_a, lat_b, lon_b = (radians(x) for x in (*a, *b))
    h = sin((lat_b - lat_a) / 2) ** 2
    h += cos(lat_a) * cos(lat_b) * sin((lon_b - lon_a) / 2) ** 2
    return 2 * _EARTH_M * asin(sqrt(min(h, 1.0)))
