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
from collections.abc import Iterable
from itertools import groupby
from operator import itemgetter
from pathlib import Path
from typing import TYPE_CHECKING

from camsign.logbook.database import one_file, sql_beside
from camsign.logbook.placing import force

if TYPE_CHECKING:
    from camsign.logbook.session import Session

SHOWN = "shown.txt"
"""In a card's folder."""


def note_shown(session: Session) -> None:
    """Read what earlier checks showed into the table `shown`, and add what shows now."""
    con, cards = session.con, session.folder.cards
    con.execute("DELETE FROM shown")
    rows = con.execute("SELECT folder FROM cards ORDER BY folder").fetchall()
    files = [one_file(path) for (name,) in rows if (path := cards / name / SHOWN).is_file()]
    if files:
        con.execute(sql_beside(__file__, "stays_shown.sql"), {"files": files})
    new = con.execute(sql_beside(__file__, "stays_shown_new.sql")).fetchall()
    for folder, lines in groupby(new, key=itemgetter(0)):
        if folder and (cards / folder).is_dir():
            _add(cards / folder / SHOWN, [f"{frame} {how}" for _, frame, how in lines])
    if new:
        con.execute(sql_beside(__file__, "stays_shown_add.sql"))


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
