"""The logbook's cameras, pictures and tags as a Camera Trap Data Package.

Source: Camtrap DP 1.0.2 (Bubnicki et al. 2024, Remote Sensing in Ecology and Conservation;
camtrap-dp.tdwg.org). Times are UTC; `mediaID` is the frame, `eventID` the burst, `individualID` the
buck's name. Pictures are not copied: `filePath` is their path inside the logbook.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from duckdb import DuckDBPyConnection

from camsign.errors import InputRefused
from camsign.flows.handover.rounded import UNCERTAINTY_M
from camsign.flows.handover.tables import copy, macros
from camsign.logbook.database import sql_beside
from camsign.logbook.far import Far, Progress
from camsign.logbook.placing import place
from camsign.logbook.session import Session

VERSION = "1.0.2"
_HOME = f"https://raw.githubusercontent.com/tdwg/camtrap-dp/{VERSION}"
_TABLES = ("deployments", "media", "observations")
# What a word of people means in a checklist (from memory); a genus, family or order where the word
# leaves open which species it is.
# fmt: off
TAXA = {
    "deer": "Odocoileus", "bear": "Ursus", "beaver": "Castor canadensis", "bird": "Aves",
    "bobcat": "Lynx rufus", "cat": "Felis catus", "coyote": "Canis latrans",
    "dog": "Canis lupus familiaris", "elk": "Cervus canadensis", "fisher": "Pekania pennanti",
    "fox": "Canidae", "grouse": "Tetraoninae", "hare": "Lepus", "hog": "Sus scrofa",
    "horse": "Equus caballus", "cow": "Bos taurus", "lynx": "Lynx canadensis", "marten": "Martes",
    "mink": "Neogale vison", "moose": "Alces alces", "opossum": "Didelphis virginiana",
    "otter": "Lontra canadensis", "owl": "Strigiformes", "porcupine": "Erethizon dorsatum",
    "rabbit": "Leporidae", "raccoon": "Procyon lotor", "skunk": "Mephitidae",
    "squirrel": "Sciuridae", "turkey": "Meleagris gallopavo", "wolf": "Canis lupus",
    "woodchuck": "Marmota monax",
}
# fmt: on


@dataclass(frozen=True, slots=True)
class PackageWritten:
    """A data package: its files, rows by table, pictures left out for want of a place or time."""

    written: tuple[Path, ...]
    rows: Mapping[str, int]
    left_out: int
    exact_places: bool


def write_camtrap(
    session: Session, folder: Path, exact: bool = False, progress: Progress | None = None
) -> PackageWritten:
    """Write datapackage.json and its three tables into a folder, which is made.

    Args:
        session: the open logbook.
        folder: where the files go; files of the same names are replaced.
        exact: places as they are; else rounded to 1 km, which the package says.
        progress: told (done, of) of the tables.

    Raises:
        InputRefused: no camera was ever hung.
    """
    con = session.con
    if not con.execute(
        "SELECT 1 FROM deployments WHERE gone IS NOT TRUE AND lat IS NOT NULL LIMIT 1"
    ).fetchone():
        raise InputRefused("there is no camera to hand on", "hang one first")
    folder.mkdir(parents=True, exist_ok=True)
    macros(con)
    given: dict[str, dict[str, Any]] = {
        "deployments": {"exact": exact, "uncertainty": None if exact else UNCERTAINTY_M},
        "media": {},
        "observations": {"species": list(TAXA), "taxa": list(TAXA.values())},
    }
    far, rows = Far(progress, len(_TABLES)), {}
    for name in _TABLES:
        rows[name] = _table(con, folder, name, given[name])
        far.one()
    about = _about(session, folder, exact)
    path = folder / "datapackage.json"
    place(path, json.dumps(about, indent=1, ensure_ascii=False).encode(), read_only=False)
    ((frames,),) = con.execute("SELECT count(*) FROM frames").fetchall()
    files = (path, *(folder / f"{name}.csv" for name in _TABLES))
    return PackageWritten(files, rows, frames - rows["media"], exact)


def _table(con: DuckDBPyConnection, folder: Path, name: str, given: Mapping[str, Any]) -> int:
    made = f"camtrap_{name}"
    con.execute(
        f"CREATE OR REPLACE TEMP TABLE {made} AS {sql_beside(__file__, f'{made}.sql')}", dict(given)
    )
    return copy(con, f"FROM temp.main.{made}", folder / f"{name}.csv", "FORMAT csv, HEADER")


def _about(session: Session, folder: Path, exact: bool) -> dict[str, Any]:
    con = session.con
    name = session.folder.root.resolve().name
    west, south, east, north, start, end = con.execute(
        "SELECT min(longitude), min(latitude), max(longitude), max(latitude),"
        ' min("deploymentStart")[:10], max("deploymentEnd")[:10] FROM temp.main.camtrap_deployments'
    ).fetchone() or (0, 0, 0, 0, "", "")
    taxa = con.execute(
        'SELECT DISTINCT "scientificName" FROM temp.main.camtrap_observations'
        ' WHERE "scientificName" IS NOT NULL ORDER BY 1'
    ).fetchall()
    return {
        "resources": [
            {
                "name": table,
                "path": f"{table}.csv",
                "profile": "tabular-data-resource",
                "format": "csv",
                "mediatype": "text/csv",
                "encoding": "utf-8",
                "schema": f"{_HOME}/{table}-table-schema.json",
            }
            for table in _TABLES
        ],
        "profile": f"{_HOME}/camtrap-dp-profile.json",
        "name": re.sub(r"[^a-z0-9._-]+", "-", name.lower()).strip("-") or "logbook",
        "created": datetime.now(UTC).strftime("%Y-%m-%dT%H:%M:%SZ"),
        "title": name,
        "contributors": [{"title": f"Owner of the logbook {name}", "role": "contact"}],
        "description": "Places are exact." if exact else "Places are rounded to 1 km.",
        "version": "1.0",
        "project": {
            "title": name,
            "samplingDesign": "targeted",
            "captureMethod": ["activityDetection"],
            "individualAnimals": True,
            "observationLevel": ["media"],
        },
        "coordinatePrecision": 1e-6 if exact else 0.01,
        "spatial": _box(west, south, east, north),
        "temporal": {"start": start, "end": end},
        "taxonomic": [{"scientificName": row[0]} for row in taxa],
    }


def _box(west: float, south: float, east: float, north: float) -> dict[str, Any]:
    """The bounding box with a rim of half a kilometer, so that a lone camera has one too."""
    rim = 0.005
    w, s, e, n = (round(v, 4) for v in (west - rim, south - rim, east + rim, north + rim))
    ring = [[w, s], [e, s], [e, n], [w, n], [w, s]]
    return {"type": "Polygon", "coordinates": [ring]}
