"""Files and folders that systems and cameras leave beside pictures, and that nobody misses.

They are listed and left on the card, and do not stand in the way of wiping it. A file that is a
picture or a clip by its content is never one of these, whatever its name.
"""

from __future__ import annotations

import re

_FOLDERS = {
    "system volume information": "Windows keeps notes there",
    "$recycle.bin": "the Windows trash",
    "recycler": "the Windows trash",
    "recycled": "the Windows trash",
    ".trashes": "the macOS trash",
    ".trash": "a trash folder",
    ".spotlight-v100": "the macOS search index",
    ".fseventsd": "macOS keeps notes there",
    ".temporaryitems": "macOS keeps notes there",
    ".documentrevisions-v100": "macOS keeps notes there",
    "lost.dir": "Android keeps notes there",
    ".android_secure": "Android keeps notes there",
    "@eadir": "a network drive's thumbnails",
}
_FILES = {
    "thumbs.db": "a Windows thumbnail database",
    "ehthumbs.db": "a Windows thumbnail database",
    "desktop.ini": "Windows folder settings",
    "autorun.inf": "Windows start-up settings",
    "indexervolumeguid": "a Windows search mark",
    "wpsettings.dat": "Windows settings",
    ".ds_store": "macOS folder settings",
    ".apdisk": "a macOS mark",
    ".volumeicon.icns": "a macOS icon",
    ".metadata_never_index": "a macOS mark",
    ".nomedia": "an Android mark",
    ".directory": "folder settings of a Linux desktop",
}
_TRASH = re.compile(r"\.trash-\d+")

CLIP_PICTURE = "the small picture that goes with a clip"


def folder(name: str) -> str:
    """Say what the folder of this name is if it is the system's own; "" if it is not."""
    low = name.casefold()
    return "a Linux trash folder" if _TRASH.fullmatch(low) else _FOLDERS.get(low, "")


def file(name: str) -> str:
    """Say what the file of this name is if it is a known companion; "" if it is not."""
    low = name.casefold()
    if low.startswith("._"):
        return "macOS notes on another file"
    return _FILES.get(low, "")


def of_clip(card_path: str, paths: frozenset[str]) -> bool:
    """Say whether a camera wrote the file to go with a clip of the same name (DCF 2.0: .THM).

    `paths` are the case-folded paths of all files of the card.
    """
    stem = card_path.casefold().rpartition(".")[0]
    return any(f"{stem}.{e}" in paths for e in ("avi", "mov", "mp4"))
