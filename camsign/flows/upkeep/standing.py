"""The cards that stand in a logbook, as files: receipts, originals, and what lies beside them."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import duckdb

from camsign.cards import sums
from camsign.errors import InputRefused
from camsign.logbook import let_go, receipts
from camsign.logbook.cardfacts import DETECTED, FRAMES, LOOKS
from camsign.logbook.database import in_memory
from camsign.logbook.folder import FILES, Folder
from camsign.pixels.stays_shown import SHOWN

BESIDE = (sums.FILE, FRAMES, LOOKS, DETECTED, SHOWN, let_go.FILE)
"""What a card's folder holds beside its originals and its receipt."""


def standing(folder: Folder) -> Iterator[tuple[Path, receipts.Receipt]]:
    """Give each card's folder and receipt; those whose receipt cannot be read are passed over."""
    for path in sorted(folder.cards.glob(f"*/{receipts.FILE}")):
        receipt = None if path.parent.name.startswith(".") else receipts.read_if_whole(path)
        if receipt is not None:
            yield path.parent, receipt


def originals_of(home: Path) -> list[tuple[str, str, int]]:
    """Give path, SHA-256 and size [bytes] of each original that a card brought.

    Raises:
        InputRefused: frames.parquet cannot be read.
    """
    sql = (
        "SELECT file, sha256, bytes FROM read_parquet(?, hive_partitioning = false)"
        f" WHERE NOT known AND starts_with(file, '{FILES}/') ORDER BY file"
    )
    try:
        with in_memory() as con:
            return con.execute(sql, [str(home / FRAMES)]).fetchall()
    except duckdb.Error as e:
        told = f"{FRAMES} cannot be read ({str(e).splitlines()[0]})"
        raise InputRefused(told, "camsign verify on that logbook tells more") from e
