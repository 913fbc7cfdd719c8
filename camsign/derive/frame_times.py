"""Third and fifth step: each frame gets its deployment, UTC, local time and burst."""

from __future__ import annotations

from datetime import timedelta

from camsign.derive.script import run
from camsign.formats.shown import EARLIEST_LIKELY_YEAR
from camsign.logbook.session import Session

EDITORS = "adobe|photoshop|lightroom|gimp|paint|picasa|photos|snapseed|magick|darktable|digikam"
"""Software that saves pictures anew, and DateTime with them; names from memory."""


def time_frames(session: Session) -> None:
    """Make `timed`: the new cameras' frames with deployment, UTC and place."""
    lat, lon = (None if x is None else round(x, 2) for x in session.settings.home or (None, None))
    run(session.con, "timed", tz=session.settings.tz, lat=lat, lon=lon)


def fill_frame_times(session: Session) -> None:
    """Put the frames of `timed` into `frame_times`, with sun and bursts."""
    settings = session.settings
    light = {
        "before": timedelta(minutes=settings.light_before_min),
        "after": timedelta(minutes=settings.light_after_min),
    }
    given = {"gap": settings.burst_gap_s, "earliest": EARLIEST_LIKELY_YEAR, **light}
    run(session.con, "frame_times", editors=EDITORS, **given)
