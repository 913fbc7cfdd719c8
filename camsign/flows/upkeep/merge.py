"""`merge DIR`: a friend's logbook of the same property, taken into this one: cards and words.

The other logbook is only read. Cards are copied file by file against their sums, receipt last; of
its journals every line that is not here yet. What both say against each other is told, and each is
settled by one answer, which is a word like any other and goes back to the friend with the next
merge.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from camsign.derive.opening import open_logbook
from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.flows.upkeep.originals import BESIDE, originals_of, standing
from camsign.geo import distance_bearing
from camsign.logbook import journal, let_go, lock, placing, receipts, settings
from camsign.logbook.checking import Finding
from camsign.logbook.database import run_sql
from camsign.logbook.edits import SetFields
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.inside import OutsideError, folder_name, inside
from camsign.logbook.session import Session
from camsign.pixels.stays_shown import SHOWN
from camsign.systems import is_stub, remove_tree
from camsign.units import counted

ONE_PROPERTY_M = 20_000.0
"""Two homes as far apart as this are still taken for one property [m]."""
_MAPS = "maps"
_TEMP = ".merging-"
_GROWING = (SHOWN, let_go.FILE)
_SET_CLOCK = "set that device's clock; where a change did not stick, make it again"


@dataclass(slots=True)
class Merged:
    """What came over. `known` cards were here; `left` could not be taken, each with its reason.

    `unsettled`: what both say that cannot both be so, each with what settles it; `waiting`: how
    many pictures wait for that. `notes`: what was joined by itself.
    """

    cards: int = 0
    known: int = 0
    frames: int = 0
    lines: int = 0
    left: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    unsettled: list[str] = field(default_factory=list)
    waiting: int = 0


def merge(
    folder: Folder, friend: Path, anywhere: bool = False, progress: Progress | None = None
) -> Merged:
    """Take a friend's logbook into this one.

    Args:
        folder: this logbook.
        friend: the folder of the other one; it is only read.
        anywhere: take it also where it is of another property.
        progress: told (done, of) for the cards.

    Raises:
        UsageError: there is no logbook, it is this one, or it is of another property.
        LogbookBusy: this logbook is held by another program.
    """
    other = _other(folder, friend, anywhere)
    merged = Merged()
    with open_logbook(folder) as session:
        before = _frames(session)
    with lock.held(folder.cache):
        _take_cards(folder, other, merged, progress)
        _take_journals(folder, other, merged)
        _take_maps(folder, other, merged)
    with open_logbook(folder) as session:
        _note_receipts(session, other)
    with open_logbook(folder) as session:
        merged.frames = _frames(session) - before
        _tell(session, merged)
    return merged


def _other(folder: Folder, friend: Path, anywhere: bool) -> Folder:
    if not (friend / settings.FILE).is_file():
        raise UsageError(f"{friend} holds no logbook", "name the folder that holds logbook.toml")
    if friend.resolve() == folder.root.resolve():
        raise UsageError(f"{friend} is this logbook itself", "name the friend's")
    other = Folder(friend)
    ours, theirs = folder.settings, other.settings
    if ours.id == theirs.id or anywhere:
        return other
    if not (ours.home and theirs.home):
        told = f"{friend} is another logbook, and not both say where home is"
        raise UsageError(told, "if it is of this property: --another-property")
    far = float(distance_bearing(*ours.home, *theirs.home)[0])
    if far > ONE_PROPERTY_M:
        told = f"{friend} is of another property: its home is {far / 1000:.0f} km from this one's"
        raise UsageError(told, "if you mean it: --another-property")
    return other


def _frames(session: Session) -> int:
    ((frames,),) = session.con.execute("SELECT count(*) FROM frames").fetchall()
    return int(frames)


def _take_cards(folder: Folder, other: Folder, merged: Merged, progress: Progress | None) -> None:
    known = {receipt.card for _, receipt in standing(folder)}
    theirs = list(standing(other))
    for i, (home, receipt) in enumerate(theirs, 1):
        if receipt.card in known:
            merged.known += 1
        else:
            try:
                take_card(folder, home, receipt)
            except (CamsignError, OSError, ValueError) as e:
                merged.left.append(f"cards/{home.name}: {e}")
            else:
                known.add(receipt.card)
                merged.cards += 1
        if progress:
            progress(i, len(theirs))


def _note_receipts(session: Session, other: Folder) -> None:
    """Note of cards that both took in under two cameras' names who took them as what.

    It is a word of the journal, the same on both sides, so that both count them alike and ask.
    """
    rows = session.con.execute(
        "SELECT r.card, list(DISTINCT r.camera), any_value(w.taken_as) FROM cards_read r"
        " LEFT JOIN card_words w USING (card) GROUP BY r.card"
    ).fetchall()
    ours = {card: (set(cameras), as_said or []) for card, cameras, as_said in rows}
    edits = []
    for _, receipt in standing(other):
        cameras, as_said = ours.get(receipt.card, (set(), []))
        together = sorted(cameras | {receipt.camera, *as_said})
        if cameras and len(together) > 1 and together != as_said:
            edits.append(SetFields("card", receipt.card, {"taken_as": together}))
    if edits:
        session.say(f"noted who took {counted(len(edits), 'card')} in as what", edits)


def take_card(folder: Folder, home: Path, receipt: receipts.Receipt) -> None:
    """Copy one card: its files against their hashes, its receipt, and last the folder's name.

    Raises:
        InputRefused: a file is not there, or not with the bytes that it was taken in with.
    """
    temp = folder.cards / f"{_TEMP}{folder_name(receipt.card)}"
    remove_tree(temp)
    temp.mkdir()
    try:
        gone = let_go.read(home)
        for one in originals_of(home):
            if (source := inside(home, one.file)).exists() or one.file not in gone:
                _copy(source, inside(temp, one.file), one.sha256)
        for went in gone.values():
            small = let_go.small_path(home, went.sha256)
            small = inside(home, small.relative_to(home).as_posix())
            if small.is_file():
                _copy(small, let_go.small_path(temp, went.sha256), went.small)
        for name in (*BESIDE, receipts.FILE):
            if (source := inside(home, name)).is_file():
                _copy(source, temp / name, None, read_only=name not in _GROWING)
        for path in (*(p for p in temp.rglob("*") if p.is_dir()), temp):
            placing.DISK.fsync_folder(path)
        target = folder.cards / home.name
        if target.exists():
            target = folder.cards / f"{home.name}-{folder_name(receipt.card)[:4]}"
        placing.DISK.rename(temp, target)
        placing.DISK.fsync_folder(folder.cards)
    finally:
        remove_tree(temp)


def _copy(source: Path, target: Path, sha256: str | None, read_only: bool = True) -> None:
    if is_stub(source):
        raise InputRefused(f"{source.name} is not on this machine", "let the sync service fetch it")
    data = source.read_bytes()
    if sha256 and hashlib.sha256(data).hexdigest() != sha256:
        told = f"{source.name} has other bytes than were taken in"
        raise InputRefused(told, "check that logbook: camsign verify")
    target.parent.mkdir(parents=True, exist_ok=True)
    placing.place(target, data, read_only=read_only, fsync_folder=False)


def _take_maps(folder: Folder, other: Folder, merged: Merged) -> None:
    """Pictures beneath the map that are not here yet."""
    there = other.root / _MAPS
    for name in sorted(p.name for p in there.iterdir()) if there.is_dir() else []:
        target = folder.root / _MAPS / name
        if name.startswith(".") or target.exists():
            continue
        try:
            path = inside(other.root, f"{_MAPS}/{name}")
            data = path.read_bytes() if path.is_file() else None
        except (OutsideError, OSError) as e:
            merged.left.append(f"{_MAPS}/{name}: {e}")
            continue
        if data is not None:
            target.parent.mkdir(exist_ok=True)
            placing.place(target, data, read_only=False)


def _take_journals(folder: Folder, other: Folder, merged: Merged) -> None:
    known = {line.act for p in journal.files(folder)[0] for line in journal.read(p).lines}
    for path in journal.files(other)[0]:
        reading = journal.read(path)
        merged.left += [
            f"journal/{path.name}, line {number}: {what}" for number, what in reading.troubles
        ]
        fresh = [line for line in reading.lines if line.act not in known]
        if not fresh:
            continue
        known |= {line.act for line in fresh}
        _write_lines(folder, path.name, fresh)
        merged.lines += len(fresh)


def _write_lines(folder: Folder, name: str, fresh: list[journal.Line]) -> None:
    """Place lines of another writer: under his file's name, or beside it where that has others."""
    data = b"".join(journal.encode(line) for line in fresh)
    target = folder.journal / name
    if target.exists() or target.stem == folder.writer:
        digest = hashlib.sha256(data).hexdigest()[:8]
        target = folder.journal / f"{target.stem}-{digest}.jsonl"
    folder.journal.mkdir(exist_ok=True)
    placing.place(target, data, read_only=False)


def _tell(session: Session, merged: Merged) -> None:
    rows = session.con.execute(
        "SELECT what, remedy, waiting FROM conflicts ORDER BY what"
    ).fetchall()
    for what, remedy, waiting in rows:
        if remedy:
            merged.unsettled.append(f"{what}; {remedy}")
            merged.waiting += waiting
        else:
            merged.notes.append(what)
    merged.notes += [f"{found.what}; {found.cure}" for found in wrong_clocks(session)]


def wrong_clocks(session: Session) -> Iterator[Finding]:
    """Find writers who spoke more than a day ahead of now, or before a picture they spoke of."""
    now = datetime.now(UTC) + timedelta(days=1)
    limit = now.isoformat(timespec="milliseconds").replace("+00:00", "Z")
    rows = run_sql(session.con, __file__, "clocks.sql", limit=limit).fetchall()
    for writer, way, said, first in rows:
        told = f"the clock of writer {writer} was {way}: noted on {said[:10]}"
        if way == "behind":
            told += f" of pictures taken {first:%Y-%m-%d}; his word gives way where others spoke"
        else:
            told += "; until then his word wins over others said before they had it"
        yield Finding("note", f"journal/{writer}.jsonl", told, _SET_CLOCK)
