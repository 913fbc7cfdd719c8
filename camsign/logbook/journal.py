"""The journal: what people said, one append-only file of JSON lines per writer.

A line is `{"sum":"<16 hex>","v":1,"writer":…,"n":…,"at":…,"act":…,"what":…,"edits":[…]}`. The sum
is the SHA-256 of all bytes behind it, `n` counts this writer's lines from 1 without a gap, `at` is
a stamp of the hybrid logical clock. A line is on the disk before anything else happens: it is the
one commit point of an edit. A last line without its end is torn: it was never acknowledged.
"""

from __future__ import annotations

import hashlib
import json
import os
import secrets
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from camsign.errors import REFUSED, CamsignError
from camsign.logbook import hlc
from camsign.logbook.edits import Edit
from camsign.logbook.folder import Folder

VERSION = 1
_HEAD = b'{"sum":"'
_BODY_AT = len(_HEAD) + 16 + 2  # behind the sum, its quote and the comma


@dataclass(frozen=True, slots=True)
class Line:
    """One act as read: `at` is its stamp, `edits` are still JSON."""

    writer: str
    n: int
    at: str
    act: str
    what: str
    edits: list[dict[str, Any]]
    version: int


@dataclass(slots=True)
class Reading:
    """What a stretch of a journal file held. `troubles` are (line number, what is wrong)."""

    lines: list[Line] = field(default_factory=list)
    troubles: list[tuple[int, str]] = field(default_factory=list)
    end: int = 0
    torn: bool = False


def encode(line: Line) -> bytes:
    """Give the bytes of a line, with its sum and its end."""
    body = {"v": line.version, "writer": line.writer, "n": line.n, "at": line.at}
    body |= {"act": line.act, "what": line.what, "edits": line.edits}
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()[1:]
    return _HEAD + _sum(text) + b'",' + text + b"\n"


def decode(raw: bytes) -> Line:
    """Read one line without its end.

    Raises:
        ValueError: it is not a line whose sum fits.
    """
    body = raw[_BODY_AT:]
    if raw[:_BODY_AT] != _HEAD + _sum(body) + b'",':
        raise ValueError("its checksum does not fit")
    j = json.loads(b"{" + body)
    return Line(
        writer=j["writer"],
        n=j["n"],
        at=j["at"],
        act=j["act"],
        what=j["what"],
        edits=j["edits"],
        version=j["v"],
    )


def _sum(body: bytes) -> bytes:
    return hashlib.sha256(body).hexdigest()[:16].encode()


def read(path: Path, start: int = 0, number: int = 0) -> Reading:
    """Read a journal file from byte `start`, before which `number` lines stand.

    A damaged line is a trouble and is passed over. A last line without its end, or one that a power
    cut left as zeros, is torn: `end` is the byte before it.
    """
    with path.open("rb") as f:
        f.seek(start)
        data = f.read()
    whole = data.rfind(b"\n") + 1
    reading = Reading(end=start + whole, torn=whole < len(data))
    for i, raw in enumerate(data[:whole].split(b"\n")[:-1], number + 1):
        try:
            reading.lines.append(decode(raw))
        except (ValueError, KeyError, TypeError) as e:
            reading.troubles.append((i, f"damaged: {e}"))
    return reading


def append(folder: Folder, what: str, edits: Sequence[Edit], seen: str = hlc.FIRST) -> Line:
    """Say something: one line at the end of this writer's file, forced to the disk.

    The caller holds the lock. A torn end, which nobody was promised, is cut off first.

    Args:
        folder: the logbook.
        what: the act in words, for `history`.
        edits: at least one.
        seen: the latest stamp known of any writer.

    Raises:
        CamsignError: the logbook cannot be written to, or its disk is full; nothing was said.
    """
    path = folder.journal / f"{folder.writer}.jsonl"
    try:
        folder.journal.mkdir(exist_ok=True)
        last = _mend_end(path)
        line = Line(
            writer=folder.writer,
            n=last.n + 1 if last else 1,
            at=hlc.next_stamp(datetime.now(UTC), max(seen, last.at if last else hlc.FIRST)),
            act=secrets.token_hex(6),
            what=what,
            edits=[e.to_json() for e in edits],
            version=VERSION,
        )
        _write(path, encode(line))
    except OSError as e:
        raise _cannot_say(folder, e) from e
    return line


def _cannot_say(folder: Folder, e: OSError) -> CamsignError:
    error = CamsignError(
        f"nothing was noted: {folder.journal} cannot be written to ({e.strerror})",
        "free some space or make the folder writable, then say it again",
    )
    error.exit_code = REFUSED
    return error


def _write(path: Path, data: bytes) -> None:
    new = not path.exists()
    start = 0 if new else path.stat().st_size
    try:
        with path.open("ab") as f:
            f.write(data)
            f.flush()
            os.fsync(f.fileno())
    except OSError:
        _cut(path, start)
        raise
    if new:
        from camsign.logbook.placing import DISK

        DISK.fsync_folder(path.parent)


def _cut(path: Path, size: int) -> None:
    if path.exists() and path.stat().st_size > size:
        os.truncate(path, size)


def _mend_end(path: Path) -> Line | None:
    """Cut a torn end off and give the last whole line; only the end of the file is read."""
    if not path.exists():
        return None
    size = path.stat().st_size
    window = min(size, 1 << 16)
    while True:
        reading = _read_end(path, size, window)
        if reading.lines or window == size:
            break
        window = min(size, window * 8)
    if reading.torn:
        _cut(path, reading.end)
    return max(reading.lines, key=lambda line: line.n, default=None)


def _read_end(path: Path, size: int, window: int) -> Reading:
    """Read the last `window` bytes; a line that begins before them counts as damaged."""
    reading = read(path, size - window)
    if reading.torn and reading.end == size - window and window < size:
        reading.lines.clear()
    return reading


def gaps(lines: Iterable[Line]) -> list[str]:
    """Name the writers from whose counted lines some are missing, and how many."""
    numbers: dict[str, set[int]] = {}
    for line in lines:
        numbers.setdefault(line.writer, set()).add(line.n)
    return [
        f"{max(ns) - len(ns)} lines of writer {w} are missing"
        for w, ns in sorted(numbers.items())
        if len(ns) < max(ns)
    ]
