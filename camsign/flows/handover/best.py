"""Which pictures of a buck are his best."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from camsign.formats.kinds import CLIPS
from camsign.logbook.database import sql_beside
from camsign.logbook.session import Session


@dataclass(frozen=True, slots=True)
class Best:
    """A picture of a buck: its frame, local wall-clock time, camera, and file in the logbook."""

    frame: str
    local: datetime
    camera: str
    file: str


def best_pictures(session: Session, buck_id: str, most: int) -> list[Best]:
    """Give a buck's best pictures: those chosen to know him by first, then by day and sharpness."""
    clips = ", ".join(f"'{kind.value}'" for kind in sorted(CLIPS))
    sql = sql_beside(__file__, "best_pictures.sql").replace("$clips", clips)
    rows = session.con.execute(sql, {"buck": buck_id, "most": most}).fetchall()
    return [Best(*row) for row in rows]
