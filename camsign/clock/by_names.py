"""Clocks of which nobody said whether they follow daylight saving, though an hour hangs on it."""

from __future__ import annotations

from camsign.clock.rules import BY_NAMES
from camsign.logbook.database import run_sql
from camsign.logbook.naming import camera_as_known
from camsign.logbook.records import offset_text
from camsign.logbook.session import Session


def open_hours(session: Session, camera: str | None = None) -> dict[str, str]:
    """Give a line for each deployment (of one camera, or of all) whose pictures have their times
    only from file names, where an hour hangs on its clock rule: how it is read, what changes it."""
    name = camera_as_known(session.con, camera) if camera else None
    given = {"camera": name, "tz": session.settings.tz, "by_names": BY_NAMES}
    rows = run_sql(session.con, __file__, "by_names.sql", **given).fetchall()
    return {deployment: _words(deployment, *about) for deployment, *about in rows}


def _words(deployment: str, camera: str, offset: int, switched: bool, frames: int) -> str:
    say = f"camsign hang correct {deployment} --clock"
    now = (
        "switches by itself, as a cell camera's does"
        if switched
        else "never switches, as most card cameras' don't"
    )
    return (
        f"{camera}: only file names give its times, and the hour of {frames:,} of them depends on"
        f" daylight saving; we read them as if its clock {now}. If it switches: {say} local."
        f" If it never does: {say} {offset_text(offset // 60)}"
    )
