"""First step: which deployments stand, and what hangs on something new."""

from __future__ import annotations

from camsign.derive.script import run, touched
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.zones import zone

# Two people's fixes of one tree, one from a handheld under the canopy and one from a map, lie up
# to this far apart (common practice, no source).
SAME_PLACE_M = 50.0


def find_current_deployments(session: Session) -> None:
    """Make the tables `current_deployments` and `new_cameras`, which last as long as the session.

    Raises:
        UsageError: logbook.toml names a time zone that does not exist.
    """
    zone(session.settings.tz)
    if touched(session.con, "camera"):
        run(session.con, "hangs", near=SAME_PLACE_M)
    rows = session.con.execute("SELECT DISTINCT tz FROM deployments WHERE tz IS NOT NULL")
    unknown = [tz for (tz,) in rows.fetchall() if not _known(tz)]
    run(session.con, "current_deployments", tz=session.settings.tz, unknown=unknown)


def _known(tz: str) -> bool:
    try:
        zone(tz)
    except UsageError:
        return False
    return True
