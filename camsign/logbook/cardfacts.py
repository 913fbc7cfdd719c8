"""Cards that stand in the logbook, from their receipts and Parquet files into the database.

They are held against what was written before: sums first, then every cell that is taken in.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign.logbook import memory
from camsign.logbook.database import (
    PARQUET,
    first_line,
    insert_rows,
    one_file,
    run_sql,
    unsparing,
)
from camsign.logbook.far import Far
from camsign.logbook.folder import FILES, Folder, stamp_of
from camsign.logbook.inside import inside, is_plain
from camsign.logbook.receipts import FILE as RECEIPT
from camsign.logbook.receipts import Receipt
from camsign.logbook.receipts import read as read_receipt
from camsign.logbook.sealed import hash_of, is_whole

if TYPE_CHECKING:
    from duckdb import DuckDBPyConnection

FRAMES = "frames.parquet"
LOOKS = "looks.parquet"
DETECTED = "detected.parquet"
SUMS = "SHA256SUMS"
_CARD = "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)"
"""The cells of `_cells` as a row of the table `cards`."""

_HASH = re.compile(r"[0-9a-f]{64}")
_COLUMNS = {
    FRAMES: ("frames", "* EXCLUDE (known), NULL AS card"),
    LOOKS: ("looks", "* EXCLUDE (glance)"),
    DETECTED: ("detected", "*"),
}
"""The table of each file, and which columns of the file it takes."""
_REMEDY = "put its folder back from a copy of this logbook"
ON_PURPOSE = "gone on purpose? camsign verify --accept-missing"
_AGAIN = {LOOKS: "camsign look", DETECTED: "camsign look --model"}


def outdated(con: DuckDBPyConnection, folder: Folder) -> bool:
    """Say whether a card that the database holds is gone, or was measured again since."""
    rows = con.execute("SELECT folder, measured FROM cards_read").fetchall()
    read = ((folder.cards / name, stamp) for name, stamp in rows)
    return any(
        not (home / RECEIPT).is_file() or stamp != measured_stamp(home) for home, stamp in read
    )


def measured_stamp(path: Path) -> str:
    """Give a text that changes when what a card's pixels measure is placed anew."""
    return " ".join(stamp_of(path / name) for name in (LOOKS, DETECTED))


def new_cards(con: DuckDBPyConnection, folder: Folder) -> list[Path]:
    """Give every card that has a receipt and is not in the database yet."""
    known = {row[0] for row in con.execute("SELECT folder FROM cards_read").fetchall()}
    there = sorted(folder.cards.iterdir()) if folder.cards.is_dir() else []
    standing = (p for p in there if not p.name.startswith(".") and (p / RECEIPT).is_file())
    return [path for path in standing if path.name not in known]


def take_in(con: DuckDBPyConnection, new: Sequence[Path], far: Far) -> None:
    """Add new cards.

    A card whose receipt or frames are not what was written is left out, told, and tried again at
    the next opening. What its pixels measure can be made again: without it the card stands. `far`
    is told of each card.
    """
    import duckdb

    far.more(len(new))
    for path in new:
        far.one()
        try:
            receipt = read_receipt(path / RECEIPT)
            measured = measured_stamp(path)
            usable, notes = _check(con, path, receipt)
            knew = _knew(receipt)
        except (OSError, ValueError, KeyError, TypeError, AttributeError, duckdb.Error) as e:
            what = f"{first_line(e)}; the card is left out: {_REMEDY}"
            con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [f"cards/{path.name}", what])
            continue
        con.execute(
            "INSERT INTO cards_read VALUES (?, ?, ?, ?, ?)",
            [path.name, measured, receipt.card, receipt.camera, notes],
        )
        insert_rows(con, "knew", knew)
        _take_card(con, path, receipt, usable)
    con.execute(
        "INSERT INTO troubles SELECT 'cards/' || folder, NULL, unnest(notes) FROM cards_read"
    )


def _knew(receipt: Receipt) -> list[tuple[Any, ...]]:
    """Give what a receipt says was there before it; one from before that was noted says nothing.

    Raises ValueError, TypeError, AttributeError: it says what cannot be.
    """
    said, by = receipt.more.get("before", {}), receipt.card
    lines = [(by, str(w), int(n), str(act)) for w, (n, act) in dict(said.get("lines", {})).items()]
    rows: list[tuple[Any, ...]] = [(*line, None, None, None) for line in lines]
    if "card" in said:
        card, folder, camera = map(str, said["card"])
        rows.append((by, None, None, None, card, folder, camera))
    return rows


def tell_gone(con: DuckDBPyConnection, folder: Folder) -> dict[str, tuple[str, str]]:
    """Name each card that this machine or a later receipt knew and that no folder holds any more.

    Gives folder and camera of every card that is there or was known, by its id.
    """
    read = con.execute("SELECT card, folder, camera FROM cards_read").fetchall()
    there = {card: (name, camera) for card, name, camera in read}
    sql = "SELECT card, folder, camera FROM knew WHERE card IS NOT NULL"
    known = {card: (name, camera) for card, name, camera in con.execute(sql).fetchall()}
    known |= memory.cards(folder)
    accepted = memory.counts(folder, memory.ACCEPTED)
    for card, (name, camera) in sorted(known.items()):
        if card in there or card in accepted or (folder.cards / name / RECEIPT).is_file():
            continue  # a receipt that is there and was not read is told as damaged already
        what = f"card {card} of {camera} is gone with its pictures: {_REMEDY} ({ON_PURPOSE})"
        con.execute("INSERT INTO troubles VALUES (?, NULL, ?)", [f"cards/{name}", what])
        con.execute("INSERT INTO gone VALUES (?, 1)", [card])
    return known | there


def _take_card(
    con: DuckDBPyConnection, path: Path, receipt: Receipt, usable: Collection[str]
) -> None:
    if _speaks(con, receipt, path.name):
        con.execute("DELETE FROM cards WHERE card = ?", [receipt.card])
        con.execute(f"INSERT INTO cards {_CARD}", _cells(path, receipt))
    given = {"card": receipt.card, "folder": path.name, "frames": one_file(path / FRAMES)}
    run_sql(con, __file__, "cardfacts.sql", **given)
    for name in usable:
        if name != FRAMES:
            table, columns = _COLUMNS[name]
            con.execute(
                f"INSERT INTO {table} BY NAME SELECT {columns} FROM {PARQUET}"
                " WHERE frame IN (SELECT frame FROM stands_here)"
                " QUALIFY row_number() OVER (PARTITION BY frame) = 1",
                [one_file(path / name)],
            )


def _speaks(con: DuckDBPyConnection, receipt: Receipt, folder: str) -> bool:
    """Say whether of all folders of its card this one was taken in first; the order of arrival
    never matters."""
    row = con.execute(
        "SELECT count(*) FROM cards WHERE card = ? AND (taken_in_utc, folder) <= (?::TIMESTAMP, ?)",
        [receipt.card, receipt.taken_in.removesuffix("Z"), folder],
    ).fetchone()
    return not (row and row[0])


def _cells(path: Path, receipt: Receipt) -> list[Any]:
    """Give a card's row of the table `cards`."""
    whose = [receipt.card, receipt.camera, receipt.known_by, path.name]
    when = [receipt.taken_in.removesuffix("Z"), receipt.source]
    counts = [receipt.files, receipt.new, receipt.known, len(receipt.refused)]
    cameras = [list(receipt.serials), list(receipt.models)]
    return [*whose, *when, *counts, *cameras, receipt.safe_to_wipe]


def _check(con: DuckDBPyConnection, path: Path, receipt: Receipt) -> tuple[list[str], list[str]]:
    """Hold a card's files against their sums and read every cell that will be taken in.

    It is done apart from the transaction of `con`, which an error would end.

    Returns:
        The Parquet files that can be used, and what is to be told of the others.

    Raises ValueError, OSError, duckdb.Error: receipt or frames are not what was written.
    """
    import duckdb

    with con.cursor() as apart:
        apart.execute("CREATE TEMP TABLE tried AS SELECT * FROM cards LIMIT 0")
        apart.execute(f"INSERT INTO tried {_CARD}", _cells(path, receipt))
        notes = _check_sum(_fact(path, FRAMES))
        unsparing(apart, lambda: _check_names(apart, path / FRAMES))
        _try(apart, path / FRAMES)
        usable = [FRAMES]
        for name in (LOOKS, DETECTED):
            if name == DETECTED and not (path / name).exists():
                continue
            try:
                if is_whole(_fact(path, name)) is False:
                    raise ValueError(f"{name} is damaged: its checksum does not fit")
                _try(apart, path / name)
            except (OSError, ValueError, duckdb.Error):
                what = "damaged" if (path / name).exists() else "missing"
                notes.append(f"{name} is {what}; {_AGAIN[name]} makes it again")
            else:
                usable.append(name)
    return usable, notes


def _fact(path: Path, name: str) -> Path:
    file = inside(path, name)
    if not file.is_file():
        raise FileNotFoundError(f"{name} is missing")
    return file


def _check_sum(frames: Path) -> list[str]:
    """Give what is to be told of the sums.

    Raises ValueError: the frames are not what was written.
    """
    said, sealed = _said_sum(frames.with_name(SUMS)), is_whole(frames)
    if said is not None and said == hash_of(frames):
        return []
    if sealed:
        return [] if said is None else [f"{SUMS} is damaged: it does not fit {FRAMES}"]
    if said is None and sealed is None:
        return [f"{SUMS} is missing or damaged: whether {FRAMES} is whole cannot be said"]
    raise ValueError(f"{FRAMES} is damaged: its checksum does not fit")


def _said_sum(path: Path) -> str | None:
    """Give the sum of the frames that a card's SHA256SUMS holds; None if it holds none."""
    try:
        text = path.read_bytes().decode("utf-8", "replace")
    except OSError:
        return None
    found = (line.partition("  ") for line in text.splitlines())
    return next((digest for digest, _, file in found if file == FRAMES), None)


def _try(apart: DuckDBPyConnection, file: Path) -> None:
    """Put a file's rows where an error ends nothing."""
    table, columns = _COLUMNS[file.name]
    apart.execute(f"CREATE OR REPLACE TEMP TABLE tried AS SELECT * FROM {table} LIMIT 0")
    sql = f"INSERT INTO tried BY NAME SELECT {columns} FROM {PARQUET}"
    unsparing(apart, lambda: apart.execute(sql, [one_file(file)]))


def _check_names(apart: DuckDBPyConnection, frames: Path) -> None:
    """Refuse a card whose frames are named by more than their hash and a path in its own files.

    Raises ValueError: a row is none that a card can have.
    """
    apart.execute(f"SELECT frame, sha256, file FROM {PARQUET} WHERE NOT known", [one_file(frames)])
    while rows := apart.fetchmany(10_000):
        for frame, sha256, file in rows:
            if not _HASH.fullmatch(str(sha256)) or frame != sha256[:16]:
                raise ValueError(f"{frames.name} names a frame {frame!r}, which is no hash")
            if not is_plain(file) or not file.startswith(f"{FILES}/"):
                raise ValueError(f"{frames.name} names a file outside the card: {file!r}")
