"""The two ends of a day in bed: seen coming in around sunrise, seen going out around sunset.

Windows of two hours on either side count for the number of days; only lit ones (half an hour
before sunrise to two hours after, and mirrored at sunset) for a verdict, since night passes fall
into the dark hours. Of several directions the last of a morning and the first of an evening count;
who passes across the line to the area counts for nothing.

Passes that only look like ends of a day in bed are reckoned with. Who walks through walks the same
way at both ends: so as many come in by morning as come in by evening (by the last direction, as of
a morning), and as many go out by evening as go out by morning (by the first, as of an evening).
Ends without any direction are as often those of walking through as the known ones of that end;
where hardly any direction is known, next to nothing is known of it. Night passes add as many as the
dark hours between the windows let expect.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from camsign.answers.seen import SURE
from camsign.geo import angle_difference_deg, distance_bearing
from camsign.stats.bedded import NO_PASSES, Law

if TYPE_CHECKING:
    import numpy as np

    from camsign.answers.reach import Reach, Watching
    from camsign.answers.seen import Bools, Floats, Ints, Seen, Times
    from camsign.logbook.session import Session

WINDOW_MIN = 120.0
LIT_DARK_MIN = 30.0
# Within this of the bearing to the area's centre he goes in, beyond its supplement out [deg].
TOWARDS_DEG = 60.0
IN, OUT, UNKNOWN, ACROSS = 1, -1, 0, 2
# Before any direction is known: Beta law of the chance that a morning or evening shows a pass.
_PASS_PRIOR = (0.5, 1.5)


@dataclass(frozen=True, slots=True, eq=False)
class Ends:
    """What one buck's days at one area show; arrays over the days of a `Calendar`, true where so.

    `both`, `morning`, `evening`: seen at both ends, or one only, by the wide windows. `lit_both`,
    `lit_any`: by lit windows. `directed`: lit at both ends, in by the last known direction of the
    morning and out by the first of the evening. `inside`: seen inside in full daylight.
    `contradicted`: seen far off by daylight. `watched`: days at both ends of which he could have
    been seen, without those on which he was far off in full daylight. `agreeing`, `disagreeing`:
    how many lit ends have a known direction that fits a bed, or the reverse. `passes`: the Beta
    laws of the chance that the morning, and the evening, of a day not bedded show a pass that looks
    right.
    """

    both: Bools
    morning: Bools
    evening: Bools
    lit_both: Bools
    lit_any: Bools
    directed: Bools
    inside: Bools
    contradicted: Bools
    watched: Bools
    agreeing: int
    disagreeing: int
    passes: tuple[Law, Law]

    def counts(self) -> tuple[int, int, int, int]:
        """Days seen at both ends, by morning only, by evening only; and days watched."""
        both, morning, evening = self.both.sum(), self.morning.sum(), self.evening.sum()
        return int(both), int(morning), int(evening), int(self.watched.sum())


@dataclass(frozen=True, slots=True, eq=False)
class Calendar:
    """Local days in a row from `first` on (datetime64[D]), and which of them were watched."""

    first: np.datetime64
    watched: Bools

    @classmethod
    def of(cls, watching: Watching) -> Calendar:
        """From the first day watched to the last."""
        import numpy as np

        if not len(watching.days):
            return cls(np.datetime64("2000-01-01", "D"), np.zeros(0, dtype=bool))
        first = watching.days[0]
        watched = np.zeros((watching.days[-1] - first).astype(int) + 1, dtype=bool)
        watched[(watching.days - first).astype(int)] = True
        return cls(first, watched)

    def at(self, days: Times) -> Ints:
        """Number the days; -1 for those outside and those not watched."""
        import numpy as np

        number = (days - self.first).astype(int)
        number[(number < 0) | (number >= len(self.watched))] = -1
        number[number >= 0] = np.where(self.watched[number[number >= 0]], number[number >= 0], -1)
        return number

    def mark(self, numbers: Ints) -> Bools:
        """Give the days with these numbers, -1 left out."""
        import numpy as np

        found = np.zeros(len(self.watched), dtype=bool)
        found[numbers[numbers >= 0]] = True
        return found


@dataclass(frozen=True, slots=True, eq=False)
class Looks:
    """Sure detections at one area as the ends of days see them, in time order.

    `day`: number in the calendar, -1 if not watched. Other fields as in Seen.
    """

    calendar: Calendar
    buck: Ints
    day: Ints
    at: Ints
    from_sunrise: Floats
    from_sunset: Floats
    travel_deg: Floats
    direction: Ints
    inside: Bools

    def of(self, buck: int) -> Looks:
        """Give one buck's, on days watched."""
        rows = (self.buck == buck) & (self.day >= 0)
        fields = ("buck", "day", "at", "from_sunrise", "from_sunset", "travel_deg", "direction")
        return Looks(self.calendar, *(getattr(self, name)[rows] for name in (*fields, "inside")))


def looks_of(seen: Seen, reach: Reach, headings: Floats, watching: Watching) -> Looks:
    """Give the sure detections with their direction.

    Args:
        seen: detections; those at deployments of which the reach, with its one spot, knows.
        reach: with its distances.
        headings: from each deployment to the area's centre [deg], NaN where it stands on it.
        watching: the days watched there.
    """
    import numpy as np

    away = np.full(len(reach.deployments), np.nan)
    for _, deployment, metres in reach.pairs:
        away[deployment] = np.nan if metres is None else metres
    rows = np.flatnonzero((seen.apart == SURE) & ~np.isnan(away[seen.at]))
    rows = rows[np.argsort(seen.utc[rows], kind="stable")]
    at, travel = seen.at[rows], seen.travel_deg[rows]
    inside = away[at] == 0
    turned = np.abs(angle_difference_deg(travel, headings[at]))
    away_or_across = np.where(turned >= 180 - TOWARDS_DEG, OUT, ACROSS)
    direction = np.where(turned <= TOWARDS_DEG, IN, away_or_across)
    direction = np.where(inside | np.isnan(turned), UNKNOWN, direction)
    calendar = Calendar.of(watching)
    return Looks(
        calendar,
        seen.buck[rows],
        calendar.at(seen.day[rows]),
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


@dataclass(frozen=True, slots=True, eq=False)
class Far:
    """Days of a calendar on which a buck was seen far off by daylight, and in full daylight."""

    by_day: Bools
    full_day: Bools


def ends_of(looks: Looks, buck: int, far: Far) -> Ends:
    """Give the ends of one buck's days at an area."""
    import numpy as np

    his, calendar = looks.of(buck), looks.calendar
    rise, sets = his.from_sunrise, his.from_sunset
    morning, evening = np.abs(rise) <= WINDOW_MIN, np.abs(sets) <= WINDOW_MIN
    full = his.inside & (rise > WINDOW_MIN) & (sets < -WINDOW_MIN)
    inside = calendar.mark(his.day[full]) & ~far.full_day
    wide = _Directions.of(his, morning, evening, far.full_day)
    lit = _Directions.of(
        his, morning & (rise >= -LIT_DARK_MIN), evening & (sets <= LIT_DARK_MIN), far.full_day
    )
    m, e = wide.came | inside, wide.went | inside
    return Ends(
        both=m & e,
        morning=m & ~e,
        evening=e & ~m,
        lit_both=lit.came & lit.went,
        lit_any=lit.came | lit.went | inside,
        directed=lit.known_in & lit.known_out,
        inside=inside,
        contradicted=far.by_day,
        watched=calendar.watched & ~far.full_day,
        agreeing=int(lit.known_in.sum() + lit.known_out.sum()),
        disagreeing=lit.out_by_morning + lit.in_by_evening,
        passes=_passes(his, wide, int(calendar.watched.sum())),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Directions:
    """Days by what the mornings and evenings of a set of detections say.

    `out_by_morning`, `in_by_evening`: days whose deciding direction is the wrong one. `passes_in`,
    `passes_out`: evenings that would count as coming in, and mornings as going out, if the other
    end's rule were theirs: so many passes look like ends of a day in bed. `no_direction`: the share
    of mornings and evenings without any direction.
    """

    came: Bools
    went: Bools
    known_in: Bools
    known_out: Bools
    out_by_morning: int
    in_by_evening: int
    passes_in: int
    passes_out: int
    no_direction: float

    @classmethod
    def of(cls, his: Looks, morning: Bools, evening: Bools, without: Bools) -> _Directions:
        """Sort the days, `without` left out."""
        mark, unknown = his.calendar.mark, his.direction == UNKNOWN
        last, first = _deciding(his, morning, last=True), _deciding(his, evening, last=False)
        bare_morning = mark(his.day[morning & unknown]) & (last == UNKNOWN)
        bare_evening = mark(his.day[evening & unknown]) & (first == UNKNOWN)
        came, went = (last == IN) | bare_morning, (first == OUT) | bare_evening
        bare = int(bare_morning.sum() + bare_evening.sum())
        known = int((last != UNKNOWN).sum() + (first != UNKNOWN).sum())
        return cls(
            came & ~without,
            went & ~without,
            (last == IN) & ~without,
            (first == OUT) & ~without,
            out_by_morning=int((last == OUT).sum()),
            in_by_evening=int((first == IN).sum()),
            passes_in=int((_deciding(his, evening, last=True) == IN).sum()),
            passes_out=int((_deciding(his, morning, last=False) == OUT).sum()),
            no_direction=bare / max(bare + known, 1),
        )


def _deciding(his: Looks, rows: Bools, last: bool) -> Ints:
    """Give the last (or first) known direction of each day among these rows, UNKNOWN for none."""
    import numpy as np

    known = np.flatnonzero(rows & ((his.direction == IN) | (his.direction == OUT)))
    known = known if last else known[::-1]
    found = np.full(len(his.calendar.watched), UNKNOWN)
    # Of several for one day the last written stays.
    found[his.day[known]] = his.direction[known]
    return found


def _passes(his: Looks, wide: _Directions, days: int) -> tuple[Law, Law]:
    """Give the Beta laws of the chances of a mistaken pass by morning and by evening."""
    if not days or not len(his.day):
        return NO_PASSES, NO_PASSES
    spare, noise = _night_passes(his, wide.no_direction, days)
    a, b = _PASS_PRIOR
    size = days * (1 - wide.no_direction) + a + b
    laws = []
    for passed, wrong in (
        (wide.passes_in, wide.out_by_morning),
        (wide.passes_out, wide.in_by_evening),
    ):
        mean = min((passed + wide.no_direction * wrong + a) / size, 0.95)
        laws.append(_beta(mean + spare, mean * (1 - mean) / (size + 1) + noise))
    return laws[0], laws[1]


def _night_passes(his: Looks, no_direction: float, days: int) -> tuple[float, float]:
    """Give mean and variance of the chance that a night pass falls into a window's dark half."""
    import numpy as np

    rise, sets = his.from_sunrise, his.from_sunset
    dark = (rise < -WINDOW_MIN) | (sets > WINDOW_MIN)
    hour = np.floor(np.where(rise < -WINDOW_MIN, rise, sets)[dark] / 60)
    passes = len(np.unique(his.day[dark] * 100 + hour))
    light = (rise - sets)[np.isfinite(rise - sets)]
    day_min = float(light.mean()) if len(light) else 720.0
    hours = days * max(1440 - day_min - 2 * WINDOW_MIN, 60.0) / 60
    # The dark half of a window; its light half sees no night passes.
    each = no_direction * (WINDOW_MIN / 60) / hours
    return each * passes, each**2 * (passes + 0.5)


def _beta(mean: float, variance: float) -> Law:
    """Give the Beta law of this mean and variance."""
    mean = min(mean, 0.95)
    size = max(mean * (1 - mean) / variance - 1, sum(_PASS_PRIOR))
    return mean * size, (1 - mean) * size
