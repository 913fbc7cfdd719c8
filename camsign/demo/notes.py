"""Writes what the owner took down in the season: sign, areas, and who is in the pictures."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from camsign.demo.dumps import card_folder
from camsign.demo.land import Deployment, place
from camsign.demo.season import Season
from camsign.demo.specs import FrameSpec, Pictured, SignSpec
from camsign.errors import UsageError
from camsign.formats.gpx import Waypoint, write_gpx
from camsign.formats.table import write_csv
from camsign.units import compass_word

SIGN_COLUMNS = (
    "kind", "lat", "lon", "seen_on", "travel_deg", "species", "state", "diameter_m", "top_m",
    "bottom_m", "length_m", "marks",
)  # fmt: skip
TAG_COLUMNS = ("frame", "what", "buck", "count", "travel")
_UNTAGGED, _UNNAMED, _UNSURE = 0.05, 0.05, 0.02  # shares of the bursts with deer
_INCH = 0.0254


@dataclass(frozen=True, slots=True)
class FieldNotes:
    """The files that were written."""

    sign_csv: Path
    sign_gpx: Path
    areas: Path
    tags: Path
    handheld: Path


def write_field_notes(season: Season, folder: Path) -> FieldNotes:
    """Write folder/notes: sign.csv, sign.gpx, areas.geojson, tags.csv, handheld.gpx.

    handheld.gpx is for beginning a logbook by oneself: where the cameras hung, and all sign.

    The tags name frames by the first 16 hex digits of their SHA-256, so the cards must have been
    written to the same folder by write_dumps.

    Raises:
        UsageError: a frame of the season is not there.
        OSError: the folder cannot be written.
    """
    home = folder / "notes"
    home.mkdir(parents=True, exist_ok=True)
    names = ("sign.csv", "sign.gpx", "areas.geojson", "tags.csv", "handheld.gpx")
    notes = FieldNotes(*(home / name for name in names))
    table = [_sign_row(one) for one in season.signs if not one.in_gpx]
    signs = [(_waypoint(one, season.tz), one.in_gpx) for one in season.signs]
    cameras = [_camera(one) for one in season.deployments]
    notes.areas.write_text(json.dumps(_areas(season), indent=1), encoding="utf-8")
    with notes.sign_csv.open("w", encoding="utf-8", newline="") as out:
        write_csv(table, out, SIGN_COLUMNS)
    with notes.tags.open("w", encoding="utf-8", newline="") as out:
        write_csv(_tag_rows(season, folder), out, TAG_COLUMNS)
    with notes.sign_gpx.open("w", encoding="utf-8", newline="") as out:
        write_gpx([point for point, kept in signs if kept], [], out)
    with notes.handheld.open("w", encoding="utf-8", newline="") as out:
        write_gpx([*cameras, *(point for point, _ in signs)], [], out)
    return notes


def _sign_row(one: SignSpec) -> dict[str, object]:
    row = {name: getattr(one, "surface" if name == "state" else name) for name in SIGN_COLUMNS}
    return row | {"seen_on": one.seen_on.isoformat(), "marks": one.marks or None}


def _waypoint(one: SignSpec, tz: str) -> Waypoint:
    """A waypoint named in the owner's shorthand, such as "rub alder 3in top 38in wet SW"."""
    words = [one.kind]
    if one.kind == "rub":
        words += [one.species or "", f"{_inches(one.diameter_m)}in", f"top {_inches(one.top_m)}in"]
        words += [one.surface or "", compass_word(one.travel_deg or 0), one.marks]
    elif one.length_m:
        words.append(f"length {_inches(one.length_m)}in")
    elif one.travel_deg is not None:
        words.append(compass_word(one.travel_deg))
    noon = datetime.combine(one.seen_on, time(12), ZoneInfo(tz)).astimezone(UTC)
    return Waypoint(" ".join(word for word in words if word), one.lat, one.lon, noon)


def _camera(one: Deployment) -> Waypoint:
    """A waypoint named as a person names one where a camera hangs, such as "CAM04 facing 140T"."""
    lat, lon = place(one.at)
    name = f"{one.camera.camera} facing {round(one.facing_deg) % 360}T"
    return Waypoint(name, lat, lon, one.hung)


def _inches(meters: float | None) -> int:
    return round((meters or 0) / _INCH)


def _areas(season: Season) -> dict[str, object]:
    features = []
    for area in season.areas:
        ring = [list(reversed(place(at))) for at in (*area.outline, area.outline[0])]
        # GeoJSON wants outlines counter-clockwise; ours go clockwise (RFC 7946, 3.1.6).
        shape = {"type": "Polygon", "coordinates": [ring[::-1]]}
        properties = {"name": area.name, "kind": area.kind}
        features.append({"type": "Feature", "properties": properties, "geometry": shape})
    return {"type": "FeatureCollection", "features": features}


def _tag_rows(season: Season, folder: Path) -> Iterator[dict[str, object]]:
    """A row for each kind of subject in a frame, or that nothing is in it: the owner looked through
    all. A burst of deer may be left out, or its buck unnamed, as one.
    """
    rng = np.random.default_rng([season.seed, 8])
    fate = rng.random(max(frame.trigger for frame in season.frames) + 1)
    folders = {one.key: card_folder(folder, one) for one in season.cards}
    for frame in season.frames:
        luck = fate[frame.trigger]
        deer = [one for one in frame.subjects if one.what in ("buck", "doe", "fawn")]
        if deer and luck < _UNTAGGED:
            continue
        name = _frame_id(folders[frame.card].joinpath(*frame.file.split("/")), frame)
        if deer and luck >= _UNTAGGED + _UNSURE:
            yield from _rows(name, deer, luck < _UNTAGGED + _UNSURE + _UNNAMED)
            continue
        other = frame.subjects[0].what if frame.subjects else "nothing"
        yield dict(zip(TAG_COLUMNS, (name, "unknown" if deer else other, "", "", ""), strict=True))


def _rows(name: str, deer: list[Pictured], unnamed: bool) -> Iterator[dict[str, object]]:
    """Each kind of deer with its number and the travel of the first, to the nearest 5 degrees."""
    ways: dict[tuple[str, str], list[str]] = {}
    for one in deer:
        way = "" if one.travel_deg is None else f"{round(one.travel_deg / 5) * 5 % 360}T"
        ways.setdefault((one.what, "" if unnamed else one.buck or ""), []).append(way)
    for (what, buck), said in ways.items():
        yield dict(zip(TAG_COLUMNS, (name, what, buck, len(said), said[0]), strict=True))


def _frame_id(path: Path, frame: FrameSpec) -> str:
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()[:16]
    except FileNotFoundError as err:
        raise UsageError(
            f"{frame.file} of {frame.camera} is not at {path}", "write the cards first"
        ) from err
