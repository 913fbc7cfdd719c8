"""Last step: what was said twice or cannot all be so, so that it can be told and settled."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

from camsign.errors import CamsignError, quoted
from camsign.geo import distance_bearing
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.places.shapes import center_and_size

_NEAR, _ALIKE = 0.5, 2.0
"""Two drawings are of one place if their middles lie closer than this share of the smaller one's
radius, and the larger radius is at most so many times the smaller. Common practice, no source."""


def find_conflicts(session: Session) -> None:
    """Bring the table `conflicts` up to date."""
    sql = "SELECT DISTINCT kind FROM touched"
    new = {kind for (kind,) in session.con.execute(sql).fetchall()}
    if new & {"frame", "buck"}:
        run_sql(session.con, __file__, "two_names.sql")
    if "camera" in new:
        run_sql(session.con, __file__, "cards_in_turns.sql")
    if not new & {"camera", "area", "buck"}:
        return
    run_sql(session.con, __file__, "conflicts.sql")
    for one, other in _drawn_twice(session):
        told = (
            f"{one.name} ({one.area}) and {other.name} ({other.area}) are drawn over one another,"
            " on two machines or by two people"
        )
        row = ["one area twice", [one.area, other.area], told, drawn_remedy(other), 0]
        session.con.execute("INSERT INTO conflicts VALUES (?, ?, ?, ?, ?)", row)


def drawn_remedy(other: Drawn) -> str:
    """What settles an area that was drawn over another one."""
    return (
        f"if they are one: camsign area remove {other.area}; if not, say its name again:"
        f" camsign area rename {other.area} {quoted(other.name)}"
    )


@dataclass(frozen=True, slots=True)
class Drawn:
    """An area as somebody drew it: its middle [deg], its radius [m], by whom; stamps of words."""

    area: str
    name: str
    kind: str
    lat: float
    lon: float
    radius_m: float
    writer: str
    drawn: str
    named: str


def _drawn_twice(session: Session) -> Iterator[tuple[Drawn, Drawn]]:
    """Two areas of one kind in one place, by two people; a name said later parts them."""
    for one, other in itertools.combinations(_drawn(session), 2):
        if one.kind != other.kind or one.writer == other.writer:
            continue
        if one.name.lower() == other.name.lower():
            continue  # told as two of one name
        if max(one.named, other.named) > max(one.drawn, other.drawn):
            continue
        small, large = sorted((one.radius_m, other.radius_m))
        apart = float(distance_bearing(one.lat, one.lon, other.lat, other.lon)[0])
        if small > 0 and large <= _ALIKE * small and apart < _NEAR * small:
            yield one, other


def _drawn(session: Session) -> list[Drawn]:
    rows = session.con.execute(
        "SELECT a.area, coalesce(a.name, a.area), a.kind, a.shape,"
        " arg_min(c.writer, e.stamp) FILTER (e.field = 'shape'),"
        " min(e.stamp) FILTER (e.field = 'shape'), max(e.stamp) FILTER (e.field = 'name')"
        " FROM areas a JOIN field_edits e ON e.thing = 'area' AND e.id = a.area"
        " JOIN acts c ON c.act = e.act AND NOT c.undone"
        " WHERE a.gone IS NOT TRUE AND a.shape IS NOT NULL GROUP BY ALL ORDER BY a.area"
    ).fetchall()
    found = []
    for area, name, kind, shape, writer, drawn, said in rows:
        try:
            lat, lon, radius, _ = center_and_size(shape)
        except (CamsignError, ValueError, TypeError, LookupError):
            continue
        found.append(Drawn(area, name, kind or "", lat, lon, radius, writer, drawn, said or ""))
    return found
