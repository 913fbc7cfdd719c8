"""Choosing a folder of this machine: what lies in one, and where one lies that was dropped.

A browser tells a page no path. Of a dropped folder it tells the name, and the names and sizes of
its files: it is looked for by these in the places where people keep pictures.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path, PurePosixPath
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute

from camsign.errors import InputRefused, UsageError
from camsign.flows.intake.card_files import mounted
from camsign.page import inputs
from camsign.page.routing import Sent, post

_MOST = 500
"""So many folders of one are listed."""
_DEEP, _FOLDERS = 6, 20_000
"""So deep, and through so many folders, a dropped one is looked for."""
_ROOTS = ("Desktop", "Downloads", "Pictures", "Documents")


def inside(path: Path, most: int = _MOST) -> list[Path]:
    """Give the folders in a folder by name, no hidden ones; none where they cannot be read."""
    found: list[Path] = []
    with suppress(OSError), os.scandir(path) as entries:
        for entry in entries:
            with suppress(OSError):
                if not entry.name.startswith(".") and entry.is_dir():
                    found.append(Path(entry.path))
    return sorted(found, key=lambda one: one.name.casefold())[:most]


def find_dropped(name: str, files: Iterable[tuple[str, int]], roots: Iterable[Path]) -> Path | None:
    """Find the folder of a name that holds these files (relative path, bytes), the nearest first.

    Args:
        name: the folder's own name.
        files: some of its files, as the browser told them.
        roots: where to look, those given first before the others.
    """
    wanted = list(files)
    for path in _walked(roots):
        if path.name == name and all(_holds(path, file, size) for file, size in wanted):
            return path
    return None


def _walked(roots: Iterable[Path]) -> Iterator[Path]:
    """Give folders breadth first, each once, so many at most."""
    level, seen = list(roots), set[Path]()
    for _ in range(_DEEP):
        below: list[Path] = []
        for path in level:
            if path in seen or len(seen) >= _FOLDERS:
                continue
            seen.add(path)
            yield path
            below += inside(path)
        level = below


def _holds(folder: Path, file: str, size: int) -> bool:
    with suppress(OSError):
        return (folder / file).stat().st_size == size
    return False


def _roots(where: Path) -> list[Path]:
    """Where people keep pictures: where camsign was started, disks and cards, their own folders."""
    home = Path.home()
    disks = [path for path in mounted() if path != Path(path.anchor)]
    own = [home / name for name in _ROOTS if (home / name).is_dir()]
    return list(dict.fromkeys([where, *disks, *own, home]))


def _list(request: Request, sent: Sent) -> Response:
    """List the folders in one; without a path, where to begin."""
    roots = _roots(Path(request.app.state.where))
    said = inputs.text(sent, "path", 2000)
    path = Path(said) if said else roots[0]
    if not path.is_absolute() or not path.is_dir():
        raise InputRefused(f"there's no folder {path} on this computer", "choose another")
    up = str(path.parent) if path.parent != path else None
    told: dict[str, Any] = {"path": str(path), "up": up}
    told["folders"] = [{"name": one.name, "path": str(one)} for one in inside(path)]
    told["places"] = [{"name": one.name or str(one), "path": str(one)} for one in roots]
    return JSONResponse(told)


def _dropped(request: Request, sent: Sent) -> Response:
    """Say where a dropped folder lies."""
    name, told = inputs.text(sent, "name", 255), sent.get("files")
    if name is None or not isinstance(told, list) or not told:
        raise UsageError("the folder that was dropped is empty", "choose it instead")
    files = [_file(one) for one in told[:20]]
    found = find_dropped(name, files, _roots(Path(request.app.state.where)))
    if found is None:
        raise InputRefused(f"no folder {name} with these files was found", "choose it instead")
    return JSONResponse({"path": str(found)})


def _file(told: object) -> tuple[str, int]:
    """Read a file's relative path and bytes as the browser told them."""
    path, size = (told.get("path"), told.get("bytes")) if isinstance(told, dict) else (None, None)
    if not isinstance(path, str) or not isinstance(size, int) or len(path) > 2000:
        raise UsageError("a file that was dropped has no name", "choose the folder instead")
    pure = PurePosixPath(path)
    if pure.is_absolute() or ".." in pure.parts or "\\" in path:
        raise UsageError(f"{path} is not in the folder", "choose the folder instead")
    return path, size


ROUTES: list[BaseRoute] = [
    post("/woods/folders", _list),
    post("/woods/dropped", _dropped),
]
