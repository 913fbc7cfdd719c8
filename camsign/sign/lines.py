"""Rub lines: where a buck comes from and where he goes, with how sure the direction is."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from camsign.formats.gpx import Track, TrackPoint
from camsign.geo import Area, distance_to_area
from camsign.logbook.session import Session
from camsign.logbook.shapes import to_area
from camsign.stats.circular import directions
from camsign.stats.estimate import Estimate

if TYPE_CHECKING:
    from camsign.arrays import Floats
    from camsign.sign.chains import Chain
    from camsign.sign.origin_likelihood import Rubs
    from camsign.sign.plane import Plane


# How far a line is carried on beyond its ends, and by how many of its last rubs [m].
EXTEND_M = 300.0
_END_RUBS = 3
# A line that chance gives more often than this is not told unless asked for.
SURE = 0.05
# What a line is called as a track.
LINE_NAME = re.compile(r"L\d+ going \d+ \(\d+ rubs\)")

Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class LineRow:
    """A line of rubs in order of travel. Places are latitude, longitude [deg, WGS 84].

    `heading_deg`: circular mean of the travels, those against the line turned round, with its 95%
    interval [deg true]; `r` their mean resultant length; `p` Rayleigh's test on the axis, which
    flatters, since rubs were chained because they agree. `by_chance` does not: how often the same
    places with travels drawn at random have a line of so many rubs, of 20 with this one. `against`:
    how many point the other way. `came_from`, `goes_to`: the ends carried on by 300 m. `points`:
    the rubs.
    """

    line: str
    rubs: int
    heading_deg: Estimate
    r: float | None
    p: float | None
    by_chance: float
    against: int
    length_m: float
    came_from: tuple[float, float]
    start: tuple[float, float]
    end: tuple[float, float]
    goes_to: tuple[float, float]
    signs: tuple[str, ...]
    points: tuple[Place, ...]
    by_name: str | None = None


@dataclass(frozen=True, slots=True)
class RubTable:
    """Rubs with a bearing, a row a sign: its latest look that has one. Travel in degrees true."""

    sign: list[str]
    lat: Floats
    lon: Floats
    travel_deg: Floats


def rub_table(session: Session, season: int | None = None) -> RubTable:
    """Give the rubs with a bearing, of all seasons or those made in one."""
    import numpy as np

    rows = session.con.execute(
        """SELECT sign, lat, lon, travel_deg FROM made_windows
        WHERE kind = 'rub' AND travel_deg IS NOT NULL AND ($season IS NULL OR season = $season)
        QUALIFY row_number() OVER (PARTITION BY sign ORDER BY seen_on DESC, sighting) = 1
        ORDER BY lat, lon, travel_deg, sign""",
        {"season": season},
    ).fetchall()
    sign, *numbers = zip(*rows, strict=True) if rows else ((), (), (), ())
    lat, lon, travel = (np.array(column, dtype=float) for column in numbers)
    return RubTable(list(sign), lat, lon, travel)


def sign_lines(
    session: Session, season: int | None = None, doubtful: bool = False
) -> list[LineRow]:
    """Give the rub lines, the longest first, of all seasons or of one.

    `doubtful`: those too that chance would give more often than once in twenty.
    """
    found = lines_of(rub_table(session, season))
    areas = [
        (name, to_area(shape))
        for name, shape in session.con.execute("SELECT name, shape FROM areas_now").fetchall()
        if shape
    ]
    near = session.settings.reach_m
    told = (line for line in found if doubtful or line.by_chance <= SURE)
    return [replace(line, by_name=_by_name(line, areas, near)) for line in told]


def _by_name(line: LineRow, areas: Sequence[tuple[str, Area]], near_m: float) -> str | None:
    """Say by the names of areas within reach of its ends where a line comes from and goes to."""
    start, end = (_nearest(at, areas, near_m) for at in (line.came_from, line.goes_to))
    if start == end:
        return None
    words = (f"from {start}" if start else "", f"toward {end}" if end else "")
    return " ".join(word for word in words if word)


def _nearest(at: Place, areas: Sequence[tuple[str, Area]], near_m: float) -> str | None:
    far = [(float(distance_to_area(area, at[0], at[1])), name) for name, area in areas]
    distance, name = min(far, default=(near_m + 1, ""))
    return name if distance <= near_m else None


def rubs_by_stretch(table: RubTable) -> Iterator[tuple[Rubs, list[str], Plane]]:
    """Give the rubs of each stretch of land on a plane of its own, with their ids."""
    import numpy as np

    from camsign.sign.origin_likelihood import Rubs
    from camsign.sign.plane import stretches

    for members, plane in stretches(table.lat, table.lon):
        east, north = plane.to_meters(table.lat[members], table.lon[members])
        rubs = Rubs(east, north, np.radians(table.travel_deg[members]))
        yield rubs, [table.sign[i] for i in members], plane


def lines_of(table: RubTable) -> list[LineRow]:
    """Chain the rubs of a table into lines."""
    from camsign.sign.chains import DEALS, chains, longest_by_chance

    found = []
    for rubs, names, plane in rubs_by_stretch(table):
        longest = longest_by_chance(rubs)
        for chain in chains(rubs):
            often = 1 + sum(n >= len(chain.rubs) for n in longest)
            row = _row(chain, rubs, names, plane)
            found.append(replace(row, by_chance=often / (1 + DEALS)))
    found.sort(key=lambda line: (-line.rubs, line.signs))
    return [replace(line, line=f"L{n}") for n, line in enumerate(found, 1)]


def line_tracks(lines: list[LineRow]) -> list[Track]:
    """Give each line as a track to walk: from where he came, along his rubs, to where he goes.

    It has no times, and `LINE_NAME` tells it from a path that somebody walked.
    """
    return [
        Track(
            f"{line.line} going {line.heading_deg.value:.0f} ({line.rubs} rubs)",
            (tuple(TrackPoint(*p) for p in (line.came_from, *line.points, line.goes_to)),),
        )
        for line in lines
    ]


def _row(chain: Chain, rubs: Rubs, names: list[str], plane: Plane) -> LineRow:
    import numpy as np

    order = np.array(chain.rubs)
    turned = np.where(chain.agrees, 0.0, np.pi)
    travel = np.degrees(rubs.travel[order] + turned)
    east, north = rubs.east[order], rubs.north[order]
    heading = directions(travel)
    return LineRow(
        line="",
        rubs=len(order),
        heading_deg=heading.mean_deg,
        r=heading.r,
        p=directions(travel, axial=True).p,
        by_chance=1.0,
        against=len(order) - sum(chain.agrees),
        length_m=float(np.hypot(np.diff(east), np.diff(north)).sum()),
        came_from=_beyond(east, north, travel, plane, first=True),
        start=plane.to_degrees(east[0], north[0]),
        end=plane.to_degrees(east[-1], north[-1]),
        goes_to=_beyond(east, north, travel, plane, first=False),
        signs=tuple(names[i] for i in order),
        points=tuple(plane.to_degrees(x, y) for x, y in zip(east, north, strict=True)),
    )


def _beyond(east: Floats, north: Floats, travel: Floats, plane: Plane, first: bool) -> Place:
    """Carry a line on beyond its first or last rub, as the rubs at that end point."""
    import numpy as np

    end = slice(0, _END_RUBS) if first else slice(-_END_RUBS, None)
    way = np.radians(directions(travel[end]).mean_deg.value or 0.0)
    far = -EXTEND_M if first else EXTEND_M
    at = 0 if first else -1
    return plane.to_degrees(east[at] + far * np.sin(way), north[at] + far * np.cos(way))
