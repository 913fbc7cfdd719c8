"""Records that several rooms share, as plain frozen values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from datetime import UTC, datetime
from typing import Any

from camsign.errors import UsageError
from camsign.formats.shown import read_offset


@dataclass(frozen=True, slots=True)
class FrameFacts:
    """One row of frames.parquet: a file of a card, as read. Facts; never rewritten.

    `frame` is the first 16 hex digits of `sha256`. `file` is the path inside the card's folder, or
    None when another card already holds the bytes (`known`). `shown` is what the camera's clock
    showed, ISO 8601 without offset. Bearings [deg], altitude [m]. `beside`: the path on the card of
    the clip that a small picture goes with; it is kept, and is no frame of its own.
    """

    frame: str
    sha256: str
    file: str | None
    card_path: str
    bytes: int
    kind: str
    known: bool = False
    shown: str | None = None
    shown_from: str | None = None
    shown_raw: str | None = None
    offset_minutes: int | None = None
    make: str | None = None
    model: str | None = None
    serial: str | None = None
    owner: str | None = None
    orientation: int | None = None
    width: int | None = None
    height: int | None = None
    lat: float | None = None
    lon: float | None = None
    altitude_m: float | None = None
    img_direction_deg: float | None = None
    img_direction_ref: str | None = None
    gps_utc: str | None = None
    comment: str | None = None
    description: str | None = None
    software: str | None = None
    file_time: str | None = None
    doubts: tuple[str, ...] = field(default=())
    beside: str | None = None


@dataclass(frozen=True, slots=True)
class Look:
    """One row of looks.parquet: what the pixels of a frame measure; may be made again.

    `light` is color, infrared or dark. brightness, contrast, color, sharpness: as the pixels room
    documents. `numbers` is JSON text with whatever else it measures. `glance` is a small
    JPEG (pixels.glance); it stays in the file and is not taken into the database.
    """

    frame: str
    maker: int
    light: str
    brightness: float
    contrast: float
    colour: float
    sharpness: float
    numbers: str = "{}"
    glance: bytes = b""


@dataclass(frozen=True, slots=True)
class Detected:
    """One row of detected.parquet: what a detector of the user's own found in a frame.

    `model`: the detector's name and a hash of its files. animal, person, vehicle: the best score of
    any class that means so, 0..1, 0 where none was found; the class itself is not kept. The box of
    the best of them all, as shares of the picture's width and height from the upper left.
    """

    frame: str
    model: str
    animal: float = 0.0
    person: float = 0.0
    vehicle: float = 0.0
    box_x: float | None = None
    box_y: float | None = None
    box_width: float | None = None
    box_height: float | None = None


@dataclass(frozen=True, slots=True)
class Deployment:
    """One camera at one place from `hung` until `taken_down` (None: still hanging), UTC, aware.

    lat, lon [deg, WGS 84], facing_deg [deg true]. `clock` is `hung`, `local` or `±HH:MM`; `tz` the
    zone of the place if it is not the logbook's.
    """

    deployment: str
    camera: str
    lat: float
    lon: float
    hung: datetime
    taken_down: datetime | None = None
    worked_to_end: bool = False
    facing_deg: float | None = None
    clock: str = "hung"
    tz: str | None = None
    note: str | None = None

    @classmethod
    def of(cls, row: Sequence[Any], tz: str) -> Deployment:
        """Make one of a database row in the order of the fields; `tz` is the logbook's."""
        cells = dict(zip((f.name for f in fields(cls)), row, strict=True))
        for name in ("hung", "taken_down"):
            cells[name] = cells[name] and cells[name].replace(tzinfo=UTC)
        cells["worked_to_end"] = bool(cells["worked_to_end"])
        cells["clock"] = cells["clock"] or "hung"
        cells["tz"] = cells["tz"] or tz
        return cls(**cells)


def checked_rule(text: str) -> str:
    """Give a deployment's clock rule, as people say it, in its one spelling.

    Raises UsageError: it is none of `hung`, `local`, `±HH:MM`.
    """
    word = text.strip().lower().replace("−", "-")
    if word in ("hung", "local"):
        return word
    minutes = read_offset(word)
    if minutes is None or word == "z":
        raise UsageError(f"{text!r} is no clock rule", "say hung, local, or an offset like -05:00")
    return offset_text(minutes)


def offset_text(minutes: int) -> str:
    """Write an offset from UTC as `±HH:MM`."""
    sign = "-" if minutes < 0 else "+"
    return f"{sign}{abs(minutes) // 60:02d}:{abs(minutes) % 60:02d}"
