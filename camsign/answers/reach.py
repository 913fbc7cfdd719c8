"""Which cameras speak for which area, and how long they watched.

Every answer goes this way first: distances and watch are small, detections are many, so that only
those at the deployments in reach are ever looked at.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, Literal

import numpy as np

from camsign.answers.result import Watch
from camsign.answers.scope import Scope
from camsign.arrays import Times
from camsign.logbook.database import run_sql
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
    cameras that hung there in the days asked for; `no_card`: those of whose
    time there no card is loaded; `doubtful`: those with more nights left out because the times of
    their pictures are in doubt than others.
    """

    nights: Times
    days: Times
    cameras: tuple[str, ...]
    unsorted: Times
    set_aside: Times
    hung: tuple[str, ...] = ()
    no_card: tuple[str, ...] = ()
    doubtful: tuple[str, ...] = ()

    def within(self, first: date, last: date) -> Watching:
        """Give the watch from one local day to another, both within."""
        a, b = np.datetime64(first), np.datetime64(last)
        nights, days, unsorted, set_aside = (
            x[(x >= a) & (x <= b)] for x in (self.nights, self.days, self.unsorted, self.set_aside)
        )
        return replace(self, nights=nights, days=days, unsorted=unsorted, set_aside=set_aside)

    def until(self, last: date | None) -> Watching:
        """Give the watch up to a local day, all of it without one."""
        return self if last is None else self.within(date.min, last)

    def summary(self) -> Watch:
        """Give the counts."""
        first, last = self.nights[[0, -1]].tolist() if len(self.nights) else (None, None)
        counts = len(self.unsorted), len(self.set_aside)
        hung = None if len(self.nights) else self.hung
        told = hung, self.no_card or None, self.doubtful or None
        days = len(self.days)
        return Watch(self.cameras, len(self.nights), days, first, last, *counts, *told)


def reach_of(session: Session, scope: Scope, by: By = "area") -> Reach:
    """Give the spots of a scope with the deployments that speak for each."""
    name = "reached.sql" if by == "area" else "reached_cameras.sql"
    rows = run_sql(session.con, __file__, name, **scope.sql()).fetchall()
    names = {spot: name for spot, name, *_ in rows}
    spots = {spot: i for i, spot in enumerate(names)}
    cameras = {deployment: camera for _, _, deployment, camera, _ in rows if deployment}
    number = {deployment: i for i, deployment in enumerate(cameras)}
    return Reach(
        tuple(AreaOrCamera(spot, name) for spot, name in names.items()),
        tuple(cameras),
        tuple(cameras.values()),
        tuple((spots[s], number[d], distance) for s, _, d, _, distance in rows if d),
    )


def by_deployment(reach: Reach) -> Reach:
    """Give the same deployments, each a spot of its own: a camera may hang at two in a season."""
    names = zip(reach.deployments, reach.cameras, strict=True)
    pairs = tuple((i, i, None) for i in range(len(reach.deployments)))
    return replace(reach, spots=tuple(AreaOrCamera(*one) for one in names), pairs=pairs)


def watching_of(session: Session, scope: Scope, reach: Reach) -> tuple[Watching, ...]:
    """Give the watch of every spot within the scope's days, in the order of the spots.

    A night that two cameras share is one; it waits to be sorted if pictures of either do.
    """
    spots = [spot for spot, _, _ in reach.pairs]
    deployments = [reach.deployments[at] for _, at, _ in reach.pairs]
    given = scope.sql() | {"spots": spots, "deployments": deployments}
    rows = run_sql(session.con, __file__, "watched.sql", **given).fetchnumpy()
    hung = run_sql(session.con, __file__, "hung_within.sql", **given).fetchall()
    up = {at for at, _, _ in hung}
    no_card, doubtful = ({one[0] for one in hung if one[i]} for i in (1, 2))
    edges = np.searchsorted(rows["spot"], np.arange(len(reach.spots) + 1))
    found = []
    for i in range(len(reach.spots)):
        here = [at for spot, at, _ in reach.pairs if spot == i]
        night_by_night = {name: x[edges[i] : edges[i + 1]] for name, x in rows.items()}
        found.append(
            watching_from(
                night_by_night,
                (reach.cameras[at] for at in here),
                *(
                    [reach.cameras[at] for at in here if reach.deployments[at] in which]
                    for which in (up, no_card, doubtful)
                ),
            )
        )
    return tuple(found)


def watch_by_name(reach: Reach, watching: Iterable[Watching]) -> dict[str, Watch]:
    """Give the counts of each spot by its name."""
    return {spot.name: one.summary() for spot, one in zip(reach.spots, watching, strict=True)}


def watch_of(session: Session, scope: Scope, by: By = "area") -> dict[str, Watch]:
    """Give the watch of every spot of a scope by its name, without looking at any picture."""
    reach = reach_of(session, scope, by)
    return watch_by_name(reach, watching_of(session, scope, reach))


def watching_from(
    rows: Mapping[str, Any],
    cameras: Iterable[str],
    hung: Iterable[str] = (),
    no_card: Iterable[str] = (),
    doubtful: Iterable[str] = (),
) -> Watching:
    """Make the watch of one spot from its rows of watched.sql, by night."""
    night = rows["night"].astype("datetime64[D]")
    watched, waits = rows["watched"], rows["unsorted"]
    return Watching(
        night[watched & ~waits],
        night[rows["day_watched"] & ~rows["day_unsorted"]],
        tuple(sorted(set(cameras))),
        night[watched & waits],
        night[watched & ~waits & rows["set_aside"]],
        tuple(sorted(set(hung))),
        tuple(sorted(set(no_card))),
        tuple(sorted(set(doubtful))),
    )
