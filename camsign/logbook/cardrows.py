"""Cards that stand in the logbook, from their receipts and Parquet files into the database."""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook import receipts
from camsign.logbook.cardfacts import CARD, COLUMNS, DETECTED, FRAMES, LOOKS, card_cells, check
from camsign.logbook.database import PARQUET, first_line, one_file, run_script, sql_beside
from camsign.logbook.far import Far
from camsign.logbook.folder import Folder

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

_REMEDY = "put its folder back from a copy of this logbook"


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


def take_in(con: DuckDBPyConnection, folder: Folder, far: Far) -> None:
    """Add every card that has a receipt and is not in the database yet.

    A card whose receipt or frames are not what was written is left out, told, and tried again at
    the next opening. What its pixels measure can be made again: without it the card stands. `far`
    is told of each card.
    """
    import duckdb

    known = {row[0] for row in con.execute("SELECT folder FROM cards_read").fetchall()}
    new = [path for path in _standing(folder) if path.name not in known]
    far.more(len(new))
    for path in new:
        far.one()
        try:
            receipt = receipts.read(path / receipts.FILE)
            measured = stamp_of(path)
            usable, notes = check(con, path, receipt)
        except (OSError, ValueError, KeyError, TypeError, duckdb.Error) as e:
            what = f"{first_line(e)}; the card is left out: {_REMEDY}"
            con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [f"cards/{path.name}", what])
            continue
        con.execute(
            "INSERT INTO cards_read VALUES (?, ?, ?, ?, ?)",
            [path.name, measured, receipt.card, receipt.camera, notes],
        )
        _take_card(con, path, receipt, usable)
    con.execute(
        "INSERT INTO troubles SELECT 'cards/' || folder, NULL, unnest(notes) FROM cards_read"
    )


def _standing(folder: Folder) -> list[Path]:
    if not folder.cards.is_dir():
        return []
    entries = [p for p in folder.cards.iterdir() if not p.name.startswith(".")]
    return sorted(p for p in entries if (p / receipts.FILE).is_file())


def _take_card(
    con: DuckDBPyConnection, path: Path, receipt: receipts.Receipt, usable: Collection[str]
) -> None:
    if _speaks(con, receipt, path.name):
        con.execute("DELETE FROM cards WHERE card = ?", [receipt.card])
        con.execute(f"INSERT INTO cards {CARD}", card_cells(path, receipt))
    given = {"card": receipt.card, "folder": path.name, "frames": one_file(path / FRAMES)}
    run_script(con, sql_beside(__file__, "cardrows.sql"), given)
    for name in usable:
        if name != FRAMES:
            table, columns = COLUMNS[name]
            con.execute(
                f"INSERT INTO {table} BY NAME SELECT {columns} FROM {PARQUET}"
                " WHERE frame IN (SELECT frame FROM stands_here)"
                " QUALIFY row_number() OVER (PARTITION BY frame) = 1",
                [one_file(path / name)],
            )


def _speaks(con: DuckDBPyConnection, receipt: receipts.Receipt, folder: str) -> bool:
    """Say whether of all folders of its card this one was taken in first; the order of arrival
    never matters."""
    row = con.execute(
        "SELECT count(*) FROM cards WHERE card = ? AND (taken_in_utc, folder) <= (?::TIMESTAMP, ?)",
        [receipt.card, receipt.taken_in.removesuffix("Z"), folder],
    ).fetchone()
    return not (row and row[0])
