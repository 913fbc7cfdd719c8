"""The originals that stand in the logbook: their bytes, checked, and work done on many at once."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import closing
from dataclasses import dataclass
from functools import partial
from itertools import groupby
from pathlib import Path

from camsign.cards.listing import find_card
from camsign.flows.far_pictures import fetch
from camsign.formats.kinds import CLIPS
from camsign.logbook import let_go, lock
from camsign.logbook.database import run_sql
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.inside import OutsideError
from camsign.logbook.measured import Row, replace_rows
from camsign.logbook.sealed import hash_of
from camsign.logbook.session import Session
from camsign.pixels.decode import Undecodable
from camsign.pixels.workers import in_order, workers
from camsign.systems import is_stub
from camsign.tags.frames import Skipped, Which, find

_AT_ONCE = 2000  # frames of one card that are written at once, so that memory stays flat
_TASK = 8  # frames of one card a task: handing it to another machine costs some milliseconds
_AHEAD = 256  # tasks: so many keep a hundred workers busy while a card's results are written


@dataclass(frozen=True, slots=True)
class Stored:
    """A frame's original. `card`: the folder of the card that holds it; `maker`: of its look.

    `box`: where it is new, as x, y, width, height in shares of the picture; None if nowhere.
    `file`: its path in the logbook's folder; `there`: that folder's address (fsspec) for workers
    that do not mount it, else empty.
    """

    frame: str
    sha256: str
    kind: str
    path: Path
    card: Path
    maker: int | None
    box: tuple[float, float, float, float] | None
    file: str
    there: str = ""


def chosen(session: Session, which: Which, there: str = "") -> tuple[list[Stored], list[Skipped]]:
    """Find the originals that are meant, in the order of their cards and files.

    Args:
        session: an open logbook.
        which: the frames.
        there: where others find the logbook's folder, an fsspec address; empty: where it is here.

    Raises:
        UsageError: no such camera, card or time, or more than one way of naming.
    """
    meant = find(session, which)
    frames = None if meant is None else meant.frames
    card = find_card(session, which.card) if which.card else None
    given = {"frames": frames, "card": card}
    found = run_sql(session.con, __file__, "originals.sql", **given).fetchall()
    home = session.folder
    rows, skipped = [], [] if meant is None else list(meant.skipped)
    for frame, sha256, kind, file, folder, maker, box in found:
        try:
            path = home.original(file)
        except OutsideError as e:
            skipped.append(Skipped(frame, e.what))
            continue
        spot = tuple(box) if box else None
        held = home.cards / folder
        rows.append(Stored(frame, sha256, kind, path, held, maker, spot, file, there))
    return rows, skipped


def read(row: Stored) -> bytes | Undecodable | None:
    """Give an original's bytes, None for a clip (it is read from its path), or why it cannot be.

    They are compared with the hash under which they were taken in.

    Raises:
        InputRefused: nothing can be read any more where workers find the folder.
    """
    where = f"{row.there.rstrip('/')}/{row.file}" if row.there else "the logbook's copy"
    clip = row.kind in CLIPS
    if row.there and clip:
        return Undecodable("a clip is read only where the folder itself is mounted")
    if not row.there and is_stub(row.path):
        return Undecodable("not on this machine")
    try:
        data = None if clip else fetch(row.there, row.file) if row.there else row.path.read_bytes()
        found = hash_of(row.path) if data is None else hashlib.sha256(data).hexdigest()
    except FileNotFoundError:
        if not row.there and let_go.small_of(row.path, row.frame):
            return Undecodable("its bytes were let go; what was measured stays")
        return Undecodable(f"{where} is missing")
    except OSError as e:
        return Undecodable(f"{where} cannot be read ({e if row.there else e.strerror})")
    return data if found == row.sha256 else Undecodable(f"{where} is damaged")


def work_through(
    folder: Folder,
    rows: Sequence[Stored],
    work: Callable[[Stored], Row | Skipped],
    executor: Executor | None = None,
    progress: Progress | None = None,
) -> tuple[int, list[Skipped]]:
    """Measure each original; the logbook is held only while a card's rows are put in place.

    Args:
        folder: the logbook.
        rows: the originals, in the order of their cards.
        work: gives a row, or why there is none; it can be pickled.
        executor: runs the work, some originals of one card a task; default threads.
        progress: is told (originals done, originals in all).

    Returns:
        How many were measured, and what was left.
    """
    skipped: list[Skipped] = []
    kept = done = 0
    pieces = list(_pieces(rows))
    tasks = (partial(_each, work, piece) for _, piece in pieces)
    with workers(executor) as pool, closing(in_order(pool, tasks, _AHEAD)) as found:
        for (card, _), group in groupby(zip(pieces, found, strict=True), key=lambda p: p[0][0]):
            measured: list[Row] = []
            for _, some in group:
                skipped += (one for one in some if isinstance(one, Skipped))
                measured += (one for one in some if not isinstance(one, Skipped))
                done += len(some)
                if progress is not None:
                    progress(done, len(rows))
            with lock.held(folder.cache):
                replace_rows(card, measured)
            kept += len(measured)
    return kept, skipped


def _each(work: Callable[[Stored], Row | Skipped], rows: Iterable[Stored]) -> list[Row | Skipped]:
    return [work(row) for row in rows]


def _pieces(rows: Iterable[Stored]) -> Iterator[tuple[tuple[Path, int], list[Stored]]]:
    """Cut the originals into tasks; those of one card that are written at once have one key."""
    for card, mine in groupby(rows, key=lambda row: row.card):
        together = list(mine)
        for at in range(0, len(together), _TASK):
            yield (card, at // _AT_ONCE), together[at : at + _TASK]
