"""One buck as his page shows him: seasons, where, when by the sun, pictures, measurements."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from math import floor, isfinite

from camsign.answers.detections import SURE, asked
from camsign.answers.result import local_of
from camsign.answers.scope import scope_of
from camsign.logbook.session import Session
from camsign.page.rows import rows
from camsign.stats.estimate import Estimate
from camsign.stats.shares import wilson
from camsign.tags.bucks import BuckRow, bucks, show_buck
from camsign.tags.measuring import Measurement, measurements
from camsign.tags.pictures import Reference, references

HOURS = range(-6, 6)
"""Hours about sunrise and sunset that the clock shows; what lies outside both is counted apart."""
MOST_STRIPS = 200


@dataclass(frozen=True, slots=True)
class Season:
    """What was seen of a buck in one season; local times with offset. `apart`: frames not sure."""

    season: int
    first: datetime | None
    last: datetime | None
    nights: int
    frames: int
    apart: int


@dataclass(frozen=True, slots=True)
class Spot:
    """A deployment in a season: visits, those in shooting light, its camera's nights watched, and
    its covered nights that nobody has sorted yet, which are not among them."""

    deployment: str
    camera: str
    lat: float
    lon: float
    visits: int
    in_shooting_light: int
    nights_watched: int
    nights_unsorted: int


@dataclass(frozen=True, slots=True)
class Clock:
    """Visits by whole hours from sunrise and from sunset, each by the nearer of the two."""

    from_sunrise: dict[int, int]
    from_sunset: dict[int, int]
    outside: int


@dataclass(frozen=True, slots=True)
class Shown:
    """A strip with frames of his."""

    strip: str
    camera: str
    at: datetime | None
    frames: list[str]


@dataclass(frozen=True, slots=True)
class Portrait:
    """All that a buck's page shows. `shooting_light`: the share of visits by day or in gray."""

    buck: BuckRow
    seasons: list[Season]
    season: int
    spots: list[Spot]
    clock: Clock
    visits: int
    shooting_light: Estimate
    references: list[Reference]
    measurements: list[Measurement]
    strips: list[Shown]


@dataclass(frozen=True, slots=True)
class _SeasonRow:
    """A row of buck_seasons.sql."""

    season: int
    first_local: datetime | None
    first_utc: datetime | None
    last_local: datetime | None
    last_utc: datetime | None
    nights: int
    frames: int
    apart: int


@dataclass(frozen=True, slots=True)
class Face:
    """A picture of a buck."""

    buck_id: str
    frame: str


@dataclass(frozen=True, slots=True)
class _StripRow:
    """A row of buck_strips.sql."""

    strip: str
    camera: str
    utc: datetime | None
    local: datetime | None
    frames: list[str]


def all_bucks(session: Session) -> list[tuple[BuckRow, str | None]]:
    """Give every buck that stands with a picture of him, those seen last first."""
    shown = faces(session)
    found = [(buck, shown.get(buck.buck_id)) for buck in bucks(session)]
    found.sort(key=lambda one: (-_seconds(one[0].last_seen), one[0].buck.casefold()))
    return found


def faces(session: Session) -> dict[str, str]:
    """Give the frame that shows each buck's head best, by his id."""
    return {one.buck_id: one.frame for one in rows(session.con, "buck_faces", Face)}


def portrait(session: Session, buck: str, season: int | None = None) -> Portrait:
    """Give a buck's page for a season, by default the last in which he was seen.

    Raises:
        UsageError: there is no such buck.
    """
    one = show_buck(session, buck, season)
    seasons = _seasons(session, one.buck_id)
    chosen = season if season is not None else seasons[0].season if seasons else one.season
    if chosen != one.season:
        one = show_buck(session, one.buck_id, chosen)
    spots, clock, in_light = _visits(session, one.buck_id, chosen)
    visits = sum(spot.visits for spot in spots)
    return Portrait(
        buck=one,
        seasons=seasons,
        season=chosen,
        spots=spots,
        clock=clock,
        visits=visits,
        shooting_light=wilson(in_light, visits),
        references=references(session, one.buck_id),
        measurements=measurements(session, one.buck_id),
        strips=_strips(session, one.buck_id),
    )


def _seasons(session: Session, buck_id: str) -> list[Season]:
    start = "{:02d}-{:02d}".format(*session.settings.season_start)
    found = rows(session.con, "buck_seasons", _SeasonRow, buck=buck_id, start=start)
    return [
        Season(
            row.season,
            _at(row.first_utc, row.first_local),
            _at(row.last_utc, row.last_local),
            row.nights,
            row.frames,
            row.apart,
        )
        for row in found
    ]


def _visits(session: Session, buck_id: str, season: int) -> tuple[list[Spot], Clock, int]:
    """Give his visits at each deployment, the clock of them, and how many in shooting light."""
    scope = scope_of(session, bucks=[buck_id], season=season)
    q = asked(session, scope, "camera")
    visited = q.visited
    sure = visited.apart == SURE
    at, light = visited.at[sure].tolist(), visited.shooting[sure].tolist()
    minutes = zip(
        visited.from_sunrise[sure].tolist(), visited.from_sunset[sure].tolist(), strict=True
    )
    counts, in_light = Counter(at), Counter(a for a, lit in zip(at, light, strict=True) if lit)
    nights = {
        spot: (watch.nights_watched, watch.nights_unsorted) for spot, watch in q.watch().items()
    }
    spots = [
        Spot(deployment, camera, lat, lon, counts[i], in_light[i], *nights.get(camera, (0, 0)))
        for i, (deployment, camera, lat, lon) in enumerate(_places(session, q.reach.deployments))
    ]
    return spots, _clock(minutes), sum(in_light.values())


def _places(session: Session, deployments: Iterable[str]) -> list[tuple[str, str, float, float]]:
    wanted = list(deployments)
    found = session.con.execute(
        "SELECT deployment, camera, lat, lon FROM deployments"
        " WHERE deployment IN (SELECT unnest(?::VARCHAR[]))",
        [wanted],
    ).fetchall()
    by_id = {row[0]: row for row in found}
    return [by_id[deployment] for deployment in wanted]


def _clock(minutes: Iterable[tuple[float, float]]) -> Clock:
    rise: Counter[int] = Counter()
    set_: Counter[int] = Counter()
    outside = 0
    for from_sunrise, from_sunset in minutes:
        if not (isfinite(from_sunrise) and isfinite(from_sunset)):
            outside += 1
            continue
        # The evening before and the morning after are as near as this day's own.
        morning = (from_sunrise + 720) % 1440 - 720
        evening = (from_sunset + 720) % 1440 - 720
        near, anchor = (morning, rise) if abs(morning) <= abs(evening) else (evening, set_)
        hour = floor(near / 60)
        if hour in HOURS:
            anchor[hour] += 1
        else:
            outside += 1
    return Clock({h: rise[h] for h in HOURS}, {h: set_[h] for h in HOURS}, outside)


def _strips(session: Session, buck_id: str) -> list[Shown]:
    found = rows(session.con, "buck_strips", _StripRow, buck=buck_id, most=MOST_STRIPS)
    return [Shown(r.strip, r.camera, _at(r.utc, r.local), r.frames) for r in found]


def _at(utc: datetime | None, local: datetime | None) -> datetime | None:
    return local_of(utc, local) if utc and local else None


def _seconds(at: datetime | None) -> float:
    return at.timestamp() if at else 0.0
