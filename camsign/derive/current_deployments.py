"""Which deployments stand, and what hangs on something new."""

from __future__ import annotations

from dataclasses import fields

from camsign.derive.script import run, touched, values_of
from camsign.errors import UsageError
from camsign.logbook.records import Deployment
from camsign.logbook.session import Session
from camsign.zones import zone


def find_current_deployments(session: Session) -> None:
    """Make the tables `current_deployments` and `new_cameras`, which last as long as the session.

    Raises:
        UsageError: logbook.toml names a time zone that does not exist.
    """
    con, values = session.con, values_of(session.settings)
    zone(session.settings.tz)
    if touched(con, "camera"):
        run(con, "hangs", **values)
    rows = con.execute("SELECT DISTINCT tz FROM deployments WHERE tz IS NOT NULL").fetchall()
    unknown = [tz for (tz,) in rows if not _known(tz)]
    run(con, "current_deployments", unknown=unknown, **values)


def _known(tz: str) -> bool:
    try:
        zone(tz)
    except UsageError:
        return False
    return True


def new_deployments(session: Session) -> list[Deployment]:
    """Give the standing deployments of the new cameras, each with its zone filled in."""
    names = ", ".join(f.name for f in fields(Deployment))
    rows = session.con.execute(
        f"SELECT {names} FROM current_deployments JOIN new_cameras USING (camera)"
        " ORDER BY deployment"
    ).fetchall()
    return [Deployment.of(row, session.settings.tz) for row in rows]
