"""The pictures beneath the map as the page is given them, and the bytes of new ones."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import PurePath

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.logbook.session import Session
from camsign.page import inputs
from camsign.page.app_state import desk_of
from camsign.page.routing import Named, Sent, Told, get, post, said
from camsign.pixels.underlays import MOST_BYTES, add_underlay, file_of, underlays


def _list(request: Request) -> Response:
    with desk_of(request).reading() as session:
        return JSONResponse(
            {"pictures": [asdict(one) | {"id": one.underlay} for one in underlays(session)]}
        )


def _add(request: Request, data: bytes) -> Response:
    """Keep a picture that was chosen: its bytes are the body, its name stands in the address."""
    name = PurePath(inputs.file_name(request, "map")).stem[:80]
    return said(_keep, request, {"name": name, "data": data})


def _keep(session: Session, _: Named, sent: Sent) -> Told:
    return {"id": add_underlay(session, sent["name"], sent["data"]).underlay}, ""


def _file(request: Request) -> Response:
    with desk_of(request).reading() as session:
        path = file_of(session, str(request.path_params["id"]))
    if path is None:
        raise HTTPException(404)
    kind = "image/png" if path.suffix == ".png" else "image/jpeg"
    return FileResponse(path, media_type=kind)


ROUTES: list[BaseRoute] = [
    get("/map/pictures", _list),
    post("/map/pictures", _add, MOST_BYTES, Request.body),
    get("/map/pictures/{id}/file", _file),
]
