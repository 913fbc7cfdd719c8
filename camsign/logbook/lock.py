"""One process at a time in a logbook's database and journal; who waits is told who holds it."""

from __future__ import annotations

import errno
import json
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filelock import BaseFileLock, FileLock, SoftFileLock, Timeout

from camsign.errors import LogbookBusy, UsageError

DEFAULT_WAIT_S = 10.0
_NO_LOCKS = (errno.ENOSYS, errno.ENOTSUP, errno.EOPNOTSUPP, errno.EINVAL, errno.ENOLCK)


def wait_s() -> float:
    """How long to wait for a busy logbook [s]; CAMSIGN_WAIT names another span."""
    said = os.environ.get("CAMSIGN_WAIT", DEFAULT_WAIT_S)
    try:
        span = float(said)
    except ValueError:
        span = -1.0
    if not 0 <= span <= 86_400:
        raise UsageError(f"CAMSIGN_WAIT = {said!r} is no number of seconds up to 86400", "mend it")
    return span


@contextmanager
def held(cache: Path) -> Iterator[None]:
    """Hold the logbook; inside one thread of one process it may be taken again.

    Raises:
        LogbookBusy: another process did not let go in time.
    """
    lock: BaseFileLock = FileLock(cache / "lock", is_singleton=True)
    try:
        lock = _acquired(lock, cache)
    except Timeout as e:
        raise LogbookBusy(
            f"the logbook is in use by {holder(cache)}",
            "wait until it has finished, or end that program, then try again",
        ) from e
    try:
        _say_who(cache)
        yield
    finally:
        lock.release()


def _acquired(lock: BaseFileLock, cache: Path) -> BaseFileLock:
    """Take the lock; on a disk without locks, one that is a file of its own does.

    Raises:
        Timeout: another process did not let go in time.
    """
    try:
        lock.acquire(timeout=wait_s())
    except (NotImplementedError, OSError) as e:
        if isinstance(e, Timeout) or getattr(e, "errno", errno.ENOSYS) not in _NO_LOCKS:
            raise
        lock = SoftFileLock(cache / "lock.file", is_singleton=True)
        lock.acquire(timeout=wait_s())
    return lock


def holder(cache: Path) -> str:
    """Say in words who took the lock last."""
    try:
        who = json.loads((cache / "lock-holder.json").read_text(encoding="utf-8"))
        return f"{who['command']} (process {who['process']}, since {who['since']})"
    except (OSError, ValueError, KeyError, TypeError):
        return "another program"


def _say_who(cache: Path) -> None:
    words = [Path(sys.argv[0]).name if sys.argv and sys.argv[0] else "python", *sys.argv[1:3]]
    who = {
        "command": " ".join(words),
        "process": os.getpid(),
        "since": time.strftime("%H:%M:%S"),
    }
    (cache / "lock-holder.json").write_text(json.dumps(who), encoding="utf-8")
