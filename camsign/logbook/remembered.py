"""Which logbooks were opened on this machine, newest first: kept in the user's config folder."""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path

from camsign.logbook import placing, settings
from camsign.logbook.folder import Folder, config_home

_FILE = "logbooks.json"
_MOST = 30


def remember(folder: Folder) -> None:
    """Put a logbook first among those opened; where that cannot be kept, nothing is lost."""
    root = folder.root.resolve()
    paths = [root, *(path for path in _kept() if path != root)][:_MOST]
    home = config_home()
    with suppress(OSError):
        home.mkdir(parents=True, exist_ok=True)
        text = json.dumps({"logbooks": [str(path) for path in paths]}, indent=1)
        placing.place(home / _FILE, text.encode(), read_only=False)


def remembered() -> list[Path]:
    """Give those opened that are still there, newest first."""
    return [path for path in _kept() if (path / settings.FILE).is_file()]


def _kept() -> list[Path]:
    try:
        found = json.loads((config_home() / _FILE).read_text(encoding="utf-8"))["logbooks"]
        return [Path(path) for path in found if isinstance(path, str)]
    except (OSError, ValueError, KeyError, TypeError):
        return []
