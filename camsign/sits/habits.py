"""What the pictures say of a buck's evenings: where he beds, by which ways he goes, and when."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import hypot

import numpy as np

from camsign.answers.bedded import BeddedBuck
from camsign.answers.bedding import LATELY_DAYS, bedded_lately
from camsign.answers.beds_ground import RANGE_M
from camsign.answers.beds_known import Known, known_of
from camsign.answers.bucks import Bucks, Mature, ageless_of, bucks_of, mature_of
from camsign.answers.reach import Watching
from camsign.answers.result import Figure, Watch
from camsign.answers.scope import Scope, scope_of, season_days
from camsign.answers.unsorted import unsorted_at
from camsign.answers.ways import Ways, unseen_weight, walked, ways_of
from camsign.formats.interval import Interval
from camsign.geo import Area
from camsign.logbook.database import sql_beside
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area
from camsign.places.shapes import center_and_size
from camsign.sits.evenings import Bed, Hours, Stand, Way, in_reach
from camsign.sits.plane import Plane
from camsign.sits.windbeds import compared, factors_of, morning_winds, which
from camsign.units import counted

# Before any picture of his: he leaves about then [min from sunset], comes in about then; no source.
USUAL = {False: Hours(-8.0, 38.0), True: Hours(8.0, 38.0)}
USUAL_WEIGHT = 4.0
_MOST_DOUBT_DEG = 45.0


@dataclass(frozen=True, slots=True)
class BedArea:
    """A bedding area: its name, where it lies [deg], as a bed on the plane, and its outline."""

    area_id: str
    name: str
    lat: float
    lon: float
    bed: Bed
    outline: Area


@dataclass(frozen=True, slots=True)
class KnownWay:
    """A way past a camera, or the way so many rubs point: how often it was seen taken."""

    way: Way
    n: float
    camera: str | None = None
    rubs: int = 0

    @property
    def past(self) -> str:
        """What shows it, in words."""
        return counted(self.rubs, "rub") if self.rubs else self.camera or "a way nobody has seen"


@dataclass(frozen=True, slots=True)
class Odds:
    """The chance that a buck beds in an area on the day asked for, with its interval: as `where`.

    `lately`: his share of the days there in the last three weeks; `whole`: of his whole season, for
    want of a picture there since.
    """

    buck: str
    buck_id: str
    area_id: str
    chance: Interval
    lately: Interval
    whole: bool = False


@dataclass(frozen=True, slots=True)
class Habits:
    """All that `tonight` knows of the bucks; `watched` [days] is what it rests on.

    `by_wind`: by area and buck, how much each eighth of the winds moves his chance, where shown.
    `unseen`: by area, the weight of ways that no camera watches, in pictures that are missing.
    `stale`: the day of the last pictures where they are all of a season before; `to_sort`: where it
    is so, the last day of this season of which there are pictures nobody has sorted. `recent`: by
    area's name, the watch of the last weeks; of the whole season, where no odds are known.
    `ageless`: who was pictured this season and counts for nothing, since nobody gave his age.
    `covered_to`: by area, the last night covered, where there is one.
    """

    areas: dict[str, BedArea]
    odds: tuple[Odds, ...]
    ways: dict[str, tuple[KnownWay, ...]]
    hours: dict[str, Hours]
    watched: dict[str, int]
    first: date
    last: date
    by_wind: dict[tuple[str, str], tuple[float, ...]]
    unseen: dict[str, float]
    stale: date | None
    to_sort: date | None
    recent: dict[str, Watch]
    covered_to: dict[str, date]
    ageless: tuple[str, ...] = ()

    @property
    def sort_first(self) -> str:
        """What to say behind the answer where too many of those nights wait; empty where not."""
        days = "in the last three weeks" if self.odds else "this season"
        told = unsorted_at(self.recent, True, days)
        return f" {told}. Sort them first." if told else ""

    def wind_factor(self, odds: Odds, from_deg: float | None) -> float:
        """How much the wind he lies down on moves his chance to bed there: 1 unless shown."""
        moved = self.by_wind.get((odds.area_id, odds.buck_id))
        return 1.0 if moved is None or from_deg is None else moved[which(from_deg)]


def habits_of(
    session: Session,
    plane: Plane,
    day: date,
    morning: bool,
    names: Sequence[str] | None,
    stands: Sequence[Stand],
) -> Habits:
    """Gather what is known up to a day, of the named bucks or of all mature ones.

    Of areas from which he comes by none of the stands only where they lie is given.

    Raises:
        UsageError: there is no such buck.
    """
    start = session.settings.season_start
    first, _ = season_days(season_of(day, start), start)
    scope = scope_of(session, names, first=first, last=day)
    areas, bucks = bed_areas(session, plane), bucks_of(session, scope)
    asked = set(bucks.ids)
    mature = mature_of(session, scope, bucks)
    if names is None:
        asked = {bucks.ids[n] for n in mature.bucks}
    reached = [one for one in areas.values() if any(in_reach(one.bed, s) for s in stands)]
    known = _known_around(session, scope, reached)
    seasons = {
        one.area_id: _season(session, scope, one.area_id, bucks, known[one.area_id])
        for one in reached
    }
    odds = _odds_of(seasons, known, asked, day)
    by_wind = _by_wind(session, scope, odds, known, seasons)
    hours = _hours(session, scope, morning, bucks, {one.buck_id for one in odds})
    watched = {area: len(season.watching.days) for area, season in seasons.items()}
    return Habits(
        areas=areas,
        odds=(*odds, *_unwatched(odds, watched)),
        ways={
            area: _ways(session, plane, season, areas[area], morning)
            for area, season in seasons.items()
        },
        hours=hours,
        watched=watched,
        first=scope.first,
        last=scope.last,
        by_wind=by_wind,
        unseen={
            area: unseen_weight(season.ways, season.bedded, out=not morning)
            for area, season in seasons.items()
        },
        recent=_recent(scope, areas, seasons, lately=bool(odds)),
        covered_to={area: one.last_night for area, one in seasons.items() if one.last_night},
        ageless=_ageless(bucks, mature, known) if names is None else (),
        **_stale(session, scope),
    )


def _ageless(bucks: Bucks, mature: Mature, known: Mapping[str, Known]) -> tuple[str, ...]:
    seen = {buck for one in known.values() for buck in one.buck_ids}
    return ageless_of(bucks, mature, [n for n, buck in enumerate(bucks.ids) if buck in seen])


def _recent(
    scope: Scope, areas: Mapping[str, BedArea], seasons: Mapping[str, _Season], lately: bool
) -> dict[str, Watch]:
    """Give by area's name the watch of the last weeks up to the day, or of the whole season."""
    weeks = scope.last - timedelta(days=LATELY_DAYS - 1)
    since = max(scope.first, weeks) if lately else scope.first
    return {
        areas[area].name: season.watching.within(since, scope.last).summary()
        for area, season in seasons.items()
    }


def _stale(session: Session, scope: Scope) -> dict[str, date | None]:
    """The day of the last detections if it lies before the scope, and then, of the scope's days,
    the last with pictures that nobody has sorted."""
    row = session.con.execute(
        "SELECT (SELECT max(day) FROM detections WHERE day <= $day),"
        " (SELECT max(day) FROM unsorted WHERE day <= $day)",
        {"day": scope.last},
    ).fetchone()
    pictured, waiting = row or (None, None)
    if pictured is None or pictured >= scope.first:
        return {"stale": None, "to_sort": None}
    mine = waiting is not None and waiting >= scope.first
    return {"stale": pictured, "to_sort": waiting if mine else None}


def _known_around(session: Session, scope: Scope, areas: Sequence[BedArea]) -> dict[str, Known]:
    """Give by area what the model of beds knows, asked once for areas that lie together."""
    found: dict[str, Known] = {}
    for area in areas:
        if area.area_id not in found:
            x, y = area.bed.x, area.bed.y
            near = [
                one.area_id for one in areas
                if one.area_id not in found
                and hypot(one.bed.x - x, one.bed.y - y) <= RANGE_M / 2
            ]  # fmt: skip
            found |= dict.fromkeys(near, known_of(session, scope, about=near))
    return found


def _by_wind(
    session: Session,
    scope: Scope,
    odds: Sequence[Odds],
    known: Mapping[str, Known],
    seasons: Mapping[str, _Season],
) -> dict[tuple[str, str], tuple[float, ...]]:
    """Which bucks are shown to bed by the wind, and how much each wind moves it."""
    winds = morning_winds(session, scope.first, scope.last)
    found = {}
    for one in odds if winds else ():
        days = seasons[one.area_id].watching.days
        moved = factors_of(compared(known[one.area_id], one.buck_id, one.area_id, days, winds))
        if moved is not None:
            found[one.area_id, one.buck_id] = moved
    return found


def bed_areas(session: Session, plane: Plane) -> dict[str, BedArea]:
    """The bedding areas by id, from south to north."""
    rows = session.con.execute(
        "SELECT area_id, name, shape FROM areas_now WHERE kind = 'bedding' ORDER BY area_id"
    ).fetchall()
    found = []
    for area_id, name, shape in rows:
        lat, lon, radius, _ = center_and_size(shape)
        found.append(
            BedArea(area_id, name, lat, lon, Bed(*plane.at(lat, lon), radius), to_area(shape))
        )
    # By place: draws go by their order, and ids are random.
    return {one.area_id: one for one in sorted(found, key=lambda one: (one.lat, one.lon))}


@dataclass(frozen=True, slots=True)
class _Season:
    """An area up to the day asked for: its watch, days on which any of the bucks bedded there, and
    the ways.

    `lately`: of who was seen in the last days these, else the season's, where a share is known;
    `whole`: the ids of the latter.
    """

    watching: Watching
    bedded: float
    lately: tuple[BeddedBuck, ...]
    whole: frozenset[str]
    ways: Ways

    @property
    def last_night(self) -> date | None:
        """The last night covered, if any was."""
        nights = self.watching.nights
        return nights[-1].item() if len(nights) else None


def _season(session: Session, scope: Scope, area_id: str, bucks: Bucks, known: Known) -> _Season:
    scope = replace(scope, area_ids=(area_id,))
    watching, found, lately = bedded_lately(session, scope, bucks, known)
    ways = ways_of(
        known, area_id, set(bucks.ids), scope.buck_ids is None, known.wanted(watching, scope)
    )
    bedded = sum(one.days_bedded.value or 0.0 for one in found)
    whole = frozenset(row.buck_id for row in lately if any(row is one for one in found))
    return _Season(watching, bedded, lately, whole, ways)


def _odds_of(
    seasons: Mapping[str, _Season], known: Mapping[str, Known], asked: set[str], day: date
) -> list[Odds]:
    """The chance of each buck asked for to bed at each area on that day."""
    return [
        Odds(one.buck, one.buck_id, area, known[area].on(one.buck_id, area, day), one.share,
             one.buck_id in season.whole)
        for area, season in seasons.items() for one in season.lately if one.buck_id in asked
    ]  # fmt: skip


def _unwatched(odds: Sequence[Odds], watched: Mapping[str, int]) -> list[Odds]:
    """Where no camera watched he may bed as often as where one did, or never: their mean, and
    anything up to twice the highest; on the day asked for no oftener than he is left over."""
    known: dict[str, list[Odds]] = {}
    for one in odds:
        known.setdefault(one.buck_id, []).append(one)
    found = []
    for area_id in (area for area, days in watched.items() if not days):
        for buck_id, elsewhere in known.items():
            shares = [one.lately.value or 0.0 for one in elsewhere]
            mean = sum(shares) / sum(days > 0 for days in watched.values())
            left = max(0.0, 1 - sum(one.chance.value or 0.0 for one in elsewhere))
            often = Figure(mean, 0.0, min(1.0, 2 * max(shares)))
            chance = replace(often, value=min(mean, left))
            found.append(Odds(elsewhere[0].buck, buck_id, area_id, chance, often))
    return found


def _ways(
    session: Session, plane: Plane, season: _Season, area: BedArea, morning: bool
) -> tuple[KnownWay, ...]:
    """Ways of the hour asked for, headed out: those of cameras, and those that rubs show."""
    found, turn = walked(season.ways, out=not morning), 180 * morning
    places = _places(session, plane, list(found))
    known = [
        KnownWay(Way(*xy, (bearing.value + turn) % 360, _doubt(bearing)), found[at][1], camera)
        for at, camera, xy in places
        if (bearing := found[at][0]).value is not None
    ]
    rubs = _rub_ways(session, plane, area)
    return tuple(sorted((*known, *rubs), key=lambda way: -way.n))


def _doubt(bearing: Figure) -> float:
    if bearing.low is None or bearing.high is None:
        return _MOST_DOUBT_DEG
    return min(_MOST_DOUBT_DEG, ((bearing.high - bearing.low) % 360) / 2 / 1.96)


def _places(
    session: Session, plane: Plane, deployments: list[str]
) -> list[tuple[str, str, tuple[float, float]]]:
    """The name and place of each deployment, in the order given."""
    rows = session.con.execute(
        "SELECT deployment, camera, lat, lon FROM deployments"
        " WHERE list_contains($of::VARCHAR[], deployment)"
        " ORDER BY list_position($of::VARCHAR[], deployment)",
        {"of": deployments},
    ).fetchall()
    return [(at, camera, plane.at(lat, lon)) for at, camera, lat, lon in rows]


# Rubs that point the same way out of a bed are a way; one rub says as much as so many pictures.
RUB_WEIGHT = 0.25
_SECTORS = 8
_FEWEST_RUBS = 3


def _rub_ways(session: Session, plane: Plane, area: BedArea) -> list[KnownWay]:
    """Ways where three rubs or more within one eighth of the round lead out of the bed."""
    rows = session.con.execute(sql_beside(__file__, "rubs.sql"), [area.area_id]).fetchall()
    if not rows:
        return []
    points = plane.xy([r[0] for r in rows], [r[1] for r in rows])
    travel = np.array([r[2] for r in rows])
    from_bed = points - np.array([area.bed.x, area.bed.y])
    outward = np.degrees(np.arctan2(from_bed[:, 0], from_bed[:, 1])) % 360
    leads_out = np.abs((travel - outward + 180) % 360 - 180) <= 60
    sector = ((outward + 180 / _SECTORS) % 360 // (360 / _SECTORS)).astype(int)
    found = []
    for one in range(_SECTORS):
        mine = leads_out & (sector == one)
        if mine.sum() >= _FEWEST_RUBS:
            turn = np.radians(travel[mine])
            heading = float(np.degrees(np.arctan2(np.sin(turn).mean(), np.cos(turn).mean())) % 360)
            x, y = points[mine].mean(0)
            many = int(mine.sum())
            way = Way(float(x), float(y), heading, 15.0)
            found.append(KnownWay(way, RUB_WEIGHT * many, rubs=many))
    return found


def _hours(
    session: Session, scope: Scope, morning: bool, bucks: Bucks, buck_ids: set[str]
) -> dict[str, Hours]:
    """When each buck goes or comes, his own pictures drawn toward the usual by a weight of four."""
    column = "minutes_from_sunrise" if morning else "minutes_from_sunset"
    query = sql_beside(__file__, "passes.sql").format(column=column)
    tagged = [tag for tag, n in bucks.number.items() if bucks.ids[n] in buck_ids]
    given = [scope.first, scope.last, scope.reach_m, tagged]
    rows = session.con.execute(query, given).fetchall()
    minutes: dict[str, list[float]] = {}
    for buck, minute in rows:
        minutes.setdefault(buck, []).append(minute)
    return {buck: drawn_in(minutes.get(buck, []), USUAL[morning]) for buck in buck_ids}


def drawn_in(minutes: list[float], usual: Hours) -> Hours:
    """Mean and spread [min] of one's own minutes, drawn toward the usual (weight USUAL_WEIGHT)."""
    n = len(minutes)
    mean = (sum(minutes) + USUAL_WEIGHT * usual.mean) / (n + USUAL_WEIGHT)
    squares = sum((m - mean) ** 2 for m in minutes) + USUAL_WEIGHT * usual.spread**2
    return Hours(mean, (squares / (n + USUAL_WEIGHT)) ** 0.5)
