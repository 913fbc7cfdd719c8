"""One process at a time in a logbook's database and journal; who waits is told who holds it.

Who waits does so in line, and whoever came first gets it first. A place in the line is a file named
by its number, whose time its owner renews while it waits. One that is not renewed belongs to a
program that was killed or put to sleep: it is passed over.
"""

from __future__ import annotations

import json
import os
import secrets
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from camsign import systems
from camsign.errors import LogbookBusy, UsageError

DEFAULT_WAIT_S = 10.0
_LOOK_S = 0.02
_RENEWED_S = 0.5
_ASLEEP_S = 3.0
_FORGOTTEN_S = 3600.0
_LOCK = "lock"
_HOLDER = "lock-holder.json"
_mine = threading.local()
_handles: set[int] = set()
LetGo = Callable[[], None]


def wait_s() -> float:
    """How long to wait for a busy logbook of which nobody lets go [s].

    CAMSIGN_WAIT names another span.
    """
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

    Who finds it busy waits in line, and as long as the line moves.

    Raises LogbookBusy: nobody let go of it for too long.
    """
    holding: set[Path] = _mine.__dict__.setdefault("holding", set())
    if cache in holding:
        yield
        return
    let_go, owner = _acquired(cache), os.getpid()
    holding.add(cache)
    try:
        _say_who(cache)
        yield
    finally:
        holding.discard(cache)
        if os.getpid() == owner:  # a child that was forked inside leaves it to its parent
            let_go()


def _forked() -> None:
    """A forked child holds nothing; open handles of its own would keep what a dead parent held."""
    for handle in _handles:
        os.close(handle)
    _handles.clear()
    _mine.__dict__.clear()


systems.after_fork(_forked)


def _acquired(cache: Path) -> LetGo:
    line = cache / "waiting"
    span = wait_s()
    cache.mkdir(parents=True, exist_ok=True)  # a cache may be thrown away at any time
    if not _anybody(line) and (let_go := _taken(cache)):
        return let_go
    with _in_line(line) as is_next:
        since, until = _stamp(cache), time.monotonic() + span
        while True:
            if is_next() and (let_go := _taken(cache)):
                return let_go
            if (now := _stamp(cache)) != since:
                since, until = now, time.monotonic() + span
            if time.monotonic() > until:
                raise LogbookBusy(
                    f"the logbook is in use by {holder(cache)}",
                    "wait until it has finished, or end that program, then try again",
                )
            time.sleep(_LOOK_S)


@contextmanager
def _in_line(folder: Path) -> Iterator[Callable[[], bool]]:
    """Hold a place in the line of a folder; give what says whether nobody awake came before."""
    number = 1 + max((int(name.split("-")[0]) for name in _names(folder)), default=0)
    place = folder / f"{number:012d}-{os.getpid()}-{secrets.token_hex(4)}"
    renewed = float("-inf")

    def is_next() -> bool:
        nonlocal renewed
        if time.monotonic() - renewed > _RENEWED_S:
            with suppress(OSError):  # a full disk: then without a place, as luck will have it
                folder.mkdir(exist_ok=True)
                place.touch()
            renewed = time.monotonic()
        return not _anybody(folder, before=place.name)

    is_next()
    try:
        yield is_next
    finally:  # a killed program leaves its place to be passed over
        with suppress(OSError):
            place.unlink(missing_ok=True)


def _anybody(folder: Path, before: str = "~") -> bool:
    """Say whether somebody who is awake waits in line, before a place if one is named."""
    return any(name < before and _is_awake(folder / name) for name in _names(folder))


def _names(folder: Path) -> list[str]:
    try:
        return sorted(n for n in os.listdir(folder) if n.split("-")[0].isdecimal())  # noqa: PTH208
    except OSError:
        return []


def _is_awake(path: Path) -> bool:
    try:
        age = abs(time.time() - path.stat().st_mtime)
    except OSError:
        return False
    if age > _FORGOTTEN_S:
        with suppress(OSError):
            path.unlink()
    return age <= _ASLEEP_S


def _taken(cache: Path) -> LetGo | None:
    """Take the lock if it is free; on a disk without locks, a file of its own does."""
    handle = os.open(cache / _LOCK, os.O_RDWR | os.O_CREAT, 0o644)
    try:
        if systems.try_lock(handle):
            _handles.add(handle)
            return lambda: _let_go(handle)
    except OSError as e:
        os.close(handle)
        if e.errno not in systems.NO_LOCKS:
            raise
        return _taken_by_file(cache)
    os.close(handle)
    return None


def _let_go(handle: int) -> None:
    _handles.discard(handle)
    try:
        systems.unlock(handle)
    finally:
        os.close(handle)


def _taken_by_file(cache: Path) -> LetGo | None:
    from filelock import SoftFileLock, Timeout

    soft = SoftFileLock(cache / "lock.file", is_singleton=False)
    try:
        soft.acquire(timeout=0)
    except Timeout:
        return None
    return soft.release


def _stamp(cache: Path) -> int:
    """Give a number that changes whenever somebody takes the lock."""
    try:
        return (cache / _LOCK).stat().st_mtime_ns
    except OSError:
        return 0


def holder(cache: Path) -> str:
    """Say in words who took the lock last."""
    try:
        who = json.loads((cache / _HOLDER).read_text(encoding="utf-8"))
        return f"{who['command']} (process {who['process']}, since {who['since']})"
    except (OSError, ValueError, KeyError, TypeError):
        return "another program"


def _say_who(cache: Path) -> None:
    now = time.time_ns()  # finer than the system's own time of a file; a full disk has room for it
    with suppress(OSError):
        os.utime(cache / _LOCK, ns=(now, now))
    words = [Path(sys.argv[0]).name if sys.argv and sys.argv[0] else "python", *sys.argv[1:3]]
    who = {
        "command": " ".join(words),
        "process": os.getpid(),
        "since": time.strftime("%H:%M:%S"),
    }
    with suppress(OSError):  # a courtesy; a full disk is told by what needs the room
        (cache / _HOLDER).write_text(json.dumps(who), encoding="utf-8")
