"""Which cameras speak for which area, and how long they watched.

Every answer goes this way first: distances and watch are small, detections are many, so that only
those at the deployments in reach are ever looked at.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from camsign.answers.shape import Watch

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.logbook.session import Session

By = Literal["area", "camera"]


@dataclass(frozen=True, slots=True)
class Reach:
    """The spots of a question (areas or cameras, by id with name) and who speaks for them.

    `spots`, `deployments`, `cameras`, `distances` [m, from the area's edge, None without areas] are
    equally long, one element a spot and deployment.
    """

    names: dict[str, str]
    spots: tuple[str, ...]
    deployments: tuple[str, ...]
    cameras: tuple[str, ...]
    distances: tuple[float | None, ...]

    def sql(self) -> dict[str, Any]:
        """Give the parameters of the SQL files that look at detections."""
        return {
            "spots": list(self.spots),
            "deployments": list(self.deployments),
            "distances": list(self.distances),
        }


@cache
def sql_text(name: str) -> str:
    """Give the text of one of this room's SQL files."""
    return Path(__file__).with_name(name).read_text(encoding="utf-8")


def reach_of(session: Session, scope: Scope, by: By = "area") -> Reach:
    """Give the spots of a scope with the deployments that speak for each, sorted by name."""
    given = {"areas": scope.sql()["areas"], "reach": scope.reach_m, "by": by}
    rows = session.con.execute(sql_text("reached.sql"), given).fetchall()
    names = {spot: name for spot, name, *_ in rows}
    there = [(row[0], *row[2:]) for row in rows if row[2] is not None]
    columns = zip(*there, strict=True) if there else ((), (), (), ())
    return Reach(names, *(tuple(column) for column in columns))


def watch_of(session: Session, scope: Scope, reach: Reach) -> dict[str, Watch]:
    """Give the watch of every spot within the scope's days; a night two cameras share is one."""
    given = {k: v for k, v in reach.sql().items() if k != "distances"}
    rows = session.con.execute(
        sql_text("watched.sql"), given | {"first": scope.first, "last": scope.last}
    ).fetchall()
    found = {spot: rest for spot, *rest in rows}
    cameras: dict[str, set[str]] = {spot: set() for spot in reach.names}
    for spot, camera in zip(reach.spots, reach.cameras, strict=True):
        cameras[spot].add(camera)
    return {
        spot: Watch(tuple(sorted(cameras[spot])), *found.get(spot, (0, 0, None, None)))
        for spot in reach.names
    }
