"""`thin`: room on the disk, by letting go of the bytes of pictures that nobody needs.

Those that a person tagged as nothing, and, if asked, those beyond the best of a visit. What was
read and measured of a picture, its hash and a small picture stay, so that no answer changes. Only
bytes that a second copy holds go, unless a person says that none is needed. Nothing goes without
consent.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from itertools import groupby
from operator import attrgetter
from pathlib import Path

from camsign.derive.opening import open_logbook
from camsign.errors import InputRefused, UsageError
from camsign.flows.upkeep.copied import sums_of
from camsign.flows.upkeep.originals import Original, originals_of
from camsign.flows.upkeep.restored import fetch
from camsign.formats.kinds import CLIPS, Kind
from camsign.logbook import let_go, lock, placing, second_copies
from camsign.logbook.database import run_sql
from camsign.logbook.far import Progress
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import OutsideError
from camsign.logbook.let_go import LetGo
from camsign.logbook.sealed import hash_of
from camsign.logbook.session import Session
from camsign.pixels.decode import Undecodable
from camsign.pixels.see import pictures
from camsign.pixels.thumbs import thumbnail

_BATCH = 200  # pictures let go of under one hold of the lock, so that nobody waits for long


@dataclass(frozen=True, slots=True)
class Spare:
    """A picture whose bytes may go, with its card. `nothing`: a person said nothing is in it."""

    frame: str
    sha256: str
    kind: str
    bytes: int
    file: str
    card: str
    camera: str
    nothing: bool

    @property
    def home(self) -> str:
        """The name of its card's folder."""
        return self.file.split("/", 2)[1]

    @property
    def inner(self) -> str:
        """Its path in its card's folder."""
        return self.file.split("/", 2)[2]


@dataclass(frozen=True, slots=True)
class ThinRow:
    """What may go of one card: so many pictures of `bytes`; `nothing` of them tagged as nothing."""

    card: str
    camera: str
    frames: int
    nothing: int
    bytes: int


@dataclass(frozen=True, slots=True)
class Thinned:
    """What may go, or went. `frames` of `bytes` in all, by card in `rows`.

    `done`: they are gone; else this is only the list. `unsafe`: pictures that stay since no backup
    holds them; `unseen`: pictures that stay since no small picture of them can be made.
    """

    rows: tuple[ThinRow, ...]
    frames: int
    bytes: int
    unsafe: int
    unseen: int
    done: bool


def thin(
    folder: Folder,
    keep: int | None = None,
    consent: bool = False,
    without_backup: bool = False,
    progress: Progress | None = None,
) -> Thinned:
    """List the pictures whose bytes may go, and with consent let go of them.

    Args:
        folder: the logbook.
        keep: also those beyond so many best pictures of a visit; None: only those tagged nothing.
        consent: let go of them; else nothing is changed.
        without_backup: also of those that no second copy holds.
        progress: told (done, of) while the second copy is read and bytes go.

    Raises:
        UsageError: no second copy can be reached, and it was not said that none is needed.
        OSError: the logbook cannot be written; what is not gone yet stays.
    """
    with open_logbook(folder) as session:
        spares = _spares(session, keep)
    there = []
    for spare in spares:
        with suppress(OutsideError):
            there += [spare] if folder.original(spare.file).is_file() else []
    safe = there if without_backup or not there else _held(folder, there, progress)
    small = _small_pictures(folder, safe) if consent else None
    going = safe
    if small is not None:
        going = _let_go(folder, [s for s in safe if s.frame in small], small, keep)
    return Thinned(
        rows=tuple(_rows(going)),
        frames=len(going),
        bytes=sum(s.bytes for s in going),
        unsafe=len(there) - len(safe),
        unseen=sum(small is not None and s.frame not in small for s in safe),
        done=consent,
    )


def _spares(session: Session, keep: int | None) -> list[Spare]:
    gap = session.settings.visit_gap_s
    rows = run_sql(session.con, __file__, "thin.sql", keep=keep, gap_s=gap).fetchall()
    return [Spare(*row) for row in rows]


def _held(folder: Folder, spares: Sequence[Spare], progress: Progress | None) -> list[Spare]:
    """Give those whose very bytes a second copy holds: it is read, whatever its list says."""
    places = [Path(copy.place) for copy in second_copies.known(folder)]
    reached = [(place, sums_of(place)) for place in places if place.is_dir()]
    if not reached:
        if not places:
            told = "no backup was made yet, and what goes is gone"
            raise UsageError(told, "camsign backup DIR first, or --without-backup")
        told = f"the backup in {places[0]} is not there, and what goes must be in it"
        raise UsageError(told, "plug its disk in, or --without-backup")
    held = []
    for i, spare in enumerate(spares, 1):
        if any(_holds(place, named, spare) for place, named in reached):
            held.append(spare)
        if progress:
            progress(i, len(spares))
    return held


def _holds(place: Path, named: dict[str, str], spare: Spare) -> bool:
    try:
        return named.get(spare.file) == spare.sha256 == hash_of(place / spare.file)
    except OSError:
        return False


def _rows(spares: Iterable[Spare]) -> Iterable[ThinRow]:
    of_card = attrgetter("camera", "card")
    for (camera, card), some in groupby(sorted(spares, key=of_card), of_card):
        mine = list(some)
        nothing = sum(s.nothing for s in mine)
        yield ThinRow(card, camera, len(mine), nothing, sum(s.bytes for s in mine))


def _small_pictures(folder: Folder, spares: Iterable[Spare]) -> dict[str, bytes]:
    """Make the small picture of each; those of which none can be made are left out."""
    made = {}
    for spare in spares:
        path = folder.original(spare.file)
        kind = Kind(spare.kind)
        try:
            found = pictures(kind, None if kind in CLIPS else path.read_bytes(), path)
        except OSError:
            continue
        if found and not isinstance(found, Undecodable):
            made[spare.frame] = thumbnail(found[0])
    return made


def _let_go(
    folder: Folder, spares: Iterable[Spare], small: dict[str, bytes], keep: int | None
) -> list[Spare]:
    """Let the bytes go, a batch of one card at a time; give which went.

    Each batch is asked again under the lock, since the backup was read for long: nobody's word can
    come between the asking and the going, and what was said before that keeps its picture.
    """
    by_home: dict[str, list[Spare]] = defaultdict(list)
    for spare in spares:
        by_home[spare.home].append(spare)
    gone = []
    for name, mine in by_home.items():
        for at in range(0, len(mine), _BATCH):
            with open_logbook(folder) as session:
                still = {s.frame for s in _spares(session, keep)}
                batch = [s for s in mine[at : at + _BATCH] if s.frame in still]
                _let_go_of_card(folder, folder.cards / name, batch, small)
            gone += batch
    return gone


def _let_go_of_card(
    folder: Folder, home: Path, spares: Sequence[Spare], small: dict[str, bytes]
) -> None:
    """Place small pictures, then the list, then let the bytes go."""
    if not spares:
        return
    (home / let_go.SMALL).mkdir(exist_ok=True)
    gone = let_go.read(home)
    for spare in spares:
        data = small[spare.frame]
        path = let_go.small_path(home, spare.sha256)
        placing.place(path, data, fsync_folder=False)
        digest = hashlib.sha256(data).hexdigest()
        gone[spare.inner] = LetGo(spare.inner, spare.sha256, digest)
    placing.DISK.fsync_folder(home / let_go.SMALL)
    let_go.note(home, gone.values())
    for spare in spares:
        path = folder.original(spare.file)
        placing.make_writable(path)
        path.unlink()
    placing.DISK.fsync_folder(home / FILES)


def bring_back(folder: Folder, source: Path) -> tuple[int, int]:
    """Place again the bytes that were let go of, from a folder that holds them.

    Returns:
        How many came back, and how many are still gone.

    Raises:
        CamsignError: one could not be placed.
    """
    with lock.held(folder.cache):
        homes = [p.parent for p in sorted(folder.cards.glob(f"*/{let_go.FILE}"))]
        sizes = {home: _sizes(home) for home in homes}
        every = [
            Original(home.name, gone.file, gone.sha256, sizes[home].get(gone.file))
            for home in homes
            for gone in let_go.read(home).values()
            if gone.file in (sizes[home] or (gone.file,)) and not (home / gone.file).exists()
        ]
        back = fetch(folder, every, source)
        for home in homes:
            let_go.came_back(home, [f for f in let_go.read(home) if (home / f).exists()])
    return back, len(every)


def _sizes(home: Path) -> dict[str, int | None]:
    """Give each original's size [bytes]; none where its facts cannot be read: hashes must do."""
    try:
        return {original.file: original.bytes for original in originals_of(home)}
    except InputRefused:
        return {}
