"""The ends of every buck's days at one area, as `bedding`, `rivals` and `compare` need them."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from camsign.answers.ends import WINDOW_MIN, Ends, Far, Looks, ends_of, headings_to, looks_of
from camsign.answers.reach import columns_of
from camsign.errors import UsageError
from camsign.geo import Area, area_centre
from camsign.logbook.shapes import to_area
from camsign.units import format_length

if TYPE_CHECKING:
    from camsign.answers.reach import Reach, Watching
    from camsign.answers.scope import Scope
    from camsign.answers.seen import Bucks, Seen
    from camsign.logbook.session import Session

APART_M = 800.0


def shape_of(session: Session, area_id: str) -> Area:
    """Give the shape of an area that stands."""
    row = session.con.execute("SELECT shape FROM areas_now WHERE area_id = ?", [area_id]).fetchone()
    return to_area(row[0] if row else "")


def ends_here(
    session: Session,
    scope: Scope,
    reach: Reach,
    watching: Watching,
    bucks: Bucks,
    seen: Seen,
    area: Area,
    apart_m: float = APART_M,
) -> tuple[Looks, Callable[[int], Ends]]:
    """Give the detections at the one area of a reach, and a function from a buck to his ends.

    Raises:
        UsageError: `apart_m` [m] beyond the kept distances.
    """
    headings = headings_to(session, reach, area_centre(area))
    looks = looks_of(seen, reach, headings, watching)
    far = _far(session, scope, reach.spots[0].id, bucks, looks, apart_m)
    return looks, lambda buck: ends_of(looks, buck, far(buck))


def _far(
    session: Session, scope: Scope, area_id: str, bucks: Bucks, looks: Looks, apart_m: float
) -> Callable[[int], Far]:
    """Give a function from a buck to the days on which he was far off."""
    limit = session.settings.pair_limit_m
    if not 0 <= apart_m <= limit:
        far, most = (format_length(m, session.settings.units) for m in (apart_m, limit))
        raise UsageError(f"a distance of {far} is not between 0 and {most}")
    near = session.con.execute(
        "SELECT deployment FROM area_pairs WHERE area = ? AND distance_m <= ?", [area_id, apart_m]
    ).fetchall()
    here = set(looks.buck.tolist())
    wanted = {tag: code for tag, code in bucks.number.items() if code in here}
    given = {
        "near": [deployment for (deployment,) in near],
        "tagged": list(wanted),
        "codes": list(wanted.values()),
        "first": scope.first,
        "last": scope.last,
        "window": WINDOW_MIN,
    }
    rows = columns_of(session, "elsewhere.sql", given)
    day = looks.calendar.at(rows["day"].astype("datetime64[D]"))
    full = rows["full_day"].astype(bool)
    mark = looks.calendar.mark

    def of(buck: int) -> Far:
        his = rows["buck"] == buck
        return Far(mark(day[his]), mark(day[his & full]))

    return of
