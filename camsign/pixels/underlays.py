"""Pictures of the user's own beneath the map: kept in the logbook, pinned by known points."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.errors import InputRefused, UsageError
from camsign.formats.kinds import HEAD_BYTES, Kind, sniff
from camsign.geo import check_lat_lon
from camsign.logbook import named
from camsign.logbook.inside import OutsideError, inside
from camsign.logbook.placing import place
from camsign.logbook.things import UNDERLAY
from camsign.pixels.decode import Undecodable, decode_reduced

if TYPE_CHECKING:
    from camsign.logbook.session import Session

FOLDER = "maps"
"""Where the pictures lie in a logbook."""
MOST_BYTES = 60 << 20
_ENDINGS = {Kind.JPEG: "jpg", Kind.PNG: "png"}
_MOST_PINS = 50


@dataclass(frozen=True, slots=True)
class Underlay:
    """A picture; `pins` are [x, y, lat, lon]: pixels of the picture, and where they lie [deg].

    `here`: its file is on this machine.
    """

    underlay: str
    name: str
    pins: list[list[float]]
    here: bool


def underlays(session: Session) -> list[Underlay]:
    """Give the pictures that stand, by name."""
    known = named.names(session, UNDERLAY)
    found = [_row(session, i, named.fields_of(session, UNDERLAY, i)) for i in known]
    return sorted(found, key=lambda one: (one.name.casefold(), one.underlay))


def bytes_of(file: Path) -> bytes:
    """Read a picture from the disk. Raises InputRefused if it cannot be, or is too large."""
    try:
        if file.stat().st_size > MOST_BYTES:
            raise InputRefused(f"{file} is larger than {MOST_BYTES >> 20} MB", "save it smaller")
        return file.read_bytes()
    except OSError as e:
        raise InputRefused(f"{file} cannot be read ({e.strerror})", "check its path") from e


def add_underlay(session: Session, name: str, data: bytes) -> Underlay:
    """Keep a picture. Raises InputRefused if the bytes are no JPEG or PNG that can be shown."""
    ending = _ENDINGS.get(sniff(data[:HEAD_BYTES]))
    if ending is None:
        raise InputRefused("this is no JPEG or PNG", "save the map as one of these")
    looked = decode_reduced(data)
    if isinstance(looked, Undecodable):
        raise InputRefused(f"this picture cannot be shown: {looked.reason}")
    folder = session.folder.root / FOLDER
    folder.mkdir(exist_ok=True)
    file = f"{hashlib.sha256(data).hexdigest()[:16]}.{ending}"
    if not (folder / file).exists():
        place(folder / file, data)
    # One map may be beneath twice, pinned otherwise: a second of a name gets its id behind it.
    fields = {"name": name, "file": file, "pins": []}
    return _row(session, *named.add(session, UNDERLAY, fields, unique=False))


def pin_underlay(session: Session, underlay: str, pins: list[Any]) -> Underlay:
    """Say where points of a picture lie: [x, y, lat, lon], or `x,y=lat,lon`; they replace others.

    Raises:
        UsageError: there is no such picture, or something is no pin.
    """
    if len(pins) > _MOST_PINS:
        raise UsageError(f"these are more than {_MOST_PINS} pins", "pin it again")
    fields = {"pins": [_pin(one) for one in pins]}
    return _row(session, *named.change(session, UNDERLAY, underlay, fields))


def remove_underlay(session: Session, underlay: str) -> Underlay:
    """Take a picture away; its file stays. Raises UsageError if there is none."""
    return _row(session, *named.remove(session, UNDERLAY, underlay))


def file_of(session: Session, underlay: str) -> Path | None:
    """Give where a picture lies; None if it is not here, or a path leads out of its folder."""
    found = named.fields_of(session, UNDERLAY, underlay)
    gone = underlay not in named.names(session, UNDERLAY)
    return None if gone else _kept(session, found["file"])


def _kept(session: Session, file: str | None) -> Path | None:
    try:
        path = inside(session.folder.root / FOLDER, file) if file else None
    except OutsideError:
        return None
    return path if path is not None and path.is_file() else None


def _row(session: Session, underlay: str, fields: dict[str, Any]) -> Underlay:
    pins = fields["pins"] or []
    here = _kept(session, fields["file"]) is not None
    kept = json.loads(pins) if isinstance(pins, str) else pins
    return Underlay(underlay, fields["name"], kept, here)


def _pin(said: Any) -> list[float]:
    try:
        cells = said.replace("=", ",").split(",") if isinstance(said, str) else said
        x, y, lat, lon = (float(v) for v in cells)
    except (TypeError, ValueError, AttributeError):
        told = "a pin is a point of the picture and its place"
        raise UsageError(told, "write it as X,Y=LAT,LON") from None
    check_lat_lon(lat, lon)
    return [x, y, lat, lon]
