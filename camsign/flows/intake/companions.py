"""Files and folders that systems and cameras leave beside pictures, and that nobody misses.

They are listed and left on the card, and do not stand in the way of wiping it. A file that is a
picture or a clip by its content is never one of these, whatever its name and wherever it lies:
recovery and trash folders are looked into like any other.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

_FOLDERS = {
    "system volume information": "in the folder where Windows keeps notes",
    "$recycle.bin": "in the Windows trash",
    "recycler": "in the Windows trash",
    "recycled": "in the Windows trash",
    ".trashes": "in the macOS trash",
    ".trash": "in a trash folder",
    ".android_secure": "in the folder where Android keeps notes",
    "@eadir": "in a network drive's folder of thumbnails",
}
_INDEXES = {
    ".spotlight-v100": "the macOS search index",
    ".fseventsd": "macOS keeps notes there",
    ".temporaryitems": "macOS keeps notes there",
    ".documentrevisions-v100": "macOS keeps notes there",
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
_CLIPS = ("avi", "mov", "mp4")
_TRASH = re.compile(r"\.trash-\d+")

DRIVE_PICTURE = "a network drive's small picture of another file"


def is_index(name: str) -> bool:
    """Say whether a folder of this name is a system's index, where no picture ever is put."""
    return name.casefold() in _INDEXES


def index(name: str) -> str:
    """Say what the index folder of this name is."""
    return _INDEXES[name.casefold()]


def folder(card_path: str) -> str:
    """Say in which of a system's own folders a file lies; "" if in none.

    LOST.DIR and FOUND.000 are none of them: what a system recovered there may be part of a picture.
    """
    for name in card_path.casefold().split("/")[:-1]:
        if _TRASH.fullmatch(name):
            return "in a Linux trash folder"
        if name in _FOLDERS:
            return _FOLDERS[name]
    return ""


def file(name: str) -> str:
    """Say what the file of this name is if it is a known companion; "" if it is not."""
    low = name.casefold()
    if low.startswith("._"):
        return "macOS notes on another file"
    return _FILES.get(low, "")


def of_another(card_path: str, paths: frozenset[str]) -> str:
    """Say of which file of the card a network drive made the picture; "" if of none.

    `paths` are the case-folded paths of all files of the card. Such drives keep @eaDir/NAME/ beside
    the file NAME (from memory).
    """
    above, mark, rest = card_path.casefold().rpartition("@eadir/")
    return DRIVE_PICTURE if mark and "/" in rest and above + rest.split("/")[0] in paths else ""


def clip_of(card_path: str, paths: Mapping[str, str]) -> str:
    """Give the clip that a small picture goes with, which cameras call NAME.THM (DCF 2.0); or "".

    `paths` are the paths of all files of the card by the same in case-folded letters.
    """
    stem, _, extension = card_path.casefold().rpartition(".")
    if extension != "thm":
        return ""
    return next((paths[c] for e in _CLIPS if (c := f"{stem}.{e}") in paths), "")
