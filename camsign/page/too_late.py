"""Cameras noted as hung later than their first picture: mostly the day the form was filled in."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.page.rows import rows


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of hung_too_late.sql: `hung` UTC, `first` as the camera's clock showed it."""

    camera: str
    deployment: str
    hung: datetime
    first: datetime
    frames: int


def hung_too_late(session: Session, cameras: Sequence[str]) -> list[dict[str, Any]]:
    """Give each of these cameras whose pictures begin before it hung, with the day of the first."""
    tz = session.settings.tz
    return [
        {
            "camera": row.camera,
            "deployment": row.deployment,
            "hung": local(row.hung, tz).date().isoformat(),
            "first": row.first.date().isoformat(),
            "frames": row.frames,
        }
        for row in rows(session.con, "hung_too_late", _Row, cameras=list(cameras))
    ]
