"""What a lake says of visits and of watch: one property's season after the other."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Literal

from camsign.answers.lake import Lake, Season
from camsign.answers.reach import Watching, run, watching_from
from camsign.answers.scope import season_days
from camsign.logbook import naming
from camsign.tags.links import groups

LakeBy = Literal["area", "camera", "property"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """What a question to a lake is about; None means all, of `reach_m` [m], `gap_s` [s] its own.

    `bucks`, `areas`: names or ids; a name means every one of that name, on whichever property.
    """

    properties: Sequence[str] | None = None
    seasons: Sequence[int] | None = None
    bucks: Sequence[str] | None = None
    areas: Sequence[str] | None = None
    reach_m: float | None = None
    gap_s: float | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """An area, a camera, or all cameras of a property, with its watch in one season."""

    id: str
    area: str | None
    watching: Watching


@dataclass(frozen=True, slots=True, eq=False)
class Looked:
    """A property's season: its spots, and a row of lake_visits.sql a buck and spot."""

    spots: tuple[Spot, ...]
    visits: tuple[dict[str, Any], ...]


def looked(lake: Lake, wanted: Wanted, by: LakeBy) -> Iterator[tuple[Season, Looked]]:
    """Read one property's season after the other.

    Raises:
        UsageError: the lake holds no such property, buck or area.
    """
    con = lake.con
    buck_ids = _with_linked(lake, _ids(lake, "bucks", "buck", wanted.bucks))
    areas = _ids(lake, "reach", "area", wanted.areas)
    for one in lake.seasons(wanted.properties, wanted.seasons):
        lake.look_at(one)
        bucks = dict(con.execute("SELECT buck_id, buck FROM lake_bucks").fetchall())
        start = con.execute(
            "SELECT season_start_month, season_start_day FROM lake_property"
        ).fetchone() or (7, 1)
        first = season_days(one.season, start)[0]
        run(con, "lake_nights.sql", by=by, reach=wanted.reach_m, areas=areas)
        run(con, "lake_visits.sql", buck_ids=buck_ids, gap=wanted.gap_s, first=first)
        names = [column[0] for column in con.description or ()]
        visits = tuple(dict(zip(names, row, strict=True)) for row in con.fetchall())
        for row in visits:
            row["buck"] = bucks[row["buck_id"]]
        yield one, Looked(tuple(_spots(lake)), visits)


def _ids(lake: Lake, table: str, kind: str, words: Sequence[str] | None) -> list[str] | None:
    """Give the ids that names or ids mean, of every property; None if none were named."""
    if words is None:
        return None
    every = f"SELECT DISTINCT {kind}_id, {kind} {lake.everywhere(table)}"
    rows = lake.con.execute(every).fetchall()
    known = {naming.key(word) for word in words}
    names = {naming.key(x) for row in rows for x in row}
    for word in words:
        if naming.key(word) not in names:
            naming.find(dict(rows), word, kind)
    return [own for own, name in rows if {naming.key(own), naming.key(name)} & known]


def _with_linked(lake: Lake, ids: list[str] | None) -> list[str] | None:
    """Add those bucks of other properties who are linked to them."""
    if ids is None:
        return None
    rows = lake.con.execute(
        f"SELECT p.property_id || '/' || b.buck_id, b.buck_id, b.linked"
        f" FROM ({lake.everywhere('bucks')}) b JOIN ({lake.everywhere('properties')}) p"
        " USING (property)"
    ).fetchall()
    same = groups({key: linked or () for key, _, linked in rows})
    keys = {other for key, own, _ in rows if own in ids for other in same.get(key, ())}
    return list(dict.fromkeys([*ids, *(own for key, own, _ in rows if key in keys)]))


def _spots(lake: Lake) -> Iterator[Spot]:
    spots = lake.con.execute(
        "SELECT spot, any_value(area), list(DISTINCT camera) FROM lake_spots GROUP BY spot"
        " ORDER BY 2, 1"
    ).fetchall()
    for spot, area, cameras in spots:
        rows = lake.con.execute(
            "SELECT * FROM lake_nights WHERE spot = ? ORDER BY night", [spot]
        ).fetchnumpy()
        yield Spot(spot, area, watching_from(rows, cameras))
