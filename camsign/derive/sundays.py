"""The sun's times at each place, for the days that are needed and no others."""

from __future__ import annotations

from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any

from camsign.derive.script import insert_arrays, values_of
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session

# Days further apart than this are computed in separate runs.
_RUN = 30
_TIMES = ("sunrise", "sunset", "civil_dawn", "civil_dusk", "up_from", "up_until")


def fill_sun_days(session: Session) -> None:
    """Bring `sun_days` up to date, by places rounded to 0.01° (a few seconds of sun)."""
    con = session.con
    run_sql(con, __file__, "sundays.sql", **values_of(session.settings))
    rows = con.execute("SELECT tz, lat, lon, day FROM needed_days ORDER BY ALL").fetchall()
    made = [
        _computed(tz, lat, lon, days)
        for (tz, lat, lon), group in groupby(rows, key=itemgetter(0, 1, 2))
        for days in _runs([row[3] for row in group])
    ]
    if made:
        import numpy as np

        table = {name: np.concatenate([part[name] for part in made]) for name in made[0]}
        insert_arrays(con, "sun_days", table)


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
    place = {"tz": np.full(n, tz, dtype=object), "lat": np.full(n, lat), "lon": np.full(n, lon)}
    day = sun.day[wanted].astype("datetime64[s]")
    return place | {"day": day} | {name: getattr(sun, name)[wanted] for name in _TIMES}
