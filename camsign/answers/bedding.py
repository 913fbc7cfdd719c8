"""Is this area used as a bed, by whom, on how many days, and which ways lead in and out?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

from camsign.answers import verdict as rules
from camsign.answers.area_sign import AreaSign, area_sign
from camsign.answers.bedded import APART_M, ends_here, shape_of
from camsign.answers.ended import ended_days
from camsign.answers.ends import IN, OUT, UNKNOWN, WINDOW_MIN, Ends, Looks
from camsign.answers.reach import reach_of, watching_of
from camsign.answers.seen import UNIDENTIFIED, Bucks, bucks_of, seen_of
from camsign.answers.shape import (
    ABSENCE,
    THIN,
    Answer,
    Figure,
    Watch,
    counted,
    figure,
    reasons,
)
from camsign.errors import UsageError
from camsign.stats.bedded import days_bedded
from camsign.stats.circular import directions, no_narrower, readings_half_width_deg

if TYPE_CHECKING:
    from camsign.answers.reach import Reach, Watching
    from camsign.answers.scope import Scope
    from camsign.answers.seen import Bools
    from camsign.logbook.session import Session

# More days of watch than this are no plan: say a whole season instead.
A_SEASON = 120
METHOD = (
    "days bedded: posterior median and 95 % interval from mornings seen coming in and evenings "
    "seen going out, within 2 h of sunrise and sunset, with a term for days on which he slips by "
    "(the project's model, by exact sums); verdicts by fixed rules; density ratio: exact interval "
    "of two Poisson rates (Przyborowski and Wilenski 1940); ways: circular means"
)
ASSUMED = (
    "assumes that on four of five days in bed he passes a camera in reach; if he slips by more "
    "often, he beds there more often than this says"
)
ASSUMED_TOO = (
    "reckons with passes that are no ends of a day in bed: as many as walk the wrong way; where "
    "hardly any direction is known, all may be such passes; a trail walked one way at dawn and "
    "back at dusk, past the area to a bed beyond, looks like a bed here"
)


@dataclass(frozen=True, slots=True)
class BeddedBuck:
    """One buck at the area. `mornings`, `evenings`, `both`: days seen at that end (both: at both).

    `share`: of the days watched. `contradicting_days`: by daylight farther off than `apart`.
    """

    buck: str
    buck_id: str
    mornings: int
    evenings: int
    both: int
    lit_both: int
    directed_days: int
    inside_days: int
    days_bedded: Figure
    share: Figure
    contradicting_days: int
    verdict: str
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Way:
    """A way in or out at one camera: mean travel [deg], over `n` directions, one a buck and day."""

    camera: str
    bearing_deg: Figure
    n: int


@dataclass(frozen=True, slots=True)
class Ways:
    """Ways in by morning, out by evening, most used first."""

    morning: tuple[Way, ...]
    evening: tuple[Way, ...]


@dataclass(frozen=True, slots=True)
class Bedding(Answer):
    """The answer for one area; its table holds the bucks, the likeliest first.

    `rule`: which rule the verdict met, by whom, with the numbers that met it.
    """

    TABLE: ClassVar[str] = "bucks"
    ROW: ClassVar[type] = BeddedBuck
    LISTED: ClassVar[bool] = False
    REPEATED: ClassVar[tuple[str, ...]] = ("area",)

    area: str
    area_id: str
    days_watched: int
    bucks: tuple[BeddedBuck, ...]
    unidentified: int
    unknown_travel: int
    sign: AreaSign
    verdict: str
    rule: str
    ways: Ways
    watch: Watch
    method: str
    why: tuple[str, ...]


def bedding(session: Session, scope: Scope, apart_m: float = APART_M) -> Bedding:
    """Say whether the scope's area is used as a bed.

    Args:
        session: an open logbook.
        scope: one area; the bucks asked for, or all.
        apart_m: a buck seen by daylight farther from the area's edge than this did not bed there
            on that day [m].

    Raises:
        UsageError: not exactly one area, or `apart_m` beyond the kept distances.
    """
    reach = reach_of(session, scope)
    if len(reach.spots) != 1:
        raise UsageError("this question is about one area", "name one")
    watching = watching_of(session, scope, reach)[0]
    bucks = bucks_of(session, scope)
    seen = seen_of(session, scope, reach, bucks)
    area_id = reach.spots[0].id
    area = shape_of(session, area_id)
    looks, ends_by = ends_here(session, scope, reach, watching, bucks, seen, area, apart_m)
    ends = {b: ends_by(b) for b in sorted(set(looks.buck.tolist()))}
    by_buck = {b: _buck(bucks, b, his, len(watching.days)) for b, his in ends.items()}
    order = sorted(by_buck, key=lambda b: _likeliest_first(by_buck[b]))
    found = [by_buck[b] for b in order]
    sign = area_sign(session, scope, area_id, area)
    gone = {b for b, day in ended_days(session, bucks).items() if day <= scope.last}
    living = [b for b in order if b not in gone]
    names = [bucks.names[b] for b in living]
    word, rule = rules.area_verdict([ends[b] for b in living], sign, len(watching.days), names)
    why = [
        f"{word}: {rule}",
        *(
            f"{bucks.names[b]} has ended: his days count for nothing now"
            for b in order
            if b in gone
        ),
        *_verdict_why(found, word, sign, watching, reach),
    ]
    return Bedding(
        area=reach.spots[0].name,
        area_id=area_id,
        days_watched=len(watching.days),
        bucks=tuple(found),
        unidentified=int((seen.apart == UNIDENTIFIED).sum()),
        unknown_travel=int((looks.direction == UNKNOWN).sum()),
        sign=sign,
        verdict=word,
        rule=rule,
        ways=_ways(looks, reach),
        watch=watching.summary(),
        method=METHOD,
        why=reasons(f"days asked for: {scope.in_words()}", watching.summary().in_words(), *why),
    )


def _likeliest_first(buck: BeddedBuck) -> tuple[float, ...]:
    ends = buck.mornings + buck.evenings
    return -rules.RANK[buck.verdict], -(buck.days_bedded.value or 0), -buck.directed_days, -ends


def _buck(bucks: Bucks, number: int, ends: Ends, days_watched: int) -> BeddedBuck:
    both, morning, evening, watched = ends.counts()
    days = days_bedded(both, morning, evening, watched, *ends.passes).estimate()
    word, why = rules.verdict_of(ends, days_watched)
    return BeddedBuck(
        buck=bucks.names[number],
        buck_id=bucks.ids[number],
        mornings=both + morning,
        evenings=both + evening,
        both=both,
        lit_both=int(ends.lit_both.sum()),
        directed_days=int(ends.directed.sum()),
        inside_days=int(ends.inside.sum()),
        days_bedded=figure(days, n=watched),
        share=figure(days.scaled(1 / days_watched)) if days_watched else Figure(None, 0.0, 1.0),
        contradicting_days=int(ends.contradicted.sum()),
        verdict=word,
        why=tuple(why),
    )


def _verdict_why(
    found: Sequence[BeddedBuck], word: str, sign: AreaSign, watching: Watching, reach: Reach
) -> list[str | None]:
    pointing = rules.sign_points_to_bed(sign)
    few = 0 < sign.rubs < rules.FEW_RUBS
    return [
        f"{THIN}: {len(watching.days)} whole days" if len(watching.days) < rules.FEW_DAYS else None,
        pointing,
        f"only {counted(sign.rubs, 'rub')} in reach: an area in steady use seldom has few; "
        "occasional use at best, or ground not searched (common practice, no source)"
        if few
        else None,
        "a second-best area may fill up when bucks are displaced, until the rut (common practice, "
        "no source)"
        if word == rules.POSSIBLE
        else None,
        None if found else f"no identified buck was seen there; {ABSENCE}",
        ASSUMED if found else None,
        ASSUMED_TOO if found else None,
        _settle(found, word, watching, reach),
    ]


def _settle(found: Sequence[BeddedBuck], word: str, watching: Watching, reach: Reach) -> str | None:
    """Say what would settle it: where to hang a camera, and for how long."""
    if word == rules.CONFIRMED:
        return None
    share = max((b.share.value or 0.0 for b in found), default=None)
    days = rules.days_to_settle(share if share else None)
    where = "another camera" if reach.deployments else "a camera within reach"
    long = f"for about {days} more days" if days <= A_SEASON else "through the whole of a season"
    return (
        f"to settle it: {where}, on the trail that leads in, facing along it so that travel shows, "
        f"{long}"
    )


def _ways(looks: Looks, reach: Reach) -> Ways:
    rise, sets = looks.from_sunrise, looks.from_sunset
    morning = (rise >= -WINDOW_MIN) & (rise <= WINDOW_MIN) & (looks.direction == IN)
    evening = (sets >= -WINDOW_MIN) & (sets <= WINDOW_MIN) & (looks.direction == OUT)
    return Ways(_way(looks, morning, reach), _way(looks, evening, reach))


def _way(looks: Looks, rows: Bools, reach: Reach) -> tuple[Way, ...]:
    """Give the mean travel at each camera, one direction a buck and day (the first)."""
    import numpy as np

    at = np.flatnonzero(rows)
    keys = np.stack([looks.at[at], looks.buck[at], looks.day[at]])
    _, first = np.unique(keys, axis=1, return_index=True)
    at = at[first]
    found = []
    for deployment in np.unique(looks.at[at]):
        travel = looks.travel_deg[at[looks.at[at] == deployment]]
        mean = directions(travel)
        bearing = figure(no_narrower(mean, readings_half_width_deg(travel)))
        found.append(Way(reach.cameras[deployment], bearing, mean.n))
    return tuple(sorted(found, key=lambda way: -way.n))
