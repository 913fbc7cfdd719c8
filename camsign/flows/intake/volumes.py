"""Cards as the system mounts them: which are in a reader, and on which one a folder lies."""

from __future__ import annotations

import os
from collections.abc import Collection
from pathlib import Path

from camsign.flows.intake import companions
from camsign.systems import is_system_disk

DCIM = "dcim"
_CARD_SYSTEMS = frozenset({"vfat", "msdos", "fat", "fat32", "exfat"})
"""What cards are formatted with: FAT12, FAT16, FAT32, exFAT (SD Association, File System)."""

_LOOKED_AT = 20_000


def mounted() -> list[Path]:
    """Give where the system has mounted its disks, cards among them, but no network drives."""
    import psutil

    return [Path(p.mountpoint) for p in psutil.disk_partitions(all=False)]


def holds_dcim(mount: Path) -> bool:
    """Say whether a DCIM folder lies right in this one."""
    try:
        with os.scandir(mount) as entries:
            return any(e.name.casefold() == DCIM and e.is_dir() for e in entries)
    except OSError:
        return False


def widened(path: Path) -> Path:
    """Give the whole card for a DCIM folder right on it or one inside; else the path itself."""
    mount = mount_of(path)
    inside = path.relative_to(mount).parts
    return mount if inside and inside[0].casefold() == DCIM else path


def card_of(path: Path) -> Path:
    """Give the root of the card, or of the copy of one, on which a folder lies.

    That is the mounted volume if it is a card: it holds DCIM, or has a card's file system and the
    folder is no copy with a DCIM of its own. Else it is the folder that holds the outermost DCIM
    above; else the folder itself.
    """
    mount = mount_of(path)
    if not is_system_disk(mount) and holds_dcim(mount):
        return mount
    above = [p.parent for p in (path, *path.parents) if p.name.casefold() == DCIM]
    if above:
        return above[-1]
    if not is_system_disk(mount) and not holds_dcim(path) and _file_system(mount) in _CARD_SYSTEMS:
        return mount
    return path


def mount_of(path: Path) -> Path:
    """Give the nearest place at or above a path where a volume is mounted."""
    return next((p for p in (path, *path.parents) if os.path.ismount(p)), Path(path.anchor))


def not_named(card: Path, named: Collection[str], logbook: str) -> str:
    """Give a file of the card that lies in none of the folders that were named; "" if all do.

    What systems leave by a known name does not count. Of a card with very many folders the first
    folder that was not looked into is given.
    """
    stack, seen = [str(card)], 0
    while stack:
        folder = stack.pop()
        if folder in named or folder == logbook:
            continue
        try:
            entries = list(os.scandir(folder))
        except OSError:
            return _inside(card, folder)
        seen += len(entries)
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                stack += [] if companions.index(entry.name) else [entry.path]
            elif not companions.file(entry.name):
                return _inside(card, entry.path)
        if seen > _LOOKED_AT:
            return _inside(card, folder)
    return ""


def _inside(card: Path, path: str) -> str:
    return Path(path).relative_to(card).as_posix()


def _file_system(mount: Path) -> str:
    import psutil

    parts = psutil.disk_partitions(all=True)
    return next((p.fstype.casefold() for p in parts if Path(p.mountpoint) == mount), "")
