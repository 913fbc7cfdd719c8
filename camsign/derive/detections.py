"""Ninth step: tags in frames that have a place and a time."""

from __future__ import annotations

from camsign.derive.script import run
from camsign.logbook.session import Session


def fill_detections(session: Session) -> None:
    """Bring `detections` up to date with the frames and cameras that are new."""
    run(session.con, "detections")
