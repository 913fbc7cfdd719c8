"""Memory cards that are in a reader right now."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from pathlib import Path

DCIM = "dcim"


def mounted() -> list[Path]:
    """Give where the system has mounted its disks, cards among them, but no network drives."""
    import psutil

    return [Path(p.mountpoint) for p in psutil.disk_partitions(all=False)]


def with_dcim(mounts: Iterable[Path]) -> list[Path]:
    """Give those mounts that hold a DCIM folder at their root, as cards of cameras do (DCF 2.0)."""
    return sorted({m for m in mounts if holds_dcim(m)})


def holds_dcim(mount: Path) -> bool:
    """Say whether a DCIM folder lies right in this one."""
    try:
        with os.scandir(mount) as entries:
            return any(e.name.casefold() == DCIM and e.is_dir() for e in entries)
    except OSError:
        return False


def label_of(mount: Path) -> str:
    """Give a card's label: on Windows the volume's, elsewhere the folder that is named after it."""
    if sys.platform != "win32" or mount.name:
        return mount.name
    import ctypes

    text = ctypes.create_unicode_buffer(261)
    ask = ctypes.windll.kernel32.GetVolumeInformationW
    there = ask(str(mount.anchor), text, len(text), None, None, None, None, 0)
    return text.value if there else ""
