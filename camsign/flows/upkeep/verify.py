"""`verify`: everything that was written, held against what is there now; changes nothing.

`repair` does only what is safe: it fetches originals that are missing or damaged from a card or a
second copy that has their very bytes, and receipts, tables and lines of journals from a second
copy whose sums prove them, and lets the database be made again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import duckdb
from duckdb import DuckDBPyConnection

from camsign.derive.opening import open_logbook, refresh, remove_database
from camsign.errors import CamsignError
from camsign.flows.upkeep.merge import wrong_clocks
from camsign.flows.upkeep.originals import SECOND, CardsChecked, check_cards
from camsign.flows.upkeep.restored import fetch, restore
from camsign.logbook import lock, memory, settings
from camsign.logbook.checking import (
    ACCEPTED,
    FETCH,
    Finding,
    Kind,
    check_journals,
    check_settings,
)
from camsign.logbook.database import in_memory
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.lines import others
from camsign.logbook.session import Session
from camsign.logbook.things import schema
from camsign.units import numbered

_PASSED = "verified"
# What a database made elsewhere or later need not have alike.
_OWN = (
    "made", "touched", "batches_taken", "changes", "empty_thresholds", "empty_scores", "shown_read",
    "journals", "cards_read", "gone",
)  # fmt: skip


@dataclass(slots=True)
class Verified:
    """What a check found. `originals` there must be; of `read` of them every byte was read.

    `let_go`: of how many the bytes were let go (camsign thin); that is no damage.

    `unsettled`: what two people said that cannot both be so. `fetched`: originals brought back.
    `restored`: what else came back from a second copy: cards, and files beside pictures.
    """

    findings: list[Finding] = field(default_factory=list)
    originals: int = 0
    read: int = 0
    unsettled: list[str] = field(default_factory=list)
    fetched: int = 0
    let_go: int = 0
    restored: list[str] = field(default_factory=list)

    @property
    def damaged(self) -> list[Finding]:
        """What costs pictures or words."""
        return [f for f in self.findings if f.kind == "damage"]

    @property
    def away(self) -> list[Finding]:
        """What could not be checked, since it is on another machine."""
        return [f for f in self.findings if f.kind == "away"]


def verify(
    folder: Folder, share: float = 1.0, resume: bool = False, progress: Progress | None = None
) -> Verified:
    """Check a logbook; nothing in it is changed.

    Args:
        folder: the logbook.
        share: of how many originals the bytes are read, 0..1; sizes are looked at of all.
        resume: go on where a check that was cut short had come to.
        progress: told (done, of) while originals are read.
    """
    found = Verified(list(check_settings(folder)))
    if found.damaged:
        return found
    database = list(_check_database(folder, found))  # first: it learns what receipts knew
    found.findings += check_journals(folder)
    cards = _check_cards(folder, share, resume, progress)
    found.findings += [*_cards_gone(folder), *cards.findings]
    found.originals, found.read, found.let_go = cards.originals, cards.read, cards.let_go
    found.findings += database
    return found


def accept_missing(folder: Folder) -> None:
    """Take what is missing for gone for good: this machine tells it no more.

    Lines and cards that go missing later are told as ever.
    """
    with open_logbook(folder) as session:
        gone = session.con.execute("FROM gone").fetchall()
    memory.keep(folder, memory.ACCEPTED, dict(gone))


def repair(
    folder: Folder, sources: Sequence[Path] = (), progress: Progress | None = None
) -> Verified:
    """Check a logbook, fetch what is missing from `sources`, have the database made again.

    What stands beside the pictures comes back first, since it says which pictures there must be.

    Raises:
        CamsignError: something could not be placed.
    """
    restored = _restored(folder, sources)
    cards = _check_cards(folder, 1.0, False, progress)
    fetched = sum(fetch(folder, cards.broken, source) for source in sources)
    with lock.held(folder.cache):
        remove_database(folder)
    found = verify(folder, share=0.0 if not cards.broken else 1.0)
    return replace(found, fetched=fetched, restored=restored)


def _restored(folder: Folder, sources: Sequence[Path]) -> list[str]:
    came: list[str] = []
    with lock.held(folder.cache):
        for source in sources:
            gone = [f.file.split("/")[1] for f in _cards_gone(folder)]
            try:
                came += restore(folder, gone, source)
            except OSError as e:
                told = f"{folder.root} cannot be written to ({e.strerror})"
                raise CamsignError(told, "free some space and run it again") from e
    return came


def _cards_gone(folder: Folder) -> Iterator[Finding]:
    """Cards that this machine, or the receipt of a later one, knew and whose folder is gone."""
    accepted = memory.counts(folder, memory.ACCEPTED)
    for card, (name, camera) in sorted(memory.cards(folder).items()):
        if not (folder.cards / name).is_dir():
            told = f"is gone with the pictures of card {card} of {camera}"
            on_purpose = card in accepted
            kind: Kind = "note" if on_purpose else "damage"
            yield Finding(kind, f"cards/{name}", told, ACCEPTED if on_purpose else SECOND)


def _check_cards(
    folder: Folder, share: float, resume: bool, progress: Progress | None
) -> CardsChecked:
    path = folder.cache / _PASSED
    passed = path.read_text(encoding="ascii").split() if resume and path.exists() else []
    with path.open("a" if resume else "w", encoding="ascii") as notes:
        told = frozenset(passed), lambda sha: notes.write(f"{sha}\n"), progress
        checked = check_cards(folder, share, *told)
    path.unlink()
    return checked


def _check_database(folder: Folder, found: Verified) -> Iterator[Finding]:
    """Hold the database against one made at once from the files; note what is not settled."""
    try:
        with open_logbook(folder) as session, in_memory() as fresh:
            for line in session.changed:  # this opening takes it up, so no later one tells it
                yield Finding("note", settings.FILE, f"changed: {line}; answers follow it")
            open_ones = session.con.execute(
                "SELECT what, remedy FROM conflicts WHERE remedy IS NOT NULL ORDER BY what"
            ).fetchall()
            found.unsettled = [f"{what}; {remedy}" for what, remedy in open_ones]
            yield from _lost_frames(session.con)
            for what in others(session.con):
                yield Finding("damage", "journal", what, FETCH)
            yield from wrong_clocks(session)
            fresh.execute(schema())
            refresh(Session(folder, fresh))
            ours, theirs = _tables(session.con), _tables(fresh)
    except CamsignError as e:
        yield Finding("damage", "the database", e.what, e.remedy)
        return
    except duckdb.Error as e:
        told = f"cannot be made from the files: {str(e).splitlines()[0]}"
        yield Finding("damage", "the database", told, "bring back what else is named here")
        return
    for name in sorted(ours.keys() | theirs.keys()):
        if ours.get(name) != theirs.get(name):
            told = f"its table `{name}` is out of date; your pictures and notes are not in question"
            yield Finding("damage", "the database", told, "camsign rebuild makes it again")


def _tables(con: DuckDBPyConnection) -> dict[str, tuple[object, ...] | None]:
    """Give each table's number of rows and a sum over them that no order changes."""
    names = con.execute(
        "SELECT table_name FROM duckdb_tables() WHERE schema_name = 'main' AND NOT temporary"
        " AND NOT internal ORDER BY 1"
    ).fetchall()
    return {
        name: con.execute(f"SELECT count(*), bit_xor(hash(t)) FROM {name} t").fetchone()
        for (name,) in names
        if name not in _OWN
    }


def _lost_frames(con: DuckDBPyConnection) -> Iterator[Finding]:
    """Pictures that words or other cards speak of and no card holds."""
    rows = con.execute(
        "SELECT count(DISTINCT frame) FROM tags WHERE frame NOT IN (SELECT frame FROM frames)"
    ).fetchone()
    if rows and rows[0]:
        many = numbered(rows[0], "picture has tags and is", "pictures have tags and are")
        told = f"{many} on no card of this logbook"
        cure = "bring back the cards, or take them out of a friend's logbook with camsign merge"
        yield Finding("damage", "cards", told, cure)
    lost = con.execute(
        "SELECT card, count(DISTINCT frame) FROM card_files"
        " WHERE known AND frame NOT IN (SELECT frame FROM frames) GROUP BY card ORDER BY card"
    ).fetchall()
    for card, n in lost:
        many = numbered(n, "of its pictures was", "of its pictures were")
        told = f"{many} known from another card, and that one is gone"
        yield Finding("damage", f"card {card}", told, "bring the other card back")
