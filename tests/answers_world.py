"""A small property put straight into a database of the project's schema, for tests of answers.

Places are meters east and north of a home; times of detections are UTC. What the derive room makes
from cards and journal (watch, distances, sun, detections) is made here on its own, so that these
tests hold whatever that room does.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import atan2, degrees, hypot
from pathlib import Path
from typing import Any

import duckdb
import numpy as np
import pandas as pd

from camsign.geo import distance_bearing
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.logbook.things import schema
from camsign.sun import sun_days
from camsign.zones import offsets, to_utc

HOME = (44.1, -71.2)
TZ = "America/New_York"


def at(east_m: float, north_m: float) -> tuple[float, float]:
    """Latitude, longitude [deg] of a place so far east and north of home [m]."""
    from camsign.geo import destination

    lat, lon = destination(*HOME, degrees(atan2(east_m, north_m)), hypot(east_m, north_m))
    return float(lat), float(lon)


@dataclass
class World:
    """Collects things, then `session()` puts them into a new database."""

    settings: Settings = field(default_factory=lambda: Settings(id="w", tz=TZ, home=HOME))
    rows: dict[str, list[dict[str, Any]]] = field(default_factory=dict)
    bulk: list[dict[str, Any]] = field(default_factory=list)

    def add(self, table: str, **row: Any) -> None:
        self.rows.setdefault(table, []).append(row)

    def buck(self, name: str, age: float | None = None, year: int = 2025, **more: Any) -> str:
        buck = f"b-{name.casefold().replace(' ', '-')}"
        self.add("bucks", buck=buck, name=name, age=age, age_year=year, **more)
        return buck

    def area(
        self, name: str, place: tuple[float, float], radius_m: float, kind: str = "bedding"
    ) -> str:
        area = f"a-{name.casefold().replace(' ', '-')}"
        shape = {"circle": [*at(*place), radius_m]}
        self.add("areas", area=area, name=name, kind=kind, shape=shape)
        return area

    def camera(
        self,
        camera: str,
        place: tuple[float, float],
        first: date,
        last: date,
        off: Sequence[tuple[date, date]] = (),
        deployment: str | None = None,
    ) -> str:
        """Hang a camera; nights from `first` to `last` (both) are watched but those in `off`."""
        deployment = deployment or f"d-{camera}"
        lat, lon = at(*place)
        hung = to_utc(datetime(first.year, first.month, first.day, 10), TZ).replace(tzinfo=None)
        down = hung + timedelta(days=(last - first).days + 1)
        self.add(
            "deployments", deployment=deployment, camera=camera, lat=lat, lon=lon, hung=hung,
            taken_down=down, worked_to_end=True, clock="hung",
        )  # fmt: skip
        for i in range((last - first).days + 1):
            night = first + timedelta(days=i)
            dead = any(a <= night <= b for a, b in off)
            self.add(
                "watch", deployment=deployment, night=night, watched=not dead,
                day_watched=not dead and i > 0, why="outage" if dead else None,
            )  # fmt: skip
        return deployment

    def seen(self, buck: str | None, deployment: str, *moments: str, **more: Any) -> None:
        """Detections of a buck (or None: a buck nobody named) at local wall-clock times."""
        when = [
            np.datetime64(to_utc(datetime.fromisoformat(m), TZ).replace(tzinfo=None), "us")
            for m in moments
        ]
        self.seen_many(buck, deployment, np.array(when), **more)

    def seen_many(
        self,
        buck: str | None,
        deployment: str,
        utc: np.ndarray,
        travel_deg: Any = None,
        **more: Any,
    ) -> None:
        """Detections at UTC times (datetime64)."""
        given = {
            "what": "animal", "buck_id": buck, "species": "deer", "sex": "male", "sure": None,
            "doubt": None, "count": 1, "travel_deg": travel_deg, **more,
        }  # fmt: skip
        moments = np.asarray(utc, dtype="datetime64[us]")
        self.bulk.append({"utc": moments, "deployment": deployment, **given})

    def sign(
        self,
        kind: str,
        place: tuple[float, float],
        seen_on: date,
        made: tuple[date, date],
        travel_deg: float | None = None,
        sign: str | None = None,
        season: int | None = None,
        measures: dict[str, Any] | None = None,
        state: str | None = None,
        bed_of: str | None = None,
    ) -> str:
        """A sign with one sighting; the same `sign` again adds a sighting."""
        n = len(self.rows.get("made_windows", ()))
        known = sign is not None and any(r["sign"] == sign for r in self.rows.get("signs", ()))
        sign = sign or f"s-{n:04d}"
        lat, lon = at(*place)
        if not known:
            self.add("signs", sign=sign, kind=kind, lat=lat, lon=lon, bed_of=bed_of)
        one = {"sign": sign, "sighting": f"g-{n:04d}", "seen_on": seen_on}
        self.add(
            "sightings",
            **one,
            travel_deg=travel_deg,
            state=state,
            measures=measures and json.dumps(measures),
        )
        self.add(
            "made_windows", **one, kind=kind, lat=lat, lon=lon, made_from=made[0], made_to=made[1],
            travel_deg=travel_deg, basis="said",
            season=season if season is not None else made[0].year - (made[0].month < 7),
        )  # fmt: skip
        return sign

    def session(self, path: str = ":memory:") -> Session:
        """Make the database and hand it over as an open logbook."""
        con = duckdb.connect(path, config={"threads": 1})
        con.execute(schema())
        for table, rows in self.rows.items():
            _insert(con, table, pd.DataFrame(rows))
        self._pairs(con)
        if self.bulk:
            _insert(con, "detections", self._detections())
        folder = Folder(Path("nowhere"))
        folder.__dict__["settings"] = self.settings
        return Session(folder, con)

    def _pairs(self, con: duckdb.DuckDBPyConnection) -> None:
        hung, signs = self.rows.get("deployments", []), self.rows.get("signs", [])
        areas, limit = self.rows.get("areas", []), self.settings.pair_limit_m
        pairs = [
            (d["deployment"], s["sign"], *map(float, _distance(d, s))) for d in hung for s in signs
        ]
        pairs = [p for p in pairs if p[2] <= limit]
        _insert(con, "sign_pairs", _frame(pairs, "deployment sign distance_m bearing_deg"))
        for table, key, things in (
            ("area_pairs", "deployment", hung),
            ("area_signs", "sign", signs),
        ):
            edges = [
                (t[key], a["area"], max(float(_distance(t, _center(a))[0]) - _radius(a), 0.0))
                for t in things
                for a in areas
            ]
            edges = [e for e in edges if e[2] <= limit]
            _insert(con, table, _frame(edges, f"{key} area distance_m"))

    def _gathered(self) -> pd.DataFrame:
        """Lay what was seen end to end; one value stands for all of a bulk."""
        sizes = [len(one["utc"]) for one in self.bulk]
        names = list(dict.fromkeys(name for one in self.bulk for name in one))
        columns: dict[str, list[Any]] = {name: [] for name in names}
        for one, size in zip(self.bulk, sizes, strict=True):
            for name in names:
                value = one.get(name)
                many = isinstance(value, np.ndarray | list)
                columns[name].extend(value if many else [value] * size)
        utc = np.concatenate([one["utc"] for one in self.bulk])
        return pd.DataFrame({**columns, "utc": utc})

    def _detections(self) -> pd.DataFrame:
        found = self._gathered().sort_values("utc", kind="stable")
        cameras = {d["deployment"]: d["camera"] for d in self.rows["deployments"]}
        found["camera"] = found["deployment"].map(cameras)
        found["frame"] = [f"{i:016x}" for i in range(len(found))]
        found["subject"] = "who"
        found["burst"] = found["frame"]
        return pd.concat([found.reset_index(drop=True), times_of(found["utc"])], axis=1)


def times_of(moments: pd.Series) -> pd.DataFrame:
    """Local time, day, night and the sun's times at home for UTC times."""
    utc = moments.to_numpy().astype("datetime64[us]")
    first, last = utc.min().astype(datetime), utc.max().astype(datetime)
    spans = offsets(TZ, _aware(first - timedelta(1)), _aware(last + timedelta(1)))
    starts = np.array([s.start.replace(tzinfo=None) for s in spans], dtype="datetime64[us]")
    seconds = np.array([s.seconds for s in spans])[np.searchsorted(starts, utc, "right") - 1]
    local = utc + seconds.astype("timedelta64[s]")
    day = local.astype("datetime64[D]")
    sun = sun_days(*HOME, day.min().astype(date), day.max().astype(date), TZ)
    i = (day - sun.day[0]).astype(int)
    rise, sets = sun.sunrise[i], sun.sunset[i]
    minute = np.timedelta64(60, "s")
    lit, gray = (
        (utc >= rise) & (utc <= sets),
        (utc >= rise - 30 * minute) & (utc < sets + 30 * minute),
    )
    return pd.DataFrame(
        {
            "local": local,
            "day": day,
            "night": (local - np.timedelta64(12, "h")).astype("datetime64[D]"),
            "in_daylight": lit,
            "light": np.where(lit, "day", np.where(gray, "gray", "dark")),
            "minutes_from_sunrise": (utc - rise) / minute,
            "minutes_from_sunset": (utc - sets) / minute,
        }
    )


def _aware(moment: datetime) -> datetime:
    from datetime import UTC

    return moment.replace(tzinfo=UTC)


def _insert(con: duckdb.DuckDBPyConnection, table: str, rows: pd.DataFrame) -> None:
    if rows.empty:
        return
    con.register("given_rows", rows)
    names = ", ".join(f'"{c}"' for c in rows.columns)
    con.execute(f'INSERT INTO "{table}" ({names}) SELECT {names} FROM given_rows')
    con.unregister("given_rows")


def _frame(rows: list[Any], names: str) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=names.split())


def _distance(a: dict[str, Any], b: dict[str, Any]) -> tuple[Any, Any]:
    return distance_bearing(a["lat"], a["lon"], b["lat"], b["lon"])


def _center(area: dict[str, Any]) -> dict[str, Any]:
    lat, lon, _ = area["shape"]["circle"]
    return {"lat": lat, "lon": lon}


def _radius(area: dict[str, Any]) -> float:
    return float(area["shape"]["circle"][2])
