"""Which cameras speak for which area, and how long they watched.

Every answer goes this way first: distances and watch are small, detections are many, so that only
those at the deployments in reach are ever looked at.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import TYPE_CHECKING, Any, Literal

from camsign.answers.result import Watch
from camsign.logbook.database import sql_beside

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.arrays import Times
    from camsign.logbook.session import Session

By = Literal["area", "camera"]


@dataclass(frozen=True, slots=True)
class AreaOrCamera:
    """An area or a camera that a question is about, by id and name."""

    id: str
    name: str


@dataclass(frozen=True, slots=True)
class Reach:
    """The spots of a question, by name, and who speaks for them.

    `deployments` are all in reach of any, with their `cameras`. `pairs`: (number of the spot,
    number of the deployment, distance [m] from the area's edge or None without areas).
    """

    spots: tuple[AreaOrCamera, ...]
    deployments: tuple[str, ...]
    cameras: tuple[str, ...]
    pairs: tuple[tuple[int, int, float | None], ...]


@dataclass(frozen=True, slots=True, eq=False)
class Watching:
    """The nights (datetime64[D], rising) on which a spot was watched, and its days watched.

    Nights and days with pictures that nobody has sorted are in neither: what is in those pictures
    is not known. `unsorted`: nights that cameras watched, left out for that; `set_aside`: nights
    watched of which pictures were set aside as likely empty and nobody looked at them; `hung`: the
    cameras that hung there in the days asked for.
    """

    nights: Times
    days: Times
    cameras: tuple[str, ...]
    unsorted: Times
    set_aside: Times
    hung: tuple[str, ...] = ()

    def within(self, first: date, last: date) -> Watching:
        """Give the watch from one local day to another, both within."""
        import numpy as np

        a, b = np.datetime64(first), np.datetime64(last)
        kept = (
            x[(x >= a) & (x <= b)] for x in (self.nights, self.days, self.unsorted, self.set_aside)
        )
        nights, days, unsorted, set_aside = kept
        return Watching(nights, days, self.cameras, unsorted, set_aside, self.hung)

    def summary(self) -> Watch:
        """Give the counts."""
        first, last = (
            (self.nights[0].item(), self.nights[-1].item())
            if len(self.nights)
            else (
                None,
                None,
            )
        )
        counts = len(self.unsorted), len(self.set_aside)
        hung = None if len(self.nights) else self.hung
        return Watch(self.cameras, len(self.nights), len(self.days), first, last, *counts, hung)


def only(reach: Reach, spot: int) -> Reach:
    """Give the part of a reach that speaks for one of its spots; deployments keep their numbers."""
    pairs = tuple((0, at, meters) for s, at, meters in reach.pairs if s == spot)
    return Reach((reach.spots[spot],), reach.deployments, reach.cameras, pairs)


def sql_text(name: str) -> str:
    """Give the text of one of this room's SQL files."""
    return sql_beside(__file__, name)


def columns_of(session: Session, name: str, given: Mapping[str, Any]) -> dict[str, Any]:
    """Run one of this room's SQL files and give its columns as numpy arrays."""
    columns: dict[str, Any] = session.con.execute(sql_text(name), given).fetchnumpy()
    return columns


def reach_of(session: Session, scope: Scope, by: By = "area") -> Reach:
    """Give the spots of a scope with the deployments that speak for each."""
    given = {"areas": scope.sql()["areas"], "reach": scope.reach_m}
    name = "reached.sql" if by == "area" else "reached_cameras.sql"
    rows = session.con.execute(sql_text(name), given).fetchall()
    spots = {spot: i for i, spot in enumerate(dict.fromkeys(row[0] for row in rows))}
    names = {spot: name for spot, name, *_ in rows}
    cameras = {deployment: camera for _, _, deployment, camera, _ in rows if deployment}
    number = {deployment: i for i, deployment in enumerate(cameras)}
    return Reach(
        tuple(AreaOrCamera(spot, names[spot]) for spot in spots),
        tuple(cameras),
        tuple(cameras.values()),
        tuple((spots[s], number[d], distance) for s, _, d, _, distance in rows if d),
    )


def watching_of(session: Session, scope: Scope, reach: Reach) -> tuple[Watching, ...]:
    """Give the watch of every spot within the scope's days, in the order of the spots.

    A night that two cameras share is one; it waits to be sorted if pictures of either do.
    """
    import numpy as np

    given = {
        "spots": [spot for spot, _, _ in reach.pairs],
        "deployments": [reach.deployments[i] for _, i, _ in reach.pairs],
        "first": scope.first,
        "last": scope.last,
    }
    rows = columns_of(session, "watched.sql", given)
    cameras: list[set[str]] = [set() for _ in reach.spots]
    for spot, deployment, _ in reach.pairs:
        cameras[spot].add(reach.cameras[deployment])
    asked = {name: given[name] for name in ("deployments", "first", "last")}
    hung = {row[0] for row in session.con.execute(sql_text("hung_within.sql"), asked).fetchall()}
    hanging: list[set[str]] = [set() for _ in reach.spots]
    for spot, deployment, _ in reach.pairs:
        if reach.deployments[deployment] in hung:
            hanging[spot].add(reach.cameras[deployment])
    edges = np.searchsorted(rows["spot"], np.arange(len(reach.spots) + 1))
    found = []
    for i, names in enumerate(cameras):
        part = slice(edges[i], edges[i + 1])
        one = watching_from({name: column[part] for name, column in rows.items()}, names)
        found.append(replace(one, hung=tuple(sorted(hanging[i]))))
    return tuple(found)


def watching_from(rows: Mapping[str, Any], cameras: set[str]) -> Watching:
    """Make the watch of one spot from its rows of watched.sql, by night."""
    night = rows["night"].astype("datetime64[D]")
    watched, waits = rows["watched"], rows["unsorted"]
    return Watching(
        night[watched & ~waits],
        night[rows["day_watched"] & ~rows["day_unsorted"]],
        tuple(sorted(cameras)),
        night[watched & waits],
        night[watched & ~waits & rows["set_aside"]],
    )
