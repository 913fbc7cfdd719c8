"""Files and folders that systems and cameras leave beside pictures, and that nobody misses.

They are listed and left on the card, and do not stand in the way of wiping it. A file that is a
picture or a clip by its content is never one of these, whatever its name and wherever it lies:
recovery and trash folders are looked into like any other.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

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
_PICTURES = ("heic", "heif", "jpg", "jpeg", "png", "dng")
_WITH = {
    "thm": ("avi", "mov", "mp4", "mts"),
    "aae": (*_PICTURES, "mov", "mp4"),
    "mov": _PICTURES,
}
"""By a file's extension those of the file it may go with."""
_LIVE = b"com.apple.quicktime.content.identifier"
"""The key by which a phone ties the seconds around a picture to it (from memory)."""
_TRASH = re.compile(r"\.trash-\d+")

DRIVE_PICTURE = "a network drive's small picture of another file"


def index(name: str) -> str:
    """Say which system's index a folder of this name is, which often cannot be read; or ""."""
    return _INDEXES.get(name.casefold(), "")


def folder(card_path: str) -> str:
    """Say in which of a system's own folders a file lies; "" if in none.

    LOST.DIR and FOUND.000 are none of them: what a system recovered there may be part of a picture.
    """
    for name in card_path.casefold().split("/")[:-1]:
        if _TRASH.fullmatch(name):
            return "in a Linux trash folder"
        if what := _FOLDERS.get(name) or index(name):
            return what
    return ""


def file(name: str) -> str:
    """Say what the file of this name is if it is a known companion; "" if it is not."""
    low = name.casefold()
    if low.startswith("._"):
        return "macOS notes on another file"
    return _FILES.get(low, "")


def of_others(card_paths: Iterable[str]) -> dict[str, str]:
    """Give those files of a card that a network drive made from others of it, and what they are.

    Such drives keep @eaDir/NAME/ beside the file NAME (from memory).
    """
    folded = {path: path.casefold() for path in card_paths}
    all_paths, found = set(folded.values()), {}
    for path, low in folded.items():
        above, mark, rest = low.rpartition("@eadir/")
        if mark and "/" in rest and above + rest.split("/")[0] in all_paths:
            found[path] = DRIVE_PICTURE
    return found


def of_one_name(card_paths: Iterable[str]) -> dict[str, str]:
    """Give files that may go with another of the same name, and that other.

    A clip's small picture, NAME.THM (DCF 2.0); what was edited on a phone in its picture, NAME.AAE;
    the seconds around a phone's picture, NAME.MOV (these two from memory).
    """
    by_low = {path.casefold(): path for path in card_paths}
    found = {}
    for low, path in by_low.items():
        stem, _, extension = low.rpartition(".")
        mains = [by_low[m] for e in _WITH.get(extension, ()) if (m := f"{stem}.{e}") in by_low]
        if mains:
            found[path] = mains[0]
    return found


def goes_with(card_path: str, data: bytes) -> bool:
    """Say by its bytes whether a file of another's name goes with it, or is one of its own."""
    extension = card_path.rpartition(".")[2].casefold()
    if extension == "mov":
        return _LIVE in data
    return extension != "aae" or data.lstrip().startswith((b"<?xml", b"bplist"))
