"""The folder of one logbook: where its parts lie, how one is started, how one is found.

Which were opened on this machine is kept in the user's config folder.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

from camsign.errors import InputRefused, UsageError, quoted
from camsign.logbook import placing, settings
from camsign.logbook.inside import OutsideError, folder_name, inside, leads_inside
from camsign.logbook.settings import Settings
from camsign.systems import true_path

_OPENED, _MOST_OPENED = "logbooks.json", 30
_PARTS = ("cards", "journal")
FILES = "files"
"""The folder of a card that holds the card's own tree."""


@dataclass(frozen=True)
class Folder:
    """One logbook's folder, and its cache on this machine."""

    root: Path

    @cached_property
    def settings(self) -> Settings:
        """What logbook.toml says, read once."""
        return settings.read(self.root / settings.FILE)

    @property
    def cards(self) -> Path:
        """One folder a card."""
        return self.root / "cards"

    def original(self, file: str) -> Path:
        """Give where a picture or clip lies by its path in the table `frames`; it may be missing.

        Raises OutsideError: the path does not stay in its card's own files.
        """
        top, card, files, name = (*file.split("/", 3), "", "", "")[:4]
        home = self.cards / card / FILES
        if (top, files) != ("cards", FILES) or not leads_inside(self.cards, home):
            raise OutsideError(f"{file!r} is no picture of a card", "it was not followed")
        return inside(home, name)

    @property
    def journal(self) -> Path:
        """One file a writer."""
        return self.root / "journal"

    @cached_property
    def cache(self) -> Path:
        """The folder on this machine only, that may be deleted at any time."""
        path = cache_home() / f"{folder_name(self.settings.id)}-{self.path_hash}"
        path.mkdir(parents=True, exist_ok=True)
        return path

    @property
    def database(self) -> Path:
        """The DuckDB file."""
        return self.cache / "camsign.duckdb"

    @property
    def thumbs(self) -> Path:
        """Thumbnails by frame."""
        return self.cache / "thumbs"

    @cached_property
    def path_hash(self) -> str:
        """Eight hex digits that tell two copies of one logbook on this machine apart."""
        return hashlib.sha256(str(true_path(self.root)).encode()).hexdigest()[:8]

    @cached_property
    def writer(self) -> str:
        """Who writes from this machine into this folder: random, kept in the user's config folder.

        It is not kept in the logbook, so that a copied logbook never has two hands in one file.
        """
        name = f"{folder_name(self.settings.id)}-{self.path_hash}"
        path = config_home() / "writers" / name
        if not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            placing.place(path, secrets.token_hex(6).encode(), read_only=False)
        return path.read_text(encoding="ascii").strip()


def refuse_logbook(path: Path) -> None:
    """Refuse what is read as a file or a card, if it is a logbook, its cards or journal.

    Raises InputRefused.
    """
    parts = (path.parent if path.parent.name == "journal" else path).resolve()
    root = parts.parent if parts.name in _PARTS else parts
    if (root / settings.FILE).is_file() and (root / "journal").is_dir():
        raise InputRefused(
            f"{root} is a logbook", f"to add what it holds: camsign merge {quoted(str(root))}"
        )


def stamp_of(path: Path) -> str:
    """Give a text that changes when a file is written; "" if it is not there."""
    try:
        stat = path.stat()
    except OSError:
        return ""
    return f"{stat.st_size}:{stat.st_mtime_ns}"


def cache_home() -> Path:
    """The machine's cache folder for camsign; CAMSIGN_CACHE names another."""
    return _home("CAMSIGN_CACHE", "user_cache_path")


def config_home() -> Path:
    """The user's config folder for camsign; CAMSIGN_CONFIG names another."""
    return _home("CAMSIGN_CONFIG", "user_config_path")


def _home(variable: str, function: str) -> Path:
    named = os.environ.get(variable)
    if named:
        return Path(named)
    import platformdirs

    path: Path = getattr(platformdirs, function)("camsign", appauthor=False)
    return path


def create(
    root: Path,
    tz: str,
    home: tuple[float, float] | None,
    units: str,
    light: tuple[float, float] = (30.0, 30.0),
) -> Folder:
    """Start a logbook in `root`, which must be new or empty.

    `tz` is known to be a time zone; `home` [deg]; `units`: "imperial" or "metric"; `light`: minutes
    before sunrise and after sunset that are shooting light.

    Raises InputRefused: there is something in `root` already.
    """
    if (root / settings.FILE).exists():
        raise InputRefused(f"{root} is a logbook already", "nothing needs to be done")
    if root.exists() and (not root.is_dir() or not _is_free(root)):
        raise InputRefused(f"{root} is not an empty folder", "name a new one")
    for folder in (root, *(root / name for name in _PARTS)):
        folder.mkdir(parents=True, exist_ok=True)
    text = settings.render(secrets.token_hex(6), tz, home, units, light)
    placing.place(root / settings.FILE, text.encode(), read_only=False)
    return Folder(root)


def _is_free(root: Path) -> bool:
    """Whether a folder holds nothing, or only what a start that failed left in it."""
    return all(
        p.name.startswith(placing.TEMP_PREFIX)
        or (p.name in _PARTS and p.is_dir() and not any(p.iterdir()))
        for p in root.iterdir()
    )


class NoneHereError(UsageError):
    """There is no logbook where a command was called, and none was named."""


def find(named: Path | None, working: Path) -> Folder:
    """Find the logbook: the one named, else CAMSIGN_LOGBOOK, else the nearest above `working`.

    Where none lies there or above, the only one in a folder of `working` is meant.

    Raises UsageError: there is none, or there are several.
    """
    variable = os.environ.get("CAMSIGN_LOGBOOK")
    given = named or (Path(variable) if variable else None)
    candidates = [given] if given else [working, *working.parents]
    for candidate in candidates:
        if (candidate / settings.FILE).is_file():
            return Folder(candidate)
    if given:
        raise UsageError(f"{given} holds no logbook", f"start one with: camsign init {given}")
    below = sorted(p.parent for p in working.glob(f"*/{settings.FILE}"))
    if len(below) == 1:
        return Folder(below[0])
    if below:
        names = ", ".join(p.name for p in below[:5])
        raise UsageError(
            f"{len(below)} logbooks lie here: {names}", "name one: camsign --logbook DIR"
        )
    raise NoneHereError(
        "there is no logbook here, above, or in a folder here",
        "go into one, name it with --logbook DIR, or start one with: camsign init DIR",
    )


def remember_opened(folder: Folder) -> None:
    """Put a logbook first among those opened; where that cannot be kept, nothing is lost."""
    root = folder.root.resolve()
    paths = [root, *(path for path in _opened() if path != root)][:_MOST_OPENED]
    home = config_home()
    with suppress(OSError):
        home.mkdir(parents=True, exist_ok=True)
        text = json.dumps({"logbooks": [str(path) for path in paths]}, indent=1)
        placing.place(home / _OPENED, text.encode(), read_only=False)


def opened_before() -> list[Path]:
    """Give those opened that are still there, newest first."""
    return [path for path in _opened() if (path / settings.FILE).is_file()]


def _opened() -> list[Path]:
    try:
        found = json.loads((config_home() / _OPENED).read_text(encoding="utf-8"))["logbooks"]
        return [Path(path) for path in found if isinstance(path, str)]
    except (OSError, ValueError, KeyError, TypeError):
        return []
