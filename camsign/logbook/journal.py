"""The journal: what people said, one append-only file of JSON lines per writer.

A line is `{"sum":"<16 hex>","v":1,"writer":…,"n":…,"at":…,"act":…,"what":…,"edits":[…]}`. The sum
is the SHA-256 of all bytes behind it, `n` counts this writer's lines from 1 without a gap, `at` is
a stamp of the hybrid logical clock. A line is on the disk before anything else happens: it is the
one commit point of an edit. A last line without its end is torn: it was never acknowledged, unless
this machine remembers that it was (`memory`): then bytes of it were lost, and it is told.
"""

from __future__ import annotations

import errno
import hashlib
import json
import os
import re
import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

from camsign.errors import REFUSED, CamsignError, UsageError
from camsign.logbook import memory
from camsign.logbook.checked import check_edit, check_envelope, is_stamp
from camsign.logbook.edits import Edit, to_json
from camsign.logbook.folder import Folder
from camsign.logbook.inside import leads_inside
from camsign.logbook.placing import DISK, force

VERSION = 1
FIRST = "0001-01-01T00:00:00.000Z-00000"
"""A stamp before all others."""
_MOST_AT_ONCE = 99_999
_HEAD = b'{"sum":"'
_BODY_AT = len(_HEAD) + 16 + 2  # behind the sum, its quote and the comma


@dataclass(slots=True)
class Line:
    """One act as read: `at` is its stamp, `edits` are still JSON, `number` its line in the file.

    Nobody changes one; a frozen class takes three times as long to make, and there are millions.
    """

    writer: str
    n: int
    at: str
    act: str
    what: str
    edits: list[dict[str, Any]]
    version: int
    number: int = field(default=0, compare=False)


@dataclass(slots=True)
class Reading:
    """What a stretch of a journal file held. `troubles` are (line number, what is wrong).

    `counted`: writer and `n` of every line that tells them, also of those that cannot be replayed.
    `damaged`: how many lines tell nothing at all. `end`: behind the last whole line.
    """

    lines: list[Line] = field(default_factory=list)
    troubles: list[tuple[int, str]] = field(default_factory=list)
    counted: list[tuple[str, int]] = field(default_factory=list)
    damaged: int = 0
    end: int = 0
    torn: bool = False


def encode(line: Line) -> bytes:
    """Give the bytes of a line, with its sum and its end."""
    body = {"v": line.version, "writer": line.writer, "n": line.n, "at": line.at}
    body |= {"act": line.act, "what": line.what, "edits": line.edits}
    text = json.dumps(body, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()[1:]
    return _HEAD + _sum(text) + b'",' + text + b"\n"


def decode(raw: bytes, number: int = 0) -> Line:
    """Read one line without its end; its edits are still to be checked.

    Raises ValueError: it is not a line whose sum fits, or none that this or a newer version writes.
    """
    body = raw[_BODY_AT:]
    if raw[:_BODY_AT] != _HEAD + _sum(body) + b'",':
        raise ValueError("damaged: its checksum does not fit")
    try:
        j = json.loads(b"{" + body, parse_constant=_refuse)
    except (ValueError, RecursionError) as e:
        raise ValueError(f"left out: it is no JSON that can be read ({e})") from e
    check_envelope(j)
    return Line(j["writer"], j["n"], j["at"], j["act"], j["what"], j["edits"], j["v"], number)


def _refuse(constant: str) -> None:
    raise ValueError(f"{constant} is no number")


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
        plain = _plain(raw, i)
        try:
            line = plain or decode(raw, i)
        except ValueError as e:
            reading.troubles.append((i, str(e)))
            reading.damaged += 1
            continue
        reading.counted.append((line.writer, line.n))
        try:
            for edit in () if plain or line.version > VERSION else line.edits:
                check_edit(edit)
        except ValueError as e:
            reading.troubles.append((i, str(e)))
        else:
            reading.lines.append(line)
    return reading


_PLAIN = re.compile(
    r'\{"sum":"([0-9a-f]{16})","v":1,"writer":"([0-9a-f]{1,40})","n":([1-9][0-9]{0,8}),"at":"([^"\\]*)",'
    r'"act":"([0-9a-f]{1,40})","what":"([ !#-\[\]-~]*)","edits":\[\{"tag":(\{[ !#-\[\]-z|",:]*\}),'
    r'"frames":\["([0-9a-f]{16}(?:","[0-9a-f]{16})*)"\]\}\]\}'
)


def _plain(raw: bytes, number: int) -> Line | None:
    """Read a line that is one tag of some frames, as most are, in a third of `decode`'s time; give
    None for any other, and for one in which anything is wrong.
    """
    if not (found := _PLAIN.fullmatch(raw.decode("latin-1"))):  # which any byte can be read as
        return None
    digest, writer, n, at, act, what, tag, frames = found.groups()
    if _sum(raw[_BODY_AT:]) != digest.encode():
        return None
    said = _plain_tag(tag)
    if said is None or not is_stamp(at):
        return None
    edits = [{"tag": said, "frames": frames.split('","')}]
    return Line(writer, int(n), at, act, what, edits, VERSION, number)


@lru_cache(1024)
def _plain_tag(text: str) -> dict[str, Any] | None:
    """Read and check what a tag says, once however many lines say it."""
    try:
        tag: dict[str, Any] = json.loads(text, parse_constant=_refuse)
        check_edit({"tag": tag, "frames": []})
    except ValueError:
        return None
    return tag


def files(folder: Folder) -> tuple[list[Path], list[tuple[str, str]]]:
    """Give the journal files of a logbook, and (name, why) of what lies there and is none.

    A tool that syncs or copies may have given one another ending: what counts is how it begins.
    Hidden files and those that a tool is just writing (`~…`) are passed over.
    """
    found: list[Path] = []
    strange: list[tuple[str, str]] = []
    if not folder.journal.is_dir():
        return found, strange
    for path in sorted(folder.journal.iterdir()):
        if path.name.startswith((".", "~")) or path.name.lower() in _SYSTEM_FILES:
            continue
        why = _why_none(folder, path)
        if why:
            strange.append((path.name, why))
        elif why is None:
            found.append(path)
    return found, strange


def _why_none(folder: Folder, path: Path) -> str | None:
    """Say why a file in the journal's folder is not read; None if it is, "" if it is empty."""
    if not leads_inside(folder.journal, path):
        return "is a link that leads out of the journal; it was not followed"
    if not path.is_file():
        return "is no file"
    try:
        with path.open("rb") as f:
            begin = f.read(len(_HEAD))
    except OSError as e:
        return f"cannot be read ({e.strerror})"
    if path.suffix.lower() == ".jsonl" or begin == _HEAD:
        return None
    return "" if not begin else "is no journal; it was left out"


_SYSTEM_FILES = frozenset({"desktop.ini", "thumbs.db", "icon\r"})


def remember(folder: Folder, seen: Mapping[str, int]) -> None:
    """Keep the highest `n` of writers; what cannot be kept is not, since it is only a memory."""
    before = memory.counts(folder, memory.LINES)
    now = {w: n for w, n in seen.items() if n > before.get(w, 0)}
    memory.keep(folder, memory.LINES, now)


def next_stamp(now: datetime, seen: str = FIRST) -> str:
    """Give a stamp later than `seen` and not before `now` (aware).

    A stamp of the hybrid logical clock is the wall clock in UTC to the millisecond with a counter,
    as text that sorts: whoever has seen one gives a later one, even with a clock that is behind, so
    all copies agree on the order. Source: Kulkarni et al. 2014, "Logical physical clocks", OPODIS,
    LNCS 8878:17-32.
    """
    wall = _wall(now)
    seen_wall, counter = seen[:-6], int(seen[-5:])
    if wall > seen_wall:
        return f"{wall}-00000"
    if counter < _MOST_AT_ONCE:
        return f"{seen_wall}-{counter + 1:05d}"
    # The counter is full: the next millisecond, so that the text goes on sorting.
    return f"{_wall(datetime.fromisoformat(seen_wall) + timedelta(milliseconds=1))}-00000"


def _wall(now: datetime) -> str:
    return now.astimezone(UTC).isoformat(timespec="milliseconds").removesuffix("+00:00") + "Z"


def append(folder: Folder, what: str, edits: Sequence[Edit], seen: str = FIRST) -> Line:
    """Say something: one line at the end of this writer's file, forced to the disk.

    The caller holds the lock. A torn end, which nobody was promised, is cut off first; one that was
    promised is ended where it stands, and from then on is told as a damaged line.

    `what`: the act in words, for `history`; `seen`: the latest stamp known of any writer.

    Raises:
        UsageError: an edit could not be replayed; nothing was said.
        CamsignError: the logbook cannot be written to, or its disk is full; nothing was said.
    """
    said = _checked(edits)
    path = folder.journal / f"{folder.writer}.jsonl"
    try:
        folder.journal.mkdir(exist_ok=True)
        if not leads_inside(folder.journal, path):
            raise OSError(errno.ELOOP, "the file is a link that leads elsewhere")
        known = memory.counts(folder, memory.LINES).get(folder.writer, 0)
        last = _mend_end(path, known)
        line = Line(
            writer=folder.writer,
            n=max(last.n if last else 0, known) + 1,
            at=next_stamp(datetime.now(UTC), max(seen, last.at if last else FIRST)),
            act=secrets.token_hex(6),
            what=what,
            edits=said,
            version=VERSION,
        )
        _write(path, encode(line))
    except OSError as e:
        raise _cannot_say(folder, e) from e
    memory.keep(folder, memory.LINES, {line.writer: line.n})
    return line


def _checked(edits: Sequence[Edit]) -> list[dict[str, Any]]:
    """Give edits as they will be read back; what could not be replayed is not said at all."""
    try:
        text = json.dumps(list(map(to_json, edits)), ensure_ascii=False)
        text.encode()
        said: list[dict[str, Any]] = json.loads(text)
        for edit in said:
            check_edit(edit)
    except ValueError as e:
        raise UsageError(f"nothing was noted, since it could not be read back: {e}") from e
    return said


def _cannot_say(folder: Folder, e: OSError) -> CamsignError:
    error = CamsignError(
        f"nothing was noted: {folder.journal} cannot be written to ({e.strerror})",
        "free some space or make the folder writable, then do it again",
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
            force(f.fileno())
        if new:
            DISK.fsync_folder(path.parent)
    except OSError:
        _cut(path, start)
        raise


def _cut(path: Path, size: int) -> None:
    if path.exists() and path.stat().st_size > size:
        os.truncate(path, size)


def _mend_end(path: Path, known: int) -> Line | None:
    """Mend a torn end and give the last whole line; only the end of the file is read, and a line
    that begins before it counts as damaged.

    `known`: how many lines are remembered. One beyond the last whole one was acknowledged.
    """
    if not path.exists():
        return None
    size = path.stat().st_size
    window = min(size, 1 << 16)
    while True:
        reading = read(path, size - window)
        if reading.torn and reading.end == size - window and window < size:
            reading.lines.clear()  # all of the window is one line without its end
        if reading.lines or window == size:
            break
        window = min(size, window * 8)
    last = max(reading.lines, key=lambda line: line.n, default=None)
    if reading.torn and known > (last.n if last else 0):
        with path.open("ab") as f:
            f.write(b"\n")
    elif reading.torn:
        _cut(path, reading.end)
    return last
