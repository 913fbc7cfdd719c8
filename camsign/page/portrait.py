"""One buck as his page shows him: seasons, where, when by the sun, pictures, measurements."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from camsign.answers.detections import SURE, asked
from camsign.answers.reach import by_deployment, watching_of
from camsign.answers.result import local_of
from camsign.answers.scope import scope_of
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.page.charts import SunClock, sun_clock
from camsign.page.rows import rows
from camsign.stats.estimate import Estimate, wilson
from camsign.tags.bucks import BuckRow, bucks, show_buck
from camsign.tags.measuring import Measurement, measurements
from camsign.tags.pictures import Reference, references

MOST_STRIPS = 200


@dataclass(frozen=True, slots=True)
class Season:
    """A row of buck_seasons.sql: what was seen of a buck. `apart`: frames not sure."""

    season: int
    first_local: datetime | None
    first_utc: datetime | None
    last_local: datetime | None
    last_utc: datetime | None
    nights: int
    frames: int
    apart: int

    @property
    def first(self) -> datetime | None:
        """When he was seen first; local time with its offset."""
        return _at(self.first_utc, self.first_local)

    @property
    def last(self) -> datetime | None:
        """When he was seen last; local time with its offset."""
        return _at(self.last_utc, self.last_local)


@dataclass(frozen=True, slots=True)
class Spot:
    """A deployment in a season: visits, those in shooting light, the nights watched there, and the
    covered nights that nobody has sorted yet, which are not among them. `hung`, `taken_down`: local
    days, given where its camera hung at several spots that season.
    """

    deployment: str
    camera: str
    lat: float
    lon: float
    visits: int
    in_shooting_light: int
    nights_watched: int
    nights_unsorted: int
    hung: date | None = None
    taken_down: date | None = None

    @property
    def untold(self) -> bool:
        """Whether nobody can say if he was there: no night covered, or most not sorted."""
        return not self.visits and self.nights_watched <= self.nights_unsorted


@dataclass(frozen=True, slots=True)
class Shown:
    """A row of buck_strips.sql: a strip with frames of his."""

    strip: str
    camera: str
    utc: datetime | None
    local: datetime | None
    frames: list[str]

    @property
    def at(self) -> datetime | None:
        """When it begins; local time with its offset."""
        return _at(self.utc, self.local)


@dataclass(frozen=True, slots=True)
class Portrait:
    """All that a buck's page shows. `shooting_light`: the share of visits by day or in gray."""

    buck: BuckRow
    seasons: list[Season]
    season: int
    spots: list[Spot]
    clock: SunClock
    visits: int
    shooting_light: Estimate
    references: list[Reference]
    measurements: list[Measurement]
    strips: list[Shown]


def all_bucks(session: Session) -> list[tuple[BuckRow, str | None]]:
    """Give every buck that stands with a picture of him, those seen last first."""
    shown = faces(session)
    found = sorted(bucks(session), key=lambda buck: buck.buck.casefold())
    found.sort(key=lambda buck: -buck.last_seen.timestamp() if buck.last_seen else 0.0)
    return [(buck, shown.get(buck.buck_id)) for buck in found]


def faces(session: Session) -> dict[str, str]:
    """Give the frame that shows each buck's head best, by his id."""
    return dict(run_sql(session.con, __file__, "queries/buck_faces.sql").fetchall())


def portrait(session: Session, buck: str, season: int | None = None) -> Portrait:
    """Give a buck's page for a season, by default the last in which he was seen.

    Raises:
        UsageError: there is no such buck.
    """
    one = show_buck(session, buck, season)
    start = "{:02d}-{:02d}".format(*session.settings.season_start)
    seasons = rows(session.con, "buck_seasons", Season, buck=one.buck_id, start=start)
    seen = (row.season for row in seasons if row.frames)  # not what a clock in doubt says
    chosen = season if season is not None else next(seen, one.season)
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
        strips=rows(session.con, "buck_strips", Shown, buck=one.buck_id, most=MOST_STRIPS),
    )


def _visits(session: Session, buck_id: str, season: int) -> tuple[list[Spot], SunClock, int]:
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
    covered = watching_of(session, scope, by_deployment(q.reach))
    places = _places(session, q.reach.deployments)
    up = [i for i, one in enumerate(covered) if one.hung or counts[i]]
    hangs = Counter(places[i][1] for i in up)
    spots = [
        Spot(
            *places[i][:4], counts[i], in_light[i], len(covered[i].nights),
            len(covered[i].unsorted), *(places[i][4:] if hangs[places[i][1]] > 1 else ()),
        )
        for i in up
    ]  # fmt: skip
    return spots, sun_clock(minutes), sum(in_light.values())


def _places(
    session: Session, deployments: Iterable[str]
) -> list[tuple[str, str, float, float, date | None, date | None]]:
    wanted = list(deployments)
    found = session.con.execute(
        "SELECT deployment, camera, lat, lon, hung::DATE, taken_down::DATE FROM deployments"
        " WHERE deployment IN (SELECT unnest(?::VARCHAR[]))",
        [wanted],
    ).fetchall()
    by_id = {row[0]: row for row in found}
    return [by_id[deployment] for deployment in wanted]


def _at(utc: datetime | None, local: datetime | None) -> datetime | None:
    return local_of(utc, local) if utc and local else None
