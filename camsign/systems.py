"""What differs between Linux, macOS and Windows, in one place: locks, forcing, renaming, paths.

Nothing else asks which system it runs on. A test stands in another one by `SYSTEM` and the calls
that only that system has; what comes from a maker's own pages names them.
"""

from __future__ import annotations

import errno
import importlib
import io
import os
import sys
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import IO, Any


def _only_here(name: str) -> Any:
    try:
        return importlib.import_module(name)
    except ImportError:
        return None


SYSTEM = {"win32": "windows", "darwin": "macos"}.get(sys.platform, "posix")
_fcntl: Any = _only_here("fcntl")
_msvcrt: Any = _only_here("msvcrt")

# What a disk answers that knows no such call, as some FUSE, network and camera file systems do
# (errno of POSIX.1-2017, section 2.3); one that is full or broken answers otherwise.
UNKNOWN_CALL = frozenset({errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP})
NO_LOCKS = UNKNOWN_CALL | {errno.ENOLCK}
_TAKEN = (errno.EAGAIN, errno.EACCES, errno.EDEADLK, getattr(errno, "EDEADLOCK", errno.EDEADLK))
_RENAME_TRIES = 20
_SHARING = 32  # ERROR_SHARING_VIOLATION (Microsoft, System Error Codes)


def try_lock(handle: int) -> bool:
    """Lock an open file for this handle alone, without waiting; it ends with the handle or process.

    Raises OSError: with an errno of `NO_LOCKS` where the disk knows no locks.
    """
    try:
        if SYSTEM == "windows":
            os.lseek(handle, 0, os.SEEK_SET)
            _msvcrt.locking(handle, _msvcrt.LK_NBLCK, 1)
        else:
            _fcntl.flock(handle, _fcntl.LOCK_EX | _fcntl.LOCK_NB)
    except OSError as e:
        if e.errno in _TAKEN:
            return False
        raise
    return True


def unlock(handle: int) -> None:
    """Let go of what `try_lock` took."""
    if SYSTEM == "windows":
        os.lseek(handle, 0, os.SEEK_SET)
        _msvcrt.locking(handle, _msvcrt.LK_UNLCK, 1)
    else:
        _fcntl.flock(handle, _fcntl.LOCK_UN)


def flush(handle: int) -> None:
    """Force an open file to the disk itself: macOS stops at the drive's memory unless told more.

    Source: Apple, fsync(2) and fcntl(2), F_FULLFSYNC; disks that do not know it are asked plainly
    (ENOTSUP of SMB, EINVAL of WebDAV, ENOTTY of others in Apple's published sources).

    Raises OSError: the disk is full or broken, or knows no such call.
    """
    fully = getattr(_fcntl, "F_FULLFSYNC", None)
    if fully is not None:
        try:
            _fcntl.fcntl(handle, fully)
            return
        except OSError as e:
            if e.errno not in UNKNOWN_CALL | {errno.ENOTTY}:
                raise
    os.fsync(handle)


def after_fork(call: Callable[[], None]) -> None:
    """Have a forked child do this first; Windows forks nothing."""
    if hasattr(os, "register_at_fork"):
        os.register_at_fork(after_in_child=call)


def flush_folder(folder: Path) -> None:
    """Force a folder's own entries to the disk; Windows offers no such call.

    Raises OSError: as `flush`.
    """
    if SYSTEM == "windows":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        flush(handle)
    finally:
        os.close(handle)


def replace(source: Path, target: Path) -> None:
    """Rename, over what is there; a scanner that holds a file for a moment (Windows) is waited for.

    Raises OSError: it cannot be renamed.
    """
    for attempt in range(_RENAME_TRIES):
        try:
            source.replace(target)
            return
        except PermissionError:
            if SYSTEM != "windows" or attempt == _RENAME_TRIES - 1:
                raise
            time.sleep(0.05 * (attempt + 1))


def remove(path: Path) -> None:
    """Delete a file, read-only or not: Windows refuses to delete one that is read-only.

    Raises OSError: it cannot be deleted; FileNotFoundError where there is none.
    """
    if SYSTEM == "windows":
        path.chmod(0o600)
    path.unlink()


def remove_tree(root: Path) -> None:
    """Delete a folder with all in it, read-only or not, as far as that can be done."""
    for folder, _, names in os.walk(root, topdown=False):
        for name in names:
            with suppress(OSError):
                remove(Path(folder) / name)
        with suppress(OSError):
            Path(folder).rmdir()


def is_held(path: Path, told: str) -> bool:
    """Say whether another program holds a file, by the words of an error and by trying.

    Windows tells in its own language, and never of a lock: there the file is opened for writing,
    which its share modes refuse (Microsoft, CreateFileW, dwShareMode).
    """
    if SYSTEM != "windows":
        return "lock" in told.lower()
    try:
        with path.open("r+b"):
            return False
    except OSError as e:
        return isinstance(e, PermissionError) or getattr(e, "winerror", 0) == _SHARING


def true_path(path: Path) -> Path:
    """Give a path as its disk spells it: where case is ignored, ~/woods and ~/Woods are one folder.

    Where the disk tells cases apart, and where there is nothing yet, it is resolved and no more.
    """
    path = path.resolve()
    spelled = Path(path.anchor)
    for part in path.parts[1:]:
        there = spelled / part
        spelled = spelled / _as_listed(spelled, part) if _ignores_case(there) else there
    return spelled


def _ignores_case(path: Path) -> bool:
    swapped = path.with_name(path.name.swapcase())
    try:
        return swapped != path and swapped.samefile(path)
    except OSError:
        return False


def _as_listed(folder: Path, name: str) -> str:
    try:
        names = os.listdir(folder)  # noqa: PTH208  (a fake of another disk stands in here)
    except OSError:
        return name
    if name in names:
        return name
    alike = [n for n in names if n.casefold() == name.casefold()]
    return alike[0] if len(alike) == 1 else name


def is_stub(path: Path) -> bool:
    """Whether a synced folder holds only the name of the file, so that reading would fetch it."""
    try:
        stat = path.stat()
    except OSError:
        return False
    windows = getattr(stat, "st_file_attributes", 0) & 0x0040_1000  # recall on access, offline
    macos = getattr(stat, "st_flags", 0) & 0x4000_0000  # SF_DATALESS
    return bool(windows or macos)


def long_path(path: str) -> str:
    """Give the path so that Windows takes it beyond 260 characters; elsewhere as it is.

    Source: Microsoft, Maximum Path Length Limitation.
    """
    if SYSTEM != "windows" or path.startswith("\\\\"):
        return path
    return "\\\\?\\" + str(Path(path).absolute())


def volume_label(mount: Path) -> str:
    """Give a volume's label: on Windows the drive's, elsewhere the folder that is named after it.

    Source: Microsoft, GetVolumeInformationW.
    """
    if SYSTEM != "windows" or mount.name:
        return mount.name
    import ctypes

    text = ctypes.create_unicode_buffer(261)
    ask = ctypes.windll.kernel32.GetVolumeInformationW  # type: ignore[attr-defined,unused-ignore]
    there = ask(str(mount.anchor), text, len(text), None, None, None, None, 0)
    return text.value if there else ""


def other_disk() -> str:
    """Give an example of where another disk is found on this system."""
    return {"windows": "E:\\", "macos": "/Volumes/BACKUP"}.get(SYSTEM, "/media/usb")


def is_system_disk(mount: Path) -> bool:
    """Whether it is the disk that the system runs from, which nobody wipes as a card."""
    if SYSTEM == "windows":
        return mount.drive.casefold() == os.environ.get("SYSTEMDRIVE", "C:").casefold()
    return mount == Path(mount.anchor)


def shows_windows() -> bool:
    """Whether a browser may be opened: without a display a text browser would take the terminal."""
    if SYSTEM in ("windows", "macos"):
        return True
    return any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"))


def may_reuse_ports() -> bool:
    """Whether SO_REUSEADDR only skips a wait; on Windows another program could take the port over.

    Source: Microsoft, Using SO_REUSEADDR and SO_EXCLUSIVEADDRUSE.
    """
    return SYSTEM != "windows"


def bear_any_text(*streams: IO[str]) -> None:
    """Let streams write a substitute for what their encoding lacks, not fail.

    A Windows pipe is cp1252 or cp437, a C locale may be ASCII.
    """
    for stream in streams:
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
