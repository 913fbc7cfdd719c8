"""Pictures at an address that fsspec opens, such as S3: read there by workers without the folder.

Keys come from where fsspec's own libraries look for them (s3fs: the environment or the files of
AWS's tools); camsign neither asks for them nor hands them on.
"""

from __future__ import annotations

import platform
from functools import cache
from typing import TYPE_CHECKING

from camsign.errors import InputRefused

if TYPE_CHECKING:
    from fsspec import AbstractFileSystem


def reach(address: str) -> None:
    """Look whether a logbook's cards can be read at an address.

    Raises:
        InputRefused: they can't, from this machine.
    """
    try:
        files, root = _opened(address)
        if files.exists(f"{root}/cards"):
            return
        why = "it holds no folder cards"
    except Exception as e:  # noqa: BLE001 - each of fsspec's libraries has errors of its own
        why = _told(e)
    raise InputRefused(
        f"{platform.node()} cannot read the logbook at {address}: {why}",
        "give an address that every worker can open, with the keys and packages fsspec needs there",
    )


def fetch(address: str, file: str) -> bytes:
    """Give the bytes of a file by its path in the logbook at an address.

    Raises:
        FileNotFoundError: it is not there.
        OSError: it cannot be read, though the logbook can.
        InputRefused: nothing there can be read.
    """
    files, root = _opened(address)
    try:
        data: bytes = files.cat_file(f"{root}/{file}")
    except FileNotFoundError:
        raise
    except Exception as e:
        reach(address)
        raise OSError(_told(e)) from e
    return data


@cache
def _opened(address: str) -> tuple[AbstractFileSystem, str]:
    """Give the file system behind an address, and the logbook's path in it."""
    import fsspec  # only with camsign[cluster]

    files, root = fsspec.core.url_to_fs(address)
    return files, root.rstrip("/")


def _told(e: Exception) -> str:
    """Give an error's words in one line."""
    return " ".join(str(e).split()) or type(e).__name__
