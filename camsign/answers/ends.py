"""The two ends of a day in bed: seen coming in around sunrise, seen going out around sunset.

Windows of two hours on either side count for the number of days; only lit ones (half an hour
before sunrise to two hours after, and mirrored at sunset) for a verdict, since night passes fall
into the dark hours. Of several directions the last of a morning and the first of an evening count;
who passes across the line to the area counts for nothing.

Passes that only look like ends of a day in bed are reckoned with. Who walks through walks the same
way at both ends: so as many come in by morning as come in by evening, and as many go out by evening
as go out by morning, the more of them the fewer directions are known. Of passes without direction
at least as many as the dark hours between the windows let expect.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.answers.seen import SURE
from camsign.geo import angle_difference_deg, distance_bearing
from camsign.stats.bedded import NO_PASSES, Law

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    from camsign.answers.reach import Reach, Watching
    from camsign.answers.seen import Bools, Floats, Ints, Seen, Times
    from camsign.logbook.session import Session

WINDOW_MIN = 120.0
LIT_DARK_MIN = 30.0
# Within this of the bearing to the area's centre he goes in, beyond its supplement out [deg].
TOWARDS_DEG = 60.0
IN, OUT, UNKNOWN, ACROSS = 1, -1, 0, 2
# Fewer known directions than this share are not made to stand for the others.
_LEAST_KNOWN = 0.2


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """What one buck's days at one area show; arrays of local days (datetime64[D]), rising.

    `both`, `morning`, `evening`: seen at both ends, or one only, by the wide windows. `lit_both`,
    `lit_any`: by lit windows. `directed`: lit at both ends, in by the last known direction of the
    morning and out by the first of the evening. `inside`: seen inside in full daylight.
    `contradicted`: seen far off by daylight. `watched`: days at both ends of which he could have
    been seen, without those on which he was far off in full daylight. `agreeing`, `disagreeing`:
    lit ends at which the known direction fits a bed, or the reverse. `passes`: the Beta laws of the
    chance that the morning, and the evening, of a day not bedded show a pass that looks right.
    """

    both: Times
    morning: Times
    evening: Times
    lit_both: Times
    lit_any: Times
    directed: Times
    inside: Times
    contradicted: Times
    watched: int
    agreeing: int
    disagreeing: int
    passes: tuple[Law, Law]


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Detections at one area as the ends of days see them, one element each, in time order."""

    buck: Ints
    day: Times
    at: Ints
    from_sunrise: Floats
    from_sunset: Floats
    travel_deg: Floats
    direction: Ints
    inside: Bools


def looks_of(seen: Seen, reach: Reach, headings: npt.NDArray[np.float64]) -> Looks:
    """Give the sure detections with their direction.

    Args:
        seen: detections at the deployments of the reach, which has one spot.
        reach: with its distances.
        headings: from each deployment to the area's centre [deg], NaN where it stands on it.
    """
    import numpy as np

    away = np.full(len(reach.deployments), np.nan)
    for _, deployment, metres in reach.pairs:
        away[deployment] = np.nan if metres is None else metres
    rows = np.flatnonzero(seen.apart == SURE)
    rows = rows[np.argsort(seen.utc[rows], kind="stable")]
    at, travel = seen.at[rows], seen.travel_deg[rows]
    inside = away[at] == 0
    turned = np.abs(angle_difference_deg(travel, headings[at]))
    away_or_across = np.where(turned >= 180 - TOWARDS_DEG, OUT, ACROSS)
    direction = np.where(turned <= TOWARDS_DEG, IN, away_or_across)
    direction = np.where(inside | np.isnan(turned), UNKNOWN, direction)
    return Looks(
        seen.buck[rows],
        seen.day[rows],
        at,
        seen.from_sunrise[rows],
        seen.from_sunset[rows],
        travel,
        direction,
        inside,
    )


def headings_to(session: Session, reach: Reach, centre: tuple[float, float]) -> Floats:
    """Give the bearing from each deployment of the reach to a place [deg]."""
    import numpy as np

    rows = session.con.execute(
        "SELECT deployment, lat, lon FROM deployments WHERE list_contains(?, deployment)",
        [list(reach.deployments)],
    ).fetchall()
    places = {deployment: (lat, lon) for deployment, lat, lon in rows}
    lats, lons = np.array([places[d] for d in reach.deployments], dtype=float).reshape(-1, 2).T
    return distance_bearing(lats, lons, centre[0], centre[1])[1]


def ends_of(looks: Looks, buck: int, watching: Watching, far: Far) -> Ends:
    """Give the ends of one buck's days at an area that was watched on some."""
    import numpy as np

    his = (looks.buck == buck) & np.isin(looks.day, watching.days)
    rise, sets = looks.from_sunrise, looks.from_sunset
    morning, evening = his & (np.abs(rise) <= WINDOW_MIN), his & (np.abs(sets) <= WINDOW_MIN)
    full = his & looks.inside & (rise > WINDOW_MIN) & (sets < -WINDOW_MIN)
    inside = np.setdiff1d(looks.day[full], far.full_day)
    wide = _Directions.of(looks, morning, evening, far.full_day)
    lit = _Directions.of(
        looks, morning & (rise >= -LIT_DARK_MIN), evening & (sets <= LIT_DARK_MIN), far.full_day
    )
    m, e = np.union1d(wide.came, inside), np.union1d(wide.went, inside)
    watched = np.setdiff1d(np.union1d(watching.days, inside), far.full_day)
    return Ends(
        both=np.intersect1d(m, e),
        morning=np.setdiff1d(m, e),
        evening=np.setdiff1d(e, m),
        lit_both=np.intersect1d(lit.came, lit.went),
        lit_any=np.union1d(np.union1d(lit.came, lit.went), inside),
        directed=np.intersect1d(lit.known_in, lit.known_out),
        inside=inside,
        contradicted=far.by_day,
        watched=len(watched),
        agreeing=len(lit.known_in) + len(lit.known_out),
        disagreeing=lit.out_by_morning + lit.in_by_evening,
        passes=_passes(looks, his, morning | evening, wide, len(watching.days)),
    )


@dataclass(frozen=True, slots=True, eq=False)
class Far:
    """Days on which a buck was seen far off by daylight, and in full daylight (datetime64[D])."""

    by_day: Times
    full_day: Times


@dataclass(frozen=True, slots=True, eq=False)
class _Directions:
    """Days by what the mornings and evenings of a set of detections say."""

    came: Times
    went: Times
    known_in: Times
    known_out: Times
    out_by_morning: int
    in_by_evening: int

    @classmethod
    def of(cls, looks: Looks, morning: Bools, evening: Bools, without: Times) -> _Directions:
        """Sort the days, `without` left out."""
        import numpy as np

        last_in, last_out = _deciding(looks, morning, last=True)
        first_in, first_out = _deciding(looks, evening, last=False)
        unknown = looks.direction == UNKNOWN
        came = np.union1d(last_in, np.setdiff1d(looks.day[morning & unknown], last_out))
        went = np.union1d(first_out, np.setdiff1d(looks.day[evening & unknown], first_in))
        kept = [np.setdiff1d(x, without) for x in (came, went, last_in, first_out)]
        return cls(kept[0], kept[1], kept[2], kept[3], len(last_out), len(first_in))


def _deciding(looks: Looks, rows: Bools, last: bool) -> tuple[Times, Times]:
    """Give the days whose last (or first) known direction among these rows is in, and out."""
    import numpy as np

    known = np.flatnonzero(rows & np.isin(looks.direction, (IN, OUT)))
    known = known[::-1] if last else known
    days, at = np.unique(looks.day[known], return_index=True)
    way = looks.direction[known][at]
    return days[way == IN], days[way == OUT]


def _passes(looks: Looks, his: Bools, ends: Bools, wide: _Directions, days: int) -> tuple[Law, Law]:
    """Give the Beta laws of the chances of a mistaken pass by morning and by evening."""
    import numpy as np

    if not days:
        return NO_PASSES, NO_PASSES
    rise, sets = looks.from_sunrise, looks.from_sunset
    dark = his & ((rise < -WINDOW_MIN) | (sets > WINDOW_MIN))
    hour = np.floor(np.where(rise < -WINDOW_MIN, rise, sets)[dark] / 60)
    passes = len(set(zip(looks.day[dark].tolist(), hour.tolist(), strict=True)))
    day_min = float(np.nanmean((rise - sets)[his])) if his.any() else 720.0
    hours = days * max(1440 - day_min - 2 * WINDOW_MIN, 60.0) / 60
    # The dark half of a window; its light half sees no night passes.
    unknown = float((looks.direction[ends] == UNKNOWN).mean()) if ends.any() else 0.0
    each = unknown * (WINDOW_MIN / 60) / hours
    spare, noise = each * passes, each**2 * (passes + 0.5)
    per_day = 1 / (days * max(1 - unknown, _LEAST_KNOWN))
    dawn, dusk = wide.in_by_evening + 0.5, wide.out_by_morning + 0.5
    return (
        _beta(dawn * per_day + spare, dawn * per_day**2 + noise),
        _beta(dusk * per_day + spare, dusk * per_day**2 + noise),
    )


def _beta(mean: float, variance: float) -> Law:
    """Give the Beta law of this mean and variance."""
    mean = min(mean, 0.95)
    size = max(mean * (1 - mean) / variance - 1, 2.0)
    return mean * size, (1 - mean) * size
