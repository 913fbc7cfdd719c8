"""Fourth step: the sun's times at each place, for the days that are needed and no others."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any

from camsign.derive.script import run
from camsign.logbook.session import Session

# Days further apart than this are computed in separate runs.
_RUN = 30


def fill_sun_days(session: Session) -> None:
    """Bring `sun_days` up to date, by places rounded to 0.01° (a few seconds of sun)."""
    con = session.con
    lat, lon = (None if x is None else round(x, 2) for x in session.settings.home or (None, None))
    run(con, "sundays", tz=session.settings.tz, lat=lat, lon=lon)
    rows = con.execute("SELECT tz, lat, lon, day FROM needed_days ORDER BY ALL").fetchall()
    if not rows:
        return
    made = []
    for (tz, place_lat, place_lon), group in groupby(rows, key=itemgetter(0, 1, 2)):
        for days in _runs([row[3] for row in group]):
            made.append(_computed(tz, place_lat, place_lon, days))
    _insert(session, made)


def _runs(days: list[date]) -> list[list[date]]:
    runs: list[list[date]] = [[days[0]]]
    for day in days[1:]:
        if (day - runs[-1][-1]).days > _RUN:
            runs.append([])
        runs[-1].append(day)
    return runs


def _computed(tz: str, lat: float, lon: float, days: list[date]) -> dict[str, Any]:
    import numpy as np

    from camsign.sun import sun_days

    sun = sun_days(lat, lon, days[0], days[-1], tz)
    wanted = np.isin(sun.day, np.array(days, "datetime64[D]"))
    n = int(wanted.sum())
    return {
        "tz": np.full(n, tz, dtype=object),
        "lat": np.full(n, lat),
        "lon": np.full(n, lon),
        "day": sun.day[wanted].astype("datetime64[s]"),
        "sunrise": sun.sunrise[wanted],
        "sunset": sun.sunset[wanted],
        "civil_dawn": sun.civil_dawn[wanted],
        "civil_dusk": sun.civil_dusk[wanted],
        "up_from": sun.up_from[wanted],
        "up_until": sun.up_until[wanted],
    }


def _insert(session: Session, made: list[dict[str, Any]]) -> None:
    import numpy as np

    table = {name: np.concatenate([part[name] for part in made]) for name in made[0]}
    session.con.register("made_sun", table)
    session.con.execute("INSERT INTO sun_days BY NAME SELECT * FROM made_sun")
    session.con.unregister("made_sun")
