"""Where was a buck pictured, hang by hang, and how long did each camera watch there?"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from camsign.answers.reach import AreaOrCamera, Reach, run, watching_of
from camsign.answers.scope import Scope
from camsign.logbook.session import Session
from camsign.units import counted


@dataclass(frozen=True, slots=True)
class Pictured:
    """A buck at one deployment: his sure visits, those in shooting light, the last one's local day,
    and the nights on which the camera watched and all its pictures are sorted."""

    deployment: str
    camera: str
    visits: int
    shooting_light: int
    last: date | None
    nights_watched: int

    def in_words(self) -> str:
        """Say it in a line; no picture in few nights is not "not there"."""
        nights = counted(self.nights_watched, "night")
        if self.visits:
            return f"{counted(self.visits, 'visit')}, {self.shooting_light} in light; {nights}"
        return f"no picture of him; {nights}" if self.nights_watched else "no night covered"


def pictured(session: Session, scope: Scope) -> tuple[Pictured, ...]:
    """Give where the scope's one buck was pictured and where not, a row a deployment.

    Args:
        scope: one buck and the days; its areas do not matter.
    """
    buck = (scope.buck_ids or ("",))[0]
    given = scope.sql() | {"buck": buck, "gap": scope.gap_s}
    rows = run(session.con, "pictured.sql", **given).fetchall()
    spots = tuple(AreaOrCamera(row[0], row[1]) for row in rows)
    ids, names = tuple(s.id for s in spots), tuple(s.name for s in spots)
    reach = Reach(spots, ids, names, tuple((i, i, None) for i in range(len(spots))))
    watched = zip(rows, watching_of(session, scope, reach), strict=True)
    return tuple(Pictured(*[*row, len(one.nights)]) for row, one in watched)
