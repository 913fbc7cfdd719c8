"""A large logbook's database, made on the spot: a property of 30 km with cameras in clusters."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import duckdb
import numpy as np
import pandas as pd

from camsign.geo import destination, distance_bearing
from camsign.logbook.database import connect
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.logbook.settings import Settings
from camsign.logbook.things import schema

HOME, TZ = (44.1, -71.2), "America/New_York"
SIDE_M, NIGHTS, FIRST = 30_000.0, 240, "2025-07-01"


def make(
    path: Path, detections: int = 1_000_000, deployments: int = 500, signs: int = 20_000,
    areas: int = 200, bucks: int = 400,
) -> None:  # fmt: skip
    """Write the database file; the same every time."""
    chance = np.random.default_rng(7)
    con = duckdb.connect(path)
    con.execute(schema())
    centers = chance.uniform(0, SIDE_M, (areas, 2))
    cameras = np.concatenate(
        [
            centers[chance.integers(0, areas, deployments // 2)]
            + chance.normal(0, 150, (deployments // 2, 2)),
            chance.uniform(0, SIDE_M, (deployments - deployments // 2, 2)),
        ]
    )
    marks = np.concatenate(
        [
            centers[chance.integers(0, areas, signs // 2)] + chance.normal(0, 300, (signs // 2, 2)),
            chance.uniform(0, SIDE_M, (signs - signs // 2, 2)),
        ]
    )
    homes = chance.uniform(0, SIDE_M, (bucks, 2))
    _put(con, "bucks", _bucks(bucks, chance))
    _put(con, "areas", _areas(centers))
    _put(con, "deployments", _deployments(cameras))
    _put(con, "signs", _signs(marks))
    _put(con, "made_windows", _windows(marks, chance))
    _pairs(con, cameras, marks, centers)
    _watch(con, deployments)
    _put(con, "detections", _detections(detections, cameras, homes, chance))
    con.execute("CHECKPOINT")
    con.close()


def opened(path: Path) -> Session:
    """Open it as a logbook."""
    folder = Folder(Path("nowhere"))
    folder.__dict__["settings"] = replace(Settings(id="big", tz=TZ), home=HOME)
    return Session(folder, connect(path))


def _put(con: duckdb.DuckDBPyConnection, table: str, rows: pd.DataFrame) -> None:
    con.register("given", rows)
    names = ", ".join(f'"{c}"' for c in rows.columns)
    con.execute(f"INSERT INTO {table} ({names}) SELECT {names} FROM given")
    con.unregister("given")


def _places(meters: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    away = np.hypot(*meters.T)
    return destination(*HOME, np.degrees(np.arctan2(*meters.T)), away)


def _names(letter: str, n: int) -> list[str]:
    return [f"{letter}-{i * 2654435761 % 2**32:08x}" for i in range(n)]


def _bucks(n: int, chance: np.random.Generator) -> pd.DataFrame:
    ages = chance.choice([1.5, 2.5, 3.5, 4.5, 5.5], n)
    names = _names("b", n)
    return pd.DataFrame(
        {"buck": names, "name": [f"Buck {i}" for i in range(n)], "age": ages, "age_year": 2025}
    )


def _areas(centers: np.ndarray) -> pd.DataFrame:
    lat, lon = _places(centers)
    shapes = [f'{{"circle": [{a}, {b}, 100]}}' for a, b in zip(lat, lon, strict=True)]
    n = len(centers)
    return pd.DataFrame(
        {"area": _names("a", n), "name": [f"Area {i}" for i in range(n)], "kind": "bedding",
         "shape": shapes}
    )  # fmt: skip


def _deployments(cameras: np.ndarray) -> pd.DataFrame:
    lat, lon = _places(cameras)
    n = len(cameras)
    return pd.DataFrame(
        {"deployment": _names("d", n), "camera": [f"CAM{i:03d}" for i in range(n)], "lat": lat,
         "lon": lon, "hung": pd.Timestamp(FIRST), "clock": "hung"}
    )  # fmt: skip


def _signs(marks: np.ndarray) -> pd.DataFrame:
    lat, lon = _places(marks)
    kinds = np.array(["rub", "scrape", "bed", "track"])[np.arange(len(marks)) % 4]
    return pd.DataFrame({"sign": _names("s", len(marks)), "kind": kinds, "lat": lat, "lon": lon})


def _windows(marks: np.ndarray, chance: np.random.Generator) -> pd.DataFrame:
    rows = _signs(marks)
    starts = pd.Timestamp("2025-08-15") + pd.to_timedelta(chance.integers(0, 90, len(rows)), "D")
    rows["sighting"] = [f"g-{i:05d}" for i in range(len(rows))]
    rows["made_from"], rows["made_to"] = starts, starts + pd.Timedelta(days=40)
    rows["seen_on"], rows["season"] = rows["made_to"], 2025
    rows["travel_deg"] = chance.integers(0, 16, len(rows)) * 22.5
    return rows


def _pairs(
    con: duckdb.DuckDBPyConnection, cameras: np.ndarray, marks: np.ndarray, centers: np.ndarray
) -> None:
    tables = (
        ("sign_pairs", "deployment", "sign", cameras, marks, "d", "s", 0.0),
        ("area_pairs", "deployment", "area", cameras, centers, "d", "a", 100.0),
        ("area_signs", "sign", "area", marks, centers, "s", "a", 100.0),
    )
    for table, left, right, a, b, letter, other, radius in tables:
        i, j = np.nonzero(np.hypot(*(a[:, None] - b[None]).transpose(2, 0, 1)) <= 2100)
        (lat1, lon1), (lat2, lon2) = _places(a[i]), _places(b[j])
        distance, bearing = distance_bearing(lat1, lon1, lat2, lon2)
        rows = pd.DataFrame(
            {left: np.array(_names(letter, len(a)))[i], right: np.array(_names(other, len(b)))[j],
             "distance_m": np.maximum(distance - radius, 0)}
        )  # fmt: skip
        if table == "sign_pairs":
            rows["bearing_deg"] = bearing
        _put(con, table, rows[rows["distance_m"] <= 2000])


def _watch(con: duckdb.DuckDBPyConnection, deployments: int) -> None:
    nights = pd.date_range(FIRST, periods=NIGHTS)
    rows = pd.DataFrame(
        {"deployment": np.repeat(_names("d", deployments), NIGHTS),
         "night": np.tile(nights, deployments), "watched": True, "day_watched": True}
    )  # fmt: skip
    _put(con, "watch", rows)


def _detections(
    n: int, cameras: np.ndarray, homes: np.ndarray, chance: np.random.Generator
) -> pd.DataFrame:
    """Bucks within about 1.5 km of their homes; frames come in visits of a few minutes."""
    camera = np.sort(chance.integers(0, len(cameras), n))
    near = np.argsort(np.hypot(*(cameras[:, None] - homes[None]).transpose(2, 0, 1)), axis=1)[:, :8]
    buck = near[camera, np.minimum(chance.geometric(0.35, n) - 1, 7)]
    day = chance.integers(0, NIGHTS, n)
    minute = np.mod(chance.choice([390.0, 1080.0], n) + chance.normal(0, 90, n), 1440)
    local = pd.Timestamp(FIRST) + pd.to_timedelta(day, "D") + pd.to_timedelta(minute, "min")
    rows = pd.DataFrame({"camera_no": camera, "buck_no": buck, "local": local})
    rows = rows.sort_values(["camera_no", "local"], ignore_index=True)
    ids = np.array([*_names("b", len(homes)), None], dtype=object)
    unnamed = chance.random(n) < 0.15
    rows["buck_id"] = ids[np.where(unnamed, len(homes), rows["buck_no"])]
    rows["frame"] = [f"{i * 0x9E3779B97F4A7C15 % 2**64:016x}" for i in range(n)]
    rows["subject"] = "buck:" + rows["buck_id"].fillna("")
    rows["what"], rows["species"], rows["sex"], rows["count"] = "animal", "deer", "male", 1
    rows["camera"] = np.array([f"CAM{i:03d}" for i in range(len(cameras))])[rows["camera_no"]]
    rows["deployment"] = np.array(_names("d", len(cameras)))[rows["camera_no"]]
    rows["utc"] = rows["local"] + pd.Timedelta(hours=4)
    rows["day"], rows["night"] = (
        rows["local"].dt.normalize(),
        (rows["local"] - pd.Timedelta(hours=12)).dt.normalize(),
    )
    clock = (rows["local"] - rows["day"]).dt.total_seconds() / 60
    rows["minutes_from_sunrise"], rows["minutes_from_sunset"] = clock - 390, clock - 1080
    rows["in_daylight"] = clock.between(390, 1080)
    gray = clock.between(360, 1110)
    rows["light"] = np.where(rows["in_daylight"], "day", np.where(gray, "gray", "dark"))
    rows["burst"] = rows["frame"]
    rows["travel_deg"] = np.where(chance.random(n) < 0.5, chance.integers(0, 8, n) * 45.0, np.nan)
    return rows.drop(columns=["camera_no", "buck_no"])
