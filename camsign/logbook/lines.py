"""The journal's files into the database: what is new, what was replaced, what is missing."""

from __future__ import annotations

import hashlib
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.logbook import journal, memory, replay
from camsign.logbook.cardfacts import ON_PURPOSE
from camsign.logbook.database import insert_rows
from camsign.logbook.folder import Folder, stamp_of

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_WINDOW = 1 << 20


def outdated(con: DuckDBPyConnection, folder: Folder) -> bool:
    """Say whether a file that was read is gone, shorter, or holds other bytes than were read.

    Another file in its place differs from its first own line on, since each line has its number,
    time and id; so the last megabyte before the place reached tells. A file that did not grow and
    is longer than that must be the very file that was read.
    """
    rows = con.execute('SELECT file, bytes, stamp, "sum" FROM journals').fetchall()
    return any(_is_other(folder.journal / file, size, *rest) for file, size, *rest in rows)


def _is_other(path: Path, size: int, stamp: str, digest: str) -> bool:
    now = stamp_of(path)
    if now == stamp:
        return False
    length = int(now.partition(":")[0] or -1)
    if length < size or (length == size and size > _WINDOW):
        return True
    return _sum(path, size) != digest


def _sum(path: Path, end: int) -> str:
    """Give a hash of what lies right before byte `end`; "" if it cannot be read."""
    try:
        with path.open("rb") as f:
            f.seek(max(0, end - _WINDOW))
            return hashlib.sha256(f.read(min(end, _WINDOW))).hexdigest()[:16]
    except OSError:
        return ""


def take_in(con: DuckDBPyConnection, folder: Folder) -> dict[str, int]:
    """Replay every line that is new, and tell of files and lines that are missing or none.

    Returns:
        The highest `n` of each writer among the lines that were read.
    """
    # Before the files are read: what is said meanwhile is not missing.
    last = memory.counts(folder, memory.LINES)
    paths, strange = journal.files(folder)
    sql = "SELECT file, bytes, lines, damaged, stamp, latest FROM journals"
    read = {file: reached for file, *reached in con.execute(sql).fetchall()}
    for path in paths:
        start, count, damaged, stamp, latest = read.get(path.name, (0, 0, 0, "", journal.FIRST))
        if (now := stamp_of(path)) == stamp:
            continue
        try:
            reading = journal.read(path, start, count)
        except OSError as e:
            strange.append((path.name, f"cannot be read ({e.strerror})"))
            continue
        replay.take_lines(con, f"journal/{path.name}", reading.lines)
        _note(con, path, reading, (count, damaged, now, latest))
    for name, why in strange:
        con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [f"journal/{name}", why])
    return _tell_missing(con, folder, last)


def _note(
    con: DuckDBPyConnection, path: Path, reading: journal.Reading, reached: Sequence[Any]
) -> None:
    """Note how far a file was read, and what of it could not be."""
    count, damaged, now, latest = reached
    insert_rows(con, "troubles", [(f"journal/{path.name}", *told) for told in reading.troubles])
    _count(con, reading.counted)
    con.execute("DELETE FROM journals WHERE file = ?", [path.name])
    count += len(reading.counted) + reading.damaged
    damaged += reading.damaged
    latest = max([latest, *(x.at for x in reading.lines if x.version <= journal.VERSION)])
    row = (path.name, reading.end, count, damaged, now, _sum(path, reading.end), latest)
    insert_rows(con, "journals", [row])


def _count(con: DuckDBPyConnection, counted: Iterable[tuple[str, int]]) -> None:
    """Add the lines of this reading to the spans of numbers that were read."""
    numbers: dict[str, set[int]] = defaultdict(set)
    for writer, n in counted:
        numbers[writer].add(n)
    for writer, new in numbers.items():
        sql = 'DELETE FROM lines_read WHERE writer = ? RETURNING "first", "last"'
        spans = joined([*con.execute(sql, [writer]).fetchall(), *((n, n) for n in new)])
        insert_rows(con, "lines_read", [(writer, *span) for span in spans])


def joined(spans: Iterable[tuple[int, int]]) -> list[tuple[int, int]]:
    """Give spans of whole numbers (first, last) in order, those that touch as one."""
    found: list[tuple[int, int]] = []
    for first, last in sorted(spans):
        if found and first <= found[-1][1] + 1:
            found[-1] = (found[-1][0], max(found[-1][1], last))
        else:
            found.append((first, last))
    return found


def _tell_missing(
    con: DuckDBPyConnection, folder: Folder, last: Mapping[str, int]
) -> dict[str, int]:
    """Name the writers from whose counted lines some are missing, and how many.

    Gives the highest `n` of each writer that is there or was known.

    `n` counts without a gap, and this machine remembers how far it got. A damaged line, whose
    number nobody knows, is told already and counts as there.
    """
    knew = con.execute(
        "SELECT writer, max(n) FROM knew WHERE writer IS NOT NULL GROUP BY writer"
    ).fetchall()
    last = {**last, **{w: max(n, last.get(w, 0)) for w, n in knew}}
    accepted = memory.counts(folder, memory.ACCEPTED)
    there, seen = Counter[str](), dict[str, int]()
    for writer, one, another in con.execute("FROM lines_read").fetchall():
        there[writer] += another - one + 1
        seen[writer] = max(seen.get(writer, 0), another)
    damaged = con.execute("SELECT file, damaged FROM journals WHERE damaged > 0").fetchall()
    for writer in sorted({*there, *last}):
        upto = max(last.get(writer, 0), seen.get(writer, 0))
        told = sum(n for file, n in damaged if file.startswith(writer))
        lost = upto - there[writer] - told
        if lost > accepted.get(writer, 0):
            con.execute("INSERT INTO gone VALUES (?, ?)", [writer, lost])
            con.execute(
                "INSERT INTO troubles VALUES ('journal', NULL, ?)",
                [_missing_words(writer, lost, upto)],
            )
    for what in others(con) if knew else ():
        told = f"{what}; copy that writer's file again"
        con.execute("INSERT INTO troubles VALUES ('journal', NULL, ?)", [told])
    return {w: max(seen.get(w, 0), last.get(w, 0)) for w in {*seen, *last}}


def others(con: DuckDBPyConnection) -> list[str]:
    """Name the lines that are others than the receipts of later cards knew."""
    rows = con.execute(
        "SELECT DISTINCT writer, n, told_by FROM knew SEMI JOIN acts USING (writer, n)"
        " WHERE NOT EXISTS (FROM acts WHERE acts.act = knew.act) ORDER BY ALL"
    ).fetchall()
    return [
        f"line {n} of writer {writer} is another than when card {card} came in"
        for writer, n, card in rows
    ]


def _missing_words(writer: str, lost: int, upto: int) -> str:
    lines = "1 line is" if lost == 1 else f"{lost} lines are"
    return (
        f"{lines} missing of the {upto} that writer {writer} said; copy that writer's file again"
        f" ({ON_PURPOSE})"
    )
