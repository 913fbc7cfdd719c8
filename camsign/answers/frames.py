"""Which frames are there: by camera, time, light, tagged or not, likely empty or not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from camsign.answers.result import local_of
from camsign.logbook.database import run_sql
from camsign.logbook.moments import aware, end_of, start_of, stored
from camsign.logbook.naming import known_camera, slip_of
from camsign.logbook.session import Session
from camsign.pixels.travel import heading_of
from camsign.stats.estimate import Estimate
from camsign.units import DayOrInstant


@dataclass(frozen=True, slots=True)
class FrameRow:
    """One frame. `clock_time`: what the camera showed, without offset, never altered.

    `utc`, `local`: the right time (None when the camera showed none); `basis`: which clock rule or
    correction it rests on; `doubt`: what speaks against it; `time_from`: where the clock time was
    read. Minutes are from that local day's sun.

    `empty_score`: 0..1, how likely nothing is there; above 0.5 it is `likely_empty` and set aside,
    or held for a look first (`look_first`), or was shown by an earlier check and stays shown.
    `cant_judge`: why it cannot be judged; it is not `compared` then and scores 0. The box, where it
    differs most from its camera's other frames, is in shares of the picture from the upper left.
    `detected`: animal, person, vehicle or nothing, by a detector of the user's own, with its score.
    flash, washed, fogged, blurred, veiled: 0..1, as docs/pixels.md explains.

    `estimated_way`: left or right in the picture; `estimated_travel_deg` [deg true]: what that
    means where the camera faces; its low and high lie anticlockwise and clockwise of it, 0..360.
    Suggestions for a tag, not tags. `small`: the pictures sent by radio that go with it, and that
    are not listed themselves.
    """

    frame: str
    file: str
    camera: str | None
    deployment: str | None
    clock_time: str | None
    utc: datetime | None
    local: datetime | None
    light: str | None
    empty_score: float | None
    likely_empty: bool | None
    look_first: bool | None
    cant_judge: str | None
    compared: bool
    burst: str | None
    basis: str | None
    doubt: str | None
    time_from: str | None
    minutes_from_sunrise: float | None
    minutes_from_sunset: float | None
    in_daylight: bool | None
    box_x: float | None
    box_y: float | None
    box_width: float | None
    box_height: float | None
    detected: str | None
    detected_score: float | None
    flash: float | None
    washed: float | None
    fogged: float | None
    blurred: float | None
    veiled: float | None
    estimated_way: str | None
    estimated_travel_deg: Estimate
    tags: str | None
    small: str | None


def unhung(session: Session, camera: str) -> list[tuple[str, int]]:
    """Give cameras that never hung whose names may be slips for this one, with their frames."""
    rows = session.con.execute(
        "SELECT camera, count(*) FROM frame_times WHERE camera IS NOT NULL AND camera NOT IN"
        " (SELECT camera FROM deployments WHERE gone IS NOT TRUE) GROUP BY ALL ORDER BY ALL"
    ).fetchall()
    return [(other, n) for other, n in rows if slip_of(other, [camera])]


@dataclass(frozen=True, slots=True)
class Wanted:
    """Which frames are wanted; None and False mean all.

    `likely`: only those set aside as empty, only those without a tag that are held for a look, or
    only the others, which are animals, people, vehicles, and what nothing can be said of.
    """

    camera: str | None = None
    start: DayOrInstant | None = None
    stop: DayOrInstant | None = None
    light: str | None = None
    untagged: bool = False
    doubtful: bool = False
    likely: Literal["empty", "look", "animal"] | None = None


def frames(session: Session, wanted: Wanted) -> list[FrameRow]:
    """List frames by camera and right time; `empty` or `animal` by burst, the surest of them first.

    So what is likely empty begins with what might yet be something.

    Raises:
        UsageError: no such camera, or an hour that spring leaves out.
    """
    tz = session.settings.tz
    given = {
        "camera": known_camera(session.con, wanted.camera) if wanted.camera else None,
        "start": stored(start_of(wanted.start, tz)) if wanted.start else None,
        "stop": stored(end_of(wanted.stop, tz)) if wanted.stop else None,
        "light": wanted.light,
        "untagged": wanted.untagged,
        "doubtful": wanted.doubtful,
        "likely": wanted.likely,
    }
    cursor = run_sql(session.con, __file__, "frames.sql", **given)
    names = [column[0] for column in cursor.description or ()]
    return [_row(dict(zip(names, row, strict=True))) for row in cursor.fetchall()]


def _row(cells: dict[str, Any]) -> FrameRow:
    utc, local, facing = cells["utc"], cells["local"], cells.pop("facing_deg")
    cells["utc"] = aware(utc) if utc else None
    cells["local"] = local_of(utc, local) if utc and local else None
    return FrameRow(**cells, estimated_travel_deg=_travel(cells["estimated_way"], facing))


def _travel(way: str | None, facing: float | None) -> Estimate:
    if way is None or facing is None:
        return Estimate(None, None, None)
    found = heading_of(way, facing)
    around = (found.travel_deg + turn for turn in (0.0, -found.spread_deg, found.spread_deg))
    return Estimate(*(round(deg % 360, 1) for deg in around))
