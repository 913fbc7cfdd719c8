"""What an audit needs of the logbook: deployments, cards, and the frames as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from datetime import datetime
from typing import Any

import numpy as np
import numpy.typing as npt

from camsign.arrays import Ints
from camsign.clock.stretches import Shots
from camsign.logbook.database import run_sql
from camsign.logbook.moments import aware
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session

# A clock half a day off still means this deployment.
AROUND_S = 36 * 3600.0
# A time so far behind the loading of its card is of no deployment; frame_times.sql doubts it too.
LOADED_S = 2 * 86400.0


@dataclass(frozen=True, slots=True)
class AuditInput:
    """Frames with the lists that number their cameras, cards and deployments.

    `taken_in`: when each card came in (UTC, aware).
    """

    shots: Shots
    cameras: list[str]
    cards: list[str]
    taken_in: list[datetime]
    deployments: list[Deployment]


def deployments(session: Session, camera: str | None = None) -> list[Deployment]:
    """Give the deployments that stand, of one camera or of all, each with its zone."""
    names = [f.name for f in fields(Deployment)]
    rows = session.con.execute(
        f"SELECT {', '.join(names)} FROM deployments WHERE gone IS NOT TRUE"
        " AND camera IS NOT NULL AND hung IS NOT NULL AND abs(lat) <= 90 AND abs(lon) <= 180"
        " AND ($camera IS NULL OR camera = $camera) ORDER BY camera, hung, deployment",
        {"camera": camera},
    ).fetchall()
    return [Deployment.of(row, session.settings.tz) for row in rows]


def read(session: Session, camera: str | None = None) -> AuditInput:
    """Read the frames of one camera, or of all, in file order."""
    cards = session.con.execute(
        "SELECT card, camera, taken_in_utc FROM cards_now"
        " WHERE $camera IS NULL OR camera = $camera ORDER BY camera, card",
        {"camera": camera},
    ).fetchall()
    hung = deployments(session, camera)
    cameras = sorted({row[1] for row in cards})
    got = fetch(session, cameras, [row[0] for row in cards], [d.deployment for d in hung])
    taken_in = [aware(row[2]) for row in cards]
    near = _near(got, cameras, hung)
    loaded = np.array([at.timestamp() for at in taken_in])
    near[got["read_s"] > loaded[got["card"]] + LOADED_S] = -1
    shots = Shots(near=near, **got)
    files = np.lexsort((shots.shown_s, shots.number, shots.folder, shots.card, shots.camera))
    return AuditInput(shots.some(files), cameras, [row[0] for row in cards], taken_in, hung)


def fetch(
    session: Session, cameras: Sequence[str], cards: Sequence[str], hung: Sequence[str]
) -> dict[str, npt.NDArray[Any]]:
    """Give the rows of shots.sql as plain arrays, NaN where there is nothing."""
    values = {"cameras": list(cameras), "cards": list(cards), "deployments": list(hung)}
    rows: dict[str, Any] = run_sql(session.con, __file__, "shots.sql", **values).fetchnumpy()
    for name in ("shown_s", "read_s", "brightness", "file_s"):
        rows[name] = np.ma.filled(np.ma.asarray(rows[name], dtype=float), np.nan)
    return {name: np.ma.getdata(column) for name, column in rows.items()}


def _near(
    got: dict[str, npt.NDArray[Any]], cameras: Sequence[str], hung: Sequence[Deployment]
) -> Ints:
    """The deployment whose time a reading falls into, or misses by a day and a half at most."""
    near = np.asarray(got["deployment"], dtype=np.int64).copy()
    lost = np.flatnonzero((near < 0) & np.isfinite(got["read_s"]))
    missed = np.full(len(lost), AROUND_S)
    for i, deployment in enumerate(hung):
        if deployment.camera not in cameras:
            continue
        at = got["read_s"][lost]
        stop = deployment.taken_down.timestamp() if deployment.taken_down else np.inf
        by = np.maximum(deployment.hung.timestamp() - at, at - stop)
        mine = got["camera"][lost] == cameras.index(deployment.camera)
        better = mine & (by < missed)
        near[lost[better]], missed[better] = i, by[better]
    return near
