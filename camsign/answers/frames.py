"""Which frames are there: by camera, time, light, tagged or not, with each step of their time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import TYPE_CHECKING

from camsign.answers.shape import local_of
from camsign.logbook.database import sql_beside
from camsign.logbook.moments import aware, end_of, start_of, stored
from camsign.logbook.naming import camera_as_known

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.units import When


@dataclass(frozen=True, slots=True)
class FrameRow:
    """One frame. `clock_time`: what the camera showed, without offset, never altered.

    `utc`, `local`: the right time (None when the camera showed none); `basis`: which clock rule or
    correction it rests on; `doubt`: what speaks against it. Minutes are from that local day's sun.
    """

    frame: str
    file: str
    camera: str | None
    deployment: str | None
    clock_time: str | None
    utc: datetime | None
    local: datetime | None
    light: str | None
    burst: str | None
    basis: str | None
    doubt: str | None
    minutes_from_sunrise: float | None
    minutes_from_sunset: float | None
    in_daylight: bool | None
    tags: str | None


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which frames are wanted; None and False mean all."""

    camera: str | None = None
    start: When | None = None
    stop: When | None = None
    light: str | None = None
    untagged: bool = False
    doubtful: bool = False


def frames(session: Session, wanted: Wanted) -> list[FrameRow]:
    """List frames by camera and right time.

    Raises:
        UsageError: an hour that spring leaves out.
    """
    tz = session.settings.tz
    given = {
        "camera": camera_as_known(session.con, wanted.camera) if wanted.camera else None,
        "start": stored(start_of(wanted.start, tz)) if wanted.start else None,
        "stop": stored(end_of(wanted.stop, tz)) if wanted.stop else None,
        "light": wanted.light,
        "untagged": wanted.untagged,
        "doubtful": wanted.doubtful,
    }
    sql = sql_beside(__file__, "frames.sql")
    return [_row(*row) for row in session.con.execute(sql, given).fetchall()]


def _row(
    frame: str,
    file: str,
    camera: str | None,
    deployment: str | None,
    clock_time: str | None,
    utc: datetime | None,
    local: datetime | None,
    *rest: object,
) -> FrameRow:
    instant = aware(utc) if utc else None
    there = local_of(utc, local) if utc and local else None
    return FrameRow(frame, file, camera, deployment, clock_time, instant, there, *rest)  # type: ignore[arg-type]
