"""The lay of the land beneath the map and beneath tonight: shaded relief with contours."""

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING, Any

from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.routing import BaseRoute

from camsign.errors import InputRefused, UsageError
from camsign.logbook.folder import Folder
from camsign.page import inputs
from camsign.page.routing import Asked, asks
from camsign.sits.plane import Plane
from camsign.sits.terrain import FILE, FOLDER, terrain_of

if TYPE_CHECKING:
    from camsign.report.relief import Box


def stamp(folder: Folder) -> str:
    """Another text when other ground was taken in; empty without any."""
    path = folder.root / FOLDER / FILE
    return f"{path.stat().st_mtime_ns:x}" if path.exists() else ""


def relief_of(folder: Folder, plane: Plane, box: Box) -> dict[str, Any]:
    """Say where the picture of a box [m on the plane] comes from, and where it lies."""
    corners = ",".join(f"{v:.0f}" for v in box)
    return {
        "href": f"/map/relief?box={corners}&v={stamp(folder)}",
        "lat": plane.lat, "lon": plane.lon, "box": [round(v) for v in box],
    }  # fmt: skip


def whole_relief(folder: Folder) -> dict[str, Any] | None:
    """Say likewise of all the ground that is kept; None without any, or if it cannot be read."""
    terrain = None
    with suppress(InputRefused):
        terrain = terrain_of(folder)
    if terrain is None:
        return None
    grid = terrain.grid
    rows, columns = grid.heights.shape
    east, south = grid.west + columns * grid.cell, grid.north - rows * grid.cell
    return relief_of(folder, terrain.plane, (grid.west, south, east, grid.north))


def _relief(asked: Asked) -> Response:
    from camsign.report.relief import draw_relief

    folder = asked.session.folder
    corners = _corners(asked.query.get("box", ""))
    light = inputs.one_of(asked.query, "on", "dark", "light") == "light"

    def work() -> bytes | None:
        terrain = terrain_of(folder)
        if terrain is None:
            return None
        return draw_relief(terrain.grid, corners, folder.settings.units == "metric", light)

    drawn = asked.once(("relief", corners, light, stamp(folder)), work)
    if drawn is None:
        raise HTTPException(404)
    return Response(
        drawn, media_type="image/png", headers={"cache-control": "private, max-age=86400"}
    )


def _corners(said: str) -> tuple[float, float, float, float]:
    try:
        west, south, east, north = (float(v) for v in said.split(","))
    except ValueError as e:
        raise UsageError("this is no box of the map", "load the page again") from e
    if not (50 <= east - west <= 20_000 and 50 <= north - south <= 20_000):
        raise UsageError("this box of the map is too small or too large", "load the page again")
    return west, south, east, north


ROUTES: list[BaseRoute] = [asks("/map/relief", _relief)]
