"""Pictures of the user's own beneath the map: kept in the logbook, pinned by known points."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from pathlib import Path, PurePath
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import InputRefused, UsageError
from camsign.formats.kinds import HEAD_BYTES, Kind, sniff
from camsign.geo import check_lat_lon
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.inside import OutsideError, inside
from camsign.logbook.naming import cleaned
from camsign.logbook.placing import place
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.routing import Named, Sent, Told, get, post, said, says
from camsign.pixels.decode import Undecodable, decode_reduced

if TYPE_CHECKING:
    from camsign.logbook.session import Session

FOLDER = "maps"
"""Where the pictures lie in a logbook."""
PICTURE_BODY = 60 << 20
_ENDINGS = {Kind.JPEG: "jpg", Kind.PNG: "png"}
_TYPES = {"jpg": "image/jpeg", "png": "image/png"}
_MOST_PINS = 50


@dataclass(frozen=True, slots=True)
class Underlay:
    """A picture; `pins` are [x, y, lat, lon]: pixels of the picture, and where they lie [deg]."""

    id: str
    name: str
    pins: list[list[float]]
    here: bool


def underlays(session: Session) -> list[Underlay]:
    """Give the pictures that stand, by name; `here`: its file is on this machine."""
    rows = session.con.execute(
        "SELECT underlay, coalesce(name, underlay), file, pins FROM underlays"
        " WHERE gone IS NOT TRUE AND file IS NOT NULL ORDER BY lower(name), underlay"
    ).fetchall()
    return [
        Underlay(i, name, json.loads(pins) if pins else [], _is_here(session, file))
        for i, name, file, pins in rows
    ]


def _list(request: Request) -> Response:
    with desk_of(request).reading() as session:
        return JSONResponse({"pictures": [asdict(one) for one in underlays(session)]})


def _add(request: Request, data: bytes) -> Response:
    """Keep a picture that was chosen: its bytes are the body, its name stands in the address."""
    name = PurePath(inputs.file_name(request, "map")).stem[:80]
    return said(_keep, request, {"name": name, "data": data})


def _keep(session: Session, _: Named, sent: Sent) -> Told:
    data: bytes = sent["data"]
    name = cleaned(sent["name"], "picture")
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
    made = new_id("u")
    fields = {"name": name, "file": file, "pins": []}
    session.say(f"put a picture beneath the map: {name}", [SetFields("underlay", made, fields)])
    return {"id": made}, f"added the picture {name}"


def _pin(session: Session, named: Named, sent: Sent) -> Told:
    """Say where points of a picture lie."""
    name = _name(session, named["id"])
    pins = sent.get("pins")
    if not isinstance(pins, list) or len(pins) > _MOST_PINS:
        raise UsageError(f"these are no pins, or more than {_MOST_PINS}", "pin it again")
    fields = {"pins": [_checked(pin) for pin in pins]}
    session.say(f"pinned {name}", [SetFields("underlay", named["id"], fields)])
    return {"id": named["id"]}, f"pinned {name}"


def _remove(session: Session, named: Named, _: Sent) -> Told:
    name = _name(session, named["id"])
    session.say(f"took {name} away", [SetFields("underlay", named["id"], {"gone": True})])
    return {}, f"took the picture {name} away"


def _checked(pin: Any) -> list[float]:
    if not isinstance(pin, list) or len(pin) != 4:
        raise UsageError("a pin is a point of the picture and its place", "pin it again")
    if not all(isinstance(v, int | float) for v in pin):
        raise UsageError("a pin is no number", "pin it again")
    check_lat_lon(pin[2], pin[3])
    return [float(v) for v in pin]


def _file(request: Request) -> Response:
    with desk_of(request).reading() as session:
        row = session.con.execute(
            "SELECT file FROM underlays WHERE underlay = ? AND gone IS NOT TRUE",
            [str(request.path_params["id"])],
        ).fetchone()
        path = _kept_file(session, str(row[0])) if row and row[0] else None
    if path is None or not path.is_file():
        raise HTTPException(404)
    return FileResponse(path, media_type=_TYPES.get(path.suffix[1:], "application/octet-stream"))


def _kept_file(session: Session, file: str) -> Path | None:
    """Give where a picture lies; None if another writer's journal names a path elsewhere."""
    try:
        return inside(session.folder.root / FOLDER, file)
    except OutsideError:
        return None


def _is_here(session: Session, file: str) -> bool:
    path = _kept_file(session, file)
    return path is not None and path.is_file()


def _name(session: Session, underlay: str) -> str:
    row = session.con.execute(
        "SELECT coalesce(name, underlay) FROM underlays WHERE underlay = ? AND gone IS NOT TRUE",
        [underlay],
    ).fetchone()
    if row is None:
        raise UsageError("there is no such picture", "load the page again")
    return str(row[0])


ROUTES: list[BaseRoute] = [
    get("/map/pictures", _list),
    post("/map/pictures", _add, PICTURE_BODY, Request.body),
    get("/map/pictures/{id}/file", _file),
    says("/map/pictures/{id}", _pin),
    says("/map/pictures/{id}/remove", _remove),
]
