"""Pictures by frame id, never by path: thumbnails, made again when missing, and the originals."""

from __future__ import annotations

import re
from pathlib import Path

from anyio import to_thread
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute

from camsign.logbook import let_go
from camsign.logbook.inside import OutsideError
from camsign.page.app_state import desk_of
from camsign.page.routing import get
from camsign.pixels.decode import Undecodable
from camsign.pixels.heads import head_of
from camsign.pixels.see import remake_thumb
from camsign.pixels.thumbs import thumb_path

# A frame's bytes never change under its id.
_FOREVER = {"cache-control": "private, max-age=31536000, immutable"}
_FOR_AN_HOUR = {"cache-control": "private, max-age=3600"}
_FRAME = re.compile(r"[0-9a-f]{16}")
_TYPES = {
    "jpeg": "image/jpeg",
    "png": "image/png",
    "gif": "image/gif",
    "mp4": "video/mp4",
    "mov": "video/quicktime",
}
"""What browsers can show; anything else is only offered for saving."""


async def _thumb(request: Request) -> Response:
    folder = desk_of(request).folder
    frame = _frame_of(request)
    path = thumb_path(folder.thumbs, frame)
    data: bytes | str | None = await to_thread.run_sync(_read, path)
    if data is None:
        data = await to_thread.run_sync(_remade, request, frame)
    if isinstance(data, str):
        return PlainTextResponse(data + "\n", 404)
    return Response(data, media_type="image/jpeg", headers=_FOREVER)


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _remade(request: Request, frame: str) -> bytes | str:
    folder, (file, _) = desk_of(request).folder, _file_of(request, frame)
    try:
        made = remake_thumb(folder.thumbs, frame, file)
    except OSError as e:
        return f"the cache folder cannot be written ({e.strerror})"
    if isinstance(made, Undecodable):
        return made.reason
    return made.read_bytes()


def _head(request: Request) -> Response:
    """Give the square about his head; the same for as long as the frame's box stays the same."""
    frame = _frame_of(request)
    file, _ = _file_of(request, frame)
    with desk_of(request).reading() as session:
        row = session.con.execute(
            "SELECT CASE WHEN box_x IS NOT NULL THEN [box_x, box_y, box_width, box_height] END, way"
            " FROM changes WHERE frame = ?",
            [frame],
        ).fetchone()
    data = _read(file)
    made = (
        Undecodable("not on this machine") if data is None else head_of(data, *(row or (None,) * 2))
    )
    if isinstance(made, Undecodable):
        return PlainTextResponse(f"{made.reason}\n", 404)
    return Response(made, media_type="image/jpeg", headers=_FOR_AN_HOUR)


def _original(request: Request) -> Response:
    frame = _frame_of(request)
    file, kind = _file_of(request, frame)
    if not file.is_file():
        if kept := let_go.small_of(file, frame):
            return FileResponse(kept, media_type="image/jpeg")
        return PlainTextResponse("This picture is not on this machine.\n", 404)
    known = _TYPES.get(kind)
    return FileResponse(
        file,
        media_type=known or "application/octet-stream",
        headers=_FOREVER,
        filename=file.name,
        content_disposition_type="inline" if known else "attachment",
    )


def _frame_of(request: Request) -> str:
    frame = str(request.path_params["frame"])
    if not _FRAME.fullmatch(frame):
        raise HTTPException(404)
    return frame


def _file_of(request: Request, frame: str) -> tuple[Path, str]:
    """Give where a frame's file lies and its kind; only inside the logbook's own cards."""
    desk = desk_of(request)
    with desk.reading() as session:
        row = session.con.execute(
            "SELECT file, kind FROM frames WHERE frame = ?", [frame]
        ).fetchone()
    if row is None:
        raise HTTPException(404)
    try:
        return desk.folder.original(str(row[0])), str(row[1])
    except OutsideError as e:
        raise HTTPException(404) from e


ROUTES: list[BaseRoute] = [
    get("/thumb/{frame}", _thumb),
    get("/head/{frame}", _head),
    get("/picture/{frame}", _original),
]
