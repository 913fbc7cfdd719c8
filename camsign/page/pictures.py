"""Pictures by frame id, never by path: thumbnails, made again when missing, and the originals."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from anyio import to_thread
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, PlainTextResponse, Response
from starlette.routing import BaseRoute, Route

from camsign.logbook import let_go
from camsign.logbook.inside import OutsideError
from camsign.page.app_state import opened
from camsign.page.routing import Asked, asking, asks
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
    """Give a thumbnail from the cache on the server's own loop: a page wants many at once."""
    frame = _frame_of(request.path_params)
    path = thumb_path(opened(request).desk.folder.thumbs, frame)
    data: bytes | None = await to_thread.run_sync(_read, path)
    if data is None:
        return await to_thread.run_sync(_remade, request)
    return Response(data, media_type="image/jpeg", headers=_FOREVER)


def _read(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except OSError:
        return None


def _remade(request: Request) -> Response:
    with asking(request) as asked:
        frame, file, _ = _file_of(asked)
    try:
        made = remake_thumb(asked.session.folder.thumbs, frame, file)
    except OSError as e:
        return _none(f"the cache folder cannot be written ({e.strerror})")
    if isinstance(made, Undecodable):
        return _none(made.reason)
    return Response(made.read_bytes(), media_type="image/jpeg", headers=_FOREVER)


def _none(why: str) -> Response:
    return PlainTextResponse(f"{why}\n", 404)


def _head(asked: Asked) -> Response:
    """Give the square about his head; the same for as long as the frame's box stays the same."""
    frame, file, _ = _file_of(asked)
    row = asked.session.con.execute(
        "SELECT CASE WHEN box_x IS NOT NULL THEN [box_x, box_y, box_width, box_height] END, way"
        " FROM changes WHERE frame = ?",
        [frame],
    ).fetchone()
    data = _read(file)
    if data is None:
        return _none("not on this machine")
    made = head_of(data, *(row or (None,) * 2))
    if isinstance(made, Undecodable):
        return _none(made.reason)
    return Response(made, media_type="image/jpeg", headers=_FOR_AN_HOUR)


def _original(asked: Asked) -> Response:
    frame, file, kind = _file_of(asked)
    if not file.is_file():
        if kept := let_go.small_of(file, frame):
            return FileResponse(kept, media_type="image/jpeg")
        return _none("This picture is not on this machine.")
    known = _TYPES.get(kind)
    return FileResponse(
        file,
        media_type=known or "application/octet-stream",
        headers=_FOREVER,
        filename=file.name,
        content_disposition_type="inline" if known else "attachment",
    )


def _frame_of(named: Mapping[str, str]) -> str:
    if not _FRAME.fullmatch(named["frame"]):
        raise HTTPException(404)
    return named["frame"]


def _file_of(asked: Asked) -> tuple[str, Path, str]:
    """Give a frame, where its file lies, and its kind; only inside the logbook's own cards."""
    frame = _frame_of(asked.named)
    row = asked.session.con.execute(
        "SELECT file, kind FROM frames WHERE frame = ?", [frame]
    ).fetchone()
    if row is None:
        raise HTTPException(404)
    try:
        return frame, asked.session.folder.original(str(row[0])), str(row[1])
    except OutsideError as e:
        raise HTTPException(404) from e


ROUTES: list[BaseRoute] = [
    Route("/thumb/{frame}", _thumb),
    asks("/head/{frame}", _head),
    asks("/picture/{frame}", _original),
]
