"""Cards that stand in the logbook, from their receipts and Parquet files into the database."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook import receipts
from camsign.logbook.database import sql_beside
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import is_plain

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

FRAMES = "frames.parquet"
LOOKS = "looks.parquet"
DETECTED = "detected.parquet"
_HASH = re.compile(r"[0-9a-f]{64}")


def outdated(con: DuckDBPyConnection, folder: Folder) -> bool:
    """Say whether a card that the database holds is gone, or was measured again since."""
    rows = con.execute("SELECT folder, measured FROM cards_read").fetchall()
    return any(
        not (folder.cards / name / receipts.FILE).is_file()
        or measured != stamp_of(folder.cards / name)
        for name, measured in rows
    )


def stamp_of(path: Path) -> str:
    """Give a text that changes when what a card's pixels measure is placed anew."""
    return " ".join(_file_stamp(path / name) for name in (LOOKS, DETECTED))


def _file_stamp(path: Path) -> str:
    try:
        stat = path.stat()
    except FileNotFoundError:
        return "-"
    return f"{stat.st_size}:{stat.st_mtime_ns}"


def take_in(con: DuckDBPyConnection, folder: Folder) -> None:
    """Add every card that has a receipt and is not in the database yet.

    A card whose receipt or Parquet file cannot be read becomes a trouble and is tried again at the
    next opening.
    """
    import duckdb

    con.execute("DELETE FROM troubles WHERE file LIKE 'cards/%'")
    known = {row[0] for row in con.execute("SELECT folder FROM cards_read").fetchall()}
    for path in _standing(folder):
        if path.name in known:
            continue
        try:
            receipt = receipts.read(path / receipts.FILE)
            measured = stamp_of(path)
            _check(con, path)
        except (OSError, ValueError, KeyError, TypeError, duckdb.Error) as e:
            what = str(e).splitlines()[0]
            con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [f"cards/{path.name}", what])
            continue
        con.execute(
            "INSERT INTO cards_read VALUES (?, ?, ?, ?)",
            [path.name, measured, receipt.card, receipt.camera],
        )
        _take_card(con, path, receipt)


def _standing(folder: Folder) -> list[Path]:
    if not folder.cards.is_dir():
        return []
    entries = [p for p in folder.cards.iterdir() if not p.name.startswith(".")]
    return sorted(p for p in entries if (p / receipts.FILE).is_file())


def _check(con: DuckDBPyConnection, path: Path) -> None:
    """Read every cell that will be taken in, apart from the transaction that an error would end."""
    with con.cursor() as apart:
        _check_names(apart, path / FRAMES)
        for name in (FRAMES, LOOKS, *_if_there(path)):
            cells = "max(hash(COLUMNS(lambda c: c <> 'glance')))"
            apart.execute(f"SELECT {cells} FROM read_parquet(?)", [str(path / name)]).fetchall()


def _check_names(apart: DuckDBPyConnection, frames: Path) -> None:
    """Refuse a card whose frames are named by more than their hash and a path in its own files.

    Raises:
        ValueError: a row is none that a card can have.
    """
    apart.execute(
        "SELECT frame, sha256, file FROM read_parquet(?) WHERE NOT known",
        [str(frames)],
    )
    while rows := apart.fetchmany(10_000):
        for frame, sha256, file in rows:
            if not _HASH.fullmatch(str(sha256)) or frame != sha256[:16]:
                raise ValueError(f"{frames.name} names a frame {frame!r}, which is no hash")
            if not is_plain(file) or not file.startswith(f"{FILES}/"):
                raise ValueError(f"{frames.name} names a file outside the card: {file!r}")


def _if_there(path: Path) -> list[str]:
    return [DETECTED] if (path / DETECTED).is_file() else []


def _take_card(con: DuckDBPyConnection, path: Path, receipt: receipts.Receipt) -> None:
    if _speaks(con, receipt, path.name):
        con.execute("DELETE FROM cards WHERE card = ?", [receipt.card])
        con.execute(
            "INSERT INTO cards VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [
                receipt.card,
                receipt.camera,
                receipt.known_by,
                path.name,
                receipt.taken_in.removesuffix("Z"),
                receipt.source,
                receipt.files,
                receipt.new,
                receipt.known,
                len(receipt.refused),
                list(receipt.serials),
                list(receipt.models),
                receipt.safe_to_wipe,
            ],
        )
    sql = sql_beside(__file__, "cardrows.sql")
    where = {"card": receipt.card, "folder": path.name}
    files = {"frames": path / FRAMES, "looks": path / LOOKS, "detected": path / DETECTED}
    given = where | {name: str(file) for name, file in files.items()}
    for statement in sql.split(";"):
        if "$detected" in statement and not files["detected"].is_file():
            continue
        if statement.strip():
            con.execute(statement, {k: v for k, v in given.items() if f"${k}" in statement})


def _speaks(con: DuckDBPyConnection, receipt: receipts.Receipt, folder: str) -> bool:
    """Say whether of all folders of its card this one was taken in first; the order of arrival
    never matters."""
    row = con.execute(
        "SELECT count(*) FROM cards WHERE card = ? AND (taken_in_utc, folder) <= (?::TIMESTAMP, ?)",
        [receipt.card, receipt.taken_in.removesuffix("Z"), folder],
    ).fetchone()
    return not (row and row[0])
