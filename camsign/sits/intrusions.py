"""When somebody was in the woods, where, and how long a place has been left alone since."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

import numpy as np

from camsign.arrays import Floats
from camsign.logbook.database import run_sql
from camsign.logbook.moments import aware, local
from camsign.logbook.session import Session
from camsign.places.shapes import points_of
from camsign.sits.plane import Plane
from camsign.zones import to_utc

# Somebody within this of a place disturbs it [m]: his scent carries farther on a bad wind, and not
# as far on a good one; common practice, no source.
DISTURBS_M = 200.0
# A card counts as pulled at its last picture if it was loaded so soon after it; our choice.
_HOME_WITH_IT = timedelta(days=2)
LOGGED = "sign logged"
"""What intrusions.sql says of a day on which one stood by a sign."""


@dataclass(frozen=True, slots=True)
class Intrusion:
    """Somebody was at points x, y [m] (one, or those of a path), until when (UTC), on which local
    day, and why. `until`: the last local day on which it may have been, where the day is not known:
    then `at` and `day` are the first.
    """

    what: str
    at: datetime
    day: date
    points: Floats
    until: date | None = None

    def when_words(self, asked: date) -> str:
        """Say of one whose day is not known when it was, told on the day asked for."""
        if self.until is None or min(self.until, asked) <= self.day:
            return f"on {self.day} or later"
        return f"some time from {self.day} to {min(self.until, asked)}"


def intrusions_of(session: Session, plane: Plane) -> tuple[Intrusion, ...]:
    """Every time somebody was in the woods that the logbook knows of, in order."""
    rows = run_sql(session.con, __file__, "intrusions.sql").fetchall()
    tz = session.settings.tz
    places = [points_of(shape) if shape else [(lat, lon)] for _, _, shape, lat, lon, _ in rows]
    each = [place for path in places for place in path]
    points = plane.xy([p[0] for p in each], [p[1] for p in each])
    parts = np.split(points, np.cumsum([len(path) for path in places])[:-1])
    found = []
    for (what, when, *_, until), part in zip(rows, parts, strict=bool(rows)):
        utc = aware(when) if what != LOGGED else to_utc(when, tz)
        end = local(aware(until), tz).date() if until - when > _HOME_WITH_IT else None
        found.append(Intrusion(what, utc, local(utc, tz).date(), part, end))
    return tuple(sorted(found, key=lambda one: (one.at, one.what)))


def near(one: Intrusion, x: float, y: float, within: float) -> bool:
    """Whether somebody came within so many meters of a place x, y [m]."""
    here = np.array([x, y])
    if len(one.points) == 1:
        return float(np.hypot(*(one.points[0] - here))) <= within
    a, b = one.points[:-1], one.points[1:]
    along = b - a
    length = np.maximum((along**2).sum(1), 1e-9)
    share = np.clip(((here - a) * along).sum(1) / length, 0, 1)
    return float(np.hypot(*(a + share[:, None] * along - here).T).min()) <= within


def last_disturbed(
    intrusions: Sequence[Intrusion],
    places: Sequence[tuple[float, float, float]],
    begin: datetime,
) -> Intrusion | None:
    """The last intrusion within DISTURBS_M of any of places (x, y, radius [m]) that was over
    before a sit began (UTC).

    One whose day is not known, where it may have been the last. None: nobody is known to have been
    there that season or before.
    """
    there = [
        one for one in intrusions
        if one.at < begin and any(near(one, x, y, r + DISTURBS_M) for x, y, r in places)
    ]  # fmt: skip
    return last_of(there)


def last_of(there: Sequence[Intrusion]) -> Intrusion | None:
    """The last of intrusions in order: one whose day is not known, where it may have been that."""
    sure = max((one.day for one in there if one.until is None), default=date.min)
    open_ = [one for one in there if one.until is not None and one.until > sure]
    latest = sorted(open_, key=lambda one: one.until or sure) or there
    return latest[-1] if latest else None
