"""What a check showed stays shown: noted in each card's folder, line by line, and never taken back.

A second check brings other pictures to compare with, tags move thresholds, and camsign itself
changes. None of that may hide a frame that a person could see before. So every frame that is not
set aside gets a line in its card's shown.txt: its id, and `kept`, or `look` if it is likely empty
but held for a look first. A frame with both is kept. Without the file (a logbook on a disk that
cannot be written) what is compared now counts.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Collection, Iterable, Sequence
from itertools import chain, groupby
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook.database import insert_rows, one_file, sql_beside
from camsign.logbook.folder import stamp_of
from camsign.logbook.placing import force

if TYPE_CHECKING:
    from camsign.logbook.session import Session

SHOWN = "shown.txt"
"""In a card's folder."""
_AT_ONCE = 1000


def shown_anew(session: Session) -> set[str]:
    """Give the cameras of whose cards a shown.txt changed since it was read."""
    con, cards = session.con, session.folder.cards
    both = "cards_read LEFT JOIN shown_read USING (folder)"
    rows = con.execute(f"SELECT folder, card, coalesce(stamp, '') FROM {both}").fetchall()
    anew = [card for name, card, was in rows if was != stamp_of(cards / name / SHOWN)]
    if not anew:
        return set()
    whose = "SELECT camera FROM cards_now WHERE card IN (SELECT unnest(?::VARCHAR[]))"
    return {camera for (camera,) in con.execute(whose, [anew]).fetchall()}


def read_shown(session: Session, cameras: Collection[str] | None = None) -> None:
    """Read what earlier checks showed of these cameras, or of all, into the table `shown`."""
    sql = (
        "SELECT r.folder, r.card FROM cards_read r JOIN cards_now c USING (card)"
        " WHERE $cameras IS NULL OR list_contains($cameras::VARCHAR[], c.camera) ORDER BY r.folder"
    )
    con, cards = session.con, session.folder.cards
    rows = con.execute(sql, {"cameras": None if cameras is None else list(cameras)}).fetchall()
    held = [card for _, card in rows]
    con.execute("DELETE FROM shown WHERE card IN (SELECT unnest(?::VARCHAR[]))", [held])
    for name, card in rows:
        path = cards / name / SHOWN
        if path.is_file():
            given = {"file": one_file(path), "card": card}
            con.execute(sql_beside(__file__, "stays_shown.sql"), given)
    _remember(session, [name for name, _ in rows])


def note_shown(session: Session) -> None:
    """Add what shows now and is not noted yet."""
    con, cards = session.con, session.folder.cards
    new = con.execute(sql_beside(__file__, "stays_shown_new.sql"))
    rows = chain.from_iterable(iter(lambda: new.fetchmany(_AT_ONCE), []))
    folders = []
    for folder, lines in groupby(rows, key=itemgetter(0)):
        folders.append(folder)
        if folder and (cards / folder).is_dir():
            _add(cards / folder / SHOWN, (f"{frame} {how}" for _, frame, how in lines))
    if folders:
        con.execute(sql_beside(__file__, "stays_shown_add.sql"))
        _remember(session, folders)


def _remember(session: Session, folders: Sequence[str]) -> None:
    """Note the files' size and time, so that what others add to them is seen."""
    con, cards = session.con, session.folder.cards
    con.execute("DELETE FROM shown_read WHERE list_contains(?::VARCHAR[], folder)", [folders])
    insert_rows(con, "shown_read", [(name, stamp_of(cards / name / SHOWN)) for name in folders])


def _add(path: Path, lines: Iterable[str]) -> None:
    """Put lines at the end and force them to the disk."""
    text = "".join(f"{line}\n" for line in lines)
    with contextlib.suppress(OSError), path.open("a+b") as file:
        if file.tell() and _torn(path):
            file.write(b"\n")
        file.write(text.encode())
        file.flush()
        force(file.fileno())


def _torn(path: Path) -> bool:
    """Say whether the last line has no end: a crash cut it."""
    with path.open("rb") as file:
        file.seek(-1, os.SEEK_END)
        return file.read(1) != b"\n"
