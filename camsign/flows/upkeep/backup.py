"""`backup DIR`: a second copy of a logbook, which any machine can check with `sha256sum -c`.

The copy is a logbook of its own, so that it can be opened and fetched from; a SHA256SUMS beside
logbook.toml names every file in it. Nothing in it is ever deleted, and a file is replaced only by
one that goes on from it: what else changed is kept beside. At every instant, also after a crash,
each line of SHA256SUMS is true: a file that will be replaced is taken out of it first.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.flows.upkeep.copied import Copy, checked, facts_of, words_of
from camsign.flows.upkeep.originals import Original, originals_of, standing
from camsign.logbook import let_go, lock, placing, receipts, second_copies
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.inside import OutsideError
from camsign.logbook.second_copies import SecondCopy
from camsign.systems import is_stub

NOTE = "THIS-IS-A-BACKUP.txt"
_TOLD = """\
This folder is a backup of a camsign logbook. Work in your logbook, not in here.

Check it on any machine:          sha256sum -c SHA256SUMS
Bring damaged pictures back:      camsign verify --repair --from THIS-FOLDER
If the logbook itself is lost:    copy this folder to where it was
"""
_DAMAGE = "camsign verify tells more"


@dataclass(slots=True)
class BackedUp:
    """What a second copy holds now.

    `copied`: files that were new or had grown, of `bytes` in all; `there`: files that it held.
    `checked`: how many of those were read again byte by byte. `kept`: files that it holds and the
    logbook does not. `elsewhere`: pictures you let go of that an older backup alone holds, if any
    does. `left`: what is not in it, each with its reason; `damaged`: what it holds
    with other bytes than were written, and could not be copied again.
    """

    place: str
    copied: int = 0
    bytes: int = 0
    there: int = 0
    checked: int = 0
    kept: int = 0
    elsewhere: int = 0
    left: list[str] = field(default_factory=list)
    damaged: list[str] = field(default_factory=list)


def backup(
    folder: Folder,
    place: Path | None = None,
    check: bool = False,
    progress: Progress | None = None,
) -> BackedUp:
    """Bring a second copy up to date: only what is new is copied, each file read back.

    Args:
        folder: the logbook; it is only read.
        place: the copy's folder; default the one that was used last.
        check: read every file of the copy again; what is damaged is copied anew.
        progress: told (done, of) while pictures are copied.

    Raises:
        UsageError: the place is no place for it, or none was ever named.
        InputRefused: what is new does not fit there.
        CamsignError: the place cannot be written to.
        LogbookBusy: another backup is at work.
    """
    copies = second_copies.known(folder)
    if place is None and not copies:
        raise UsageError(
            "there is no backup yet", "name a folder on another disk: camsign backup DIR"
        )
    place = (place or Path(copies[0].place)).absolute()
    _refuse(folder, place)
    own = folder.cache / "backup"
    own.mkdir(exist_ok=True)
    with lock.held(own):
        try:
            return _brought_up(folder, place, check, progress)
        except OSError as e:
            told = f"the backup in {place} is not complete ({e.strerror or e})"
            raise CamsignError(
                told, "put that right and run it again: it goes on from there"
            ) from e


def _refuse(folder: Folder, place: Path) -> None:
    """Refuse a place that is this logbook, lies in it, holds it, or holds something else."""
    ours, there = folder.root.resolve(), place.resolve()
    if ours == there or there.is_relative_to(ours) or ours.is_relative_to(there):
        raise UsageError(
            "the backup can't be inside the logbook or around it", "pick a folder on another disk"
        )
    if not place.exists():
        if not place.parent.is_dir():
            raise UsageError(f"{place.parent} is not there", "plug its disk in, or name another")
        return
    if not place.is_dir() or ((next(place.iterdir(), None)) and not (place / NOTE).is_file()):
        raise UsageError(
            f"{place} holds something that is no backup",
            f"name a new folder, such as {place / 'camsign-backup'}",
        )
    try:
        held = Folder(place).settings.id
    except (CamsignError, OSError):
        return
    if held != folder.settings.id:
        raise UsageError(f"{place} is the backup of another logbook", "name another folder")


def _brought_up(folder: Folder, place: Path, check: bool, progress: Progress | None) -> BackedUp:
    place.mkdir(exist_ok=True)
    if not (place / NOTE).exists():
        placing.place(place / NOTE, _TOLD.encode(), read_only=False)
    done, copy = BackedUp(str(place)), Copy(place)
    if check:
        done.checked, done.damaged = copy.check()
    names = _take_words(folder, copy, done)
    originals = list(_originals(folder, names, done))
    names |= {original.name for original in originals}
    missing = [o for o in originals if not copy.holds(o)]
    done.there += len(originals) - len(missing)
    need, free = sum(o.bytes or 0 for o in missing), placing.free_bytes(place)
    if need > free:
        raise InputRefused(
            f"{place} has {free / 1e9:.1f} GB free, and the backup needs {need / 1e9:.1f} GB more",
            "free some space or name a larger disk; what you said is in it already",
        )
    _take_originals(folder, copy, missing, done, progress)
    copy.close()
    done.damaged = [name for name in done.damaged if name not in copy.sums]
    done.kept = len(copy.sums.keys() - names)
    left = len(done.left) + len(done.damaged)
    second_copies.note(folder, SecondCopy(str(place), datetime.now(UTC), left))
    return done


def _take_words(folder: Folder, copy: Copy, done: BackedUp) -> set[str]:
    """Copy what people said, settings and maps, and what is written about each card."""
    wanted = dict(words_of(folder, copy, done.left))
    homes = [home for home, _ in standing(folder)]
    for home in homes:
        wanted |= dict(facts_of(home, copy, done.left))
    every = (p for p in folder.cards.iterdir() if p.is_dir() and not p.name.startswith("."))
    for home in sorted(set(every) - set(homes)):
        done.left.append(f"cards/{home.name}: has no receipt that can be read; {_DAMAGE}")
    changed = {n: data for n, data in wanted.items() if not copy.holds_bytes(n, data)}
    done.there += len(wanted) - len(changed)
    copy.open(changed)
    for name, data in changed.items():
        copy.put(name, data)
        done.copied += 1
        done.bytes += len(data)
    return set(wanted)


def _originals(folder: Folder, names: Set[str], done: BackedUp) -> Iterator[Original]:
    """The pictures of every card whose facts are in the copy by now."""
    for home, _ in standing(folder):
        if f"cards/{home.name}/{receipts.FILE}" not in names:
            continue
        try:
            originals = originals_of(home)
        except InputRefused as e:
            done.left.append(f"cards/{home.name}: {e}")
            continue
        gone = let_go.read(home)
        for original in originals:
            try:
                there = original.path(folder).exists()
            except OutsideError as e:
                done.left.append(f"cards/{home.name}: {e}")
                continue
            if original.file not in gone or there:
                yield original
            elif not (Path(done.place) / original.name).exists():
                done.elsewhere += 1


def _take_originals(
    folder: Folder,
    copy: Copy,
    missing: Sequence[Original],
    done: BackedUp,
    progress: Progress | None,
) -> None:
    for i, original in enumerate(missing, 1):
        try:
            source = original.path(folder)
            if is_stub(source):
                raise InputRefused("is not on this machine", "let the sync service fetch it")
            copy.put_pieces(original.name, checked(source, original.sha256))
            done.copied += 1
            done.bytes += original.bytes or 0
        except FileNotFoundError:
            done.left.append(f"{original.name}: is missing; {_DAMAGE}")
        except CamsignError as e:
            done.left.append(f"{original.name}: {e}")
        if progress:
            progress(i, len(missing))
