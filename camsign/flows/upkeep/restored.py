"""What is damaged or gone, brought back from a card or a second copy: only what sums prove.

Originals come from wherever their very bytes lie, what stands beside them from a second copy. A
receipt, a Parquet file and a journal's line carry a sum of themselves, the list of a backup has
one of every file, and a small picture's stands in let-go.txt. What none of these proves, or what
one of them gainsays, stays where it is.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from camsign.cards import sums
from camsign.errors import CamsignError, InputRefused
from camsign.flows.upkeep.backup import NOTE
from camsign.flows.upkeep.copied import checked, sums_of
from camsign.flows.upkeep.merge import take_card
from camsign.flows.upkeep.originals import Original, check_cards, originals_of, standing
from camsign.logbook import journal, let_go, memory, placing, receipts
from camsign.logbook.cardfacts import DETECTED, FRAMES, LOOKS
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import inside
from camsign.logbook.sealed import hash_of, is_whole

_SEALED = (FRAMES, LOOKS, DETECTED)
_PASSES = 3  # a table that came back shows whether the list beside it is right, and so on


@dataclass(frozen=True, slots=True)
class _Source:
    """A second copy of the same logbook, and what its own list says of each file."""

    root: Path
    named: dict[str, str]

    @property
    def is_backup(self) -> bool:
        """Whether all in it was ours once: nothing else gets into a backup, and nothing leaves."""
        return (self.root / NOTE).is_file()

    def path(self, name: str) -> Path | None:
        """Give a file that nothing gainsays; None if it is not there, or is not what was copied."""
        path = inside(self.root, name)
        if not path.is_file() or self.named.get(name) not in (None, hash_of(path)):
            return None
        return path


def fetch(folder: Folder, broken: list[Original], source: Path) -> int:
    """Place again what a folder holds of these very bytes; give how many.

    What was placed is taken out of `broken`.

    Raises:
        CamsignError: one could not be placed.
    """
    wanted: dict[int | None, list[Original]] = defaultdict(list)
    for original in broken:
        wanted[original.bytes].append(original)
    fetched = 0
    for path in sorted(source.rglob("*")):
        if not (broken and path.is_file()):
            continue
        alike = [*wanted.get(path.stat().st_size, ()), *wanted.get(None, ())]
        sha = hash_of(path) if alike else ""
        mine = [o for o in alike if o.sha256 == sha]
        for original in mine:
            if not _placed(folder, original, path):
                continue
            wanted[original.bytes].remove(original)
            broken.remove(original)
            fetched += 1
    return fetched


def _placed(folder: Folder, original: Original, source: Path) -> bool:
    """Place a file's bytes; say whether they still were the original's when they were read."""
    target = original.path(folder)
    target.parent.mkdir(parents=True, exist_ok=True)
    with suppress(FileNotFoundError):
        target.chmod(0o600)
    try:
        placing.place_pieces(target, checked(source, original.sha256))
        placing.DISK.fsync_folder(target.parent)
    except InputRefused:  # it changed under our hands
        return False
    except OSError as e:
        told = f"{original.name} could not be placed ({e.strerror})"
        raise CamsignError(told, "free some space and run it again") from e
    return True


def restore(folder: Folder, gone: Iterable[str], source: Path) -> list[str]:
    """Bring back cards, what is written beside pictures, and lines of journals.

    Args:
        folder: the logbook; the caller holds its lock.
        gone: names of card folders that this machine had read and that are gone.
        source: a second copy of this very logbook; any other folder gives nothing.

    Returns:
        The files and folders that came back, by their names in the logbook.

    Raises:
        OSError: the logbook cannot be written.
    """
    with suppress(CamsignError, OSError):
        if Folder(source).settings.id == folder.settings.id:
            there = _Source(source, sums_of(source))
            return [
                *_restore_cards(folder, there, gone),
                *_restore_facts(folder, there),
                *_restore_journals(folder, there),
            ]
    return []


def _restore_cards(folder: Folder, source: _Source, gone: Iterable[str]) -> Iterator[str]:
    known = {receipt.card for _, receipt in standing(folder)}
    there = {home.name for home in folder.cards.glob("*")}
    for home, receipt in standing(Folder(source.root)):
        lost = home.name in gone or (source.is_backup and home.name not in there)
        if lost and receipt.card not in known:
            with suppress(CamsignError, ValueError):
                take_card(folder, home, receipt)
                yield f"cards/{home.name}"


def _restore_facts(folder: Folder, source: _Source) -> list[str]:
    came: list[str] = []
    for _ in range(_PASSES):
        found = check_cards(folder, share=0.0).findings
        bad = dict.fromkeys(_of_facts(f.file) for f in found if f.kind == "damage")
        fresh = [name for name in bad if name not in came and _restored(folder, source, name)]
        if not fresh:
            break
        came += fresh
    return came


def _of_facts(name: str) -> str:
    """Give what may be wrong beside a picture that is missing: a list says that it was let go."""
    card, files, _ = name.partition(f"/{FILES}/")
    return f"{card}/{let_go.FILE}" if files else name


def _restored(folder: Folder, source: _Source, name: str) -> bool:
    """Bring one file of a card back, if it is of those that can be proved; say whether it was."""
    path = source.path(name)
    if path is None or not name.startswith("cards/"):
        return False
    home = folder.cards / name.split("/")[1]
    target = inside(folder.root, name)
    if path.name == let_go.FILE:
        return _join_let_go(home, path.parent)
    if not _is_proved(source, name, path, home):
        return False
    target.parent.mkdir(exist_ok=True)
    if target.exists():
        placing.make_writable(target)
    placing.place(target, path.read_bytes(), read_only=path.name in (FRAMES, receipts.FILE))
    return True


def _is_proved(source: _Source, name: str, path: Path, home: Path) -> bool:
    listed = name in source.named
    if path.name in _SEALED:
        whole = is_whole(path)
        fits = path.name != FRAMES or sums.said(home).get(FRAMES) in (None, hash_of(path))
        return whole is not False and (listed or (whole is True and fits))
    if path.name == receipts.FILE:
        return listed and receipts.read_if_whole(path) is not None
    if path.name == sums.FILE:
        return _are_sums(sums.said(path.parent), home)
    if path.parent.name == let_go.SMALL:
        smalls = {one.small for one in let_go.read(home).values() if one.sha256[:16] == path.stem}
        return hash_of(path) in smalls
    return False


def _are_sums(named: dict[str, str], home: Path) -> bool:
    """Say whether a list names just the originals of a card here, and its table."""
    try:
        wanted = {original.file: original.sha256 for original in originals_of(home)}
        return named == wanted | {FRAMES: hash_of(home / FRAMES)}
    except (OSError, InputRefused):
        return False


def _join_let_go(home: Path, theirs: Path) -> bool:
    """Add lines of theirs that fit their sums, of pictures that were let go of here.

    Their line alone does not say so: the picture may have come back since, and be missed now. What
    stays here of a line must: its small picture, or what is left of it.
    """
    ours, left = let_go.read(home), let_go.damaged(home)
    named = let_go.read(theirs)
    more = [
        file
        for file, one in named.items()
        if file not in ours and not (home / file).exists()
        if let_go.small_path(home, one.sha256).exists() or {file, one.sha256, one.small} & left
    ]
    if not more:
        return False
    kept = {file: one for file, one in named.items() if file in ours or file in more}
    let_go.note(home, (kept | ours).values())
    return True


def _restore_journals(folder: Folder, source: _Source) -> list[str]:
    """Bring back lines of writers that are known here, each proved by its own sum."""
    ours = [(path, _kept(path)) for path in journal.files(folder)[0]]
    acts = {line.act for _, kept in ours for line, _ in kept.lines}
    known = {line.writer for _, kept in ours for line, _ in kept.lines}
    known |= memory.counts(folder, memory.LINES).keys()
    theirs = {
        line.act: (line, raw)
        for path in journal.files(Folder(source.root))[0]
        for line, raw in _kept(path).lines
        if (line.writer in known or source.is_backup) and line.act not in acts
    }
    came = []
    for writer in sorted({line.writer for line, _ in theirs.values()}):
        missing = [both for both in theirs.values() if both[0].writer == writer]
        path = folder.journal / f"{writer}.jsonl"
        kept = next((k for p, k in ours if p == path), _Kept([], 0))
        _write(folder, path, kept, missing)
        came.append(f"journal/{path.name}")
    return came


@dataclass(frozen=True, slots=True)
class _Kept:
    """A journal's lines whose sums fit, each with its bytes, and how many fit none."""

    lines: list[tuple[journal.Line, bytes]]
    damaged: int


def _kept(path: Path) -> _Kept:
    kept, damaged = [], 0
    for number, raw in enumerate(path.read_bytes().split(b"\n"), 1):
        try:
            kept.append((journal.decode(raw, number), raw))
        except ValueError:
            damaged += bool(raw)
    return _Kept(kept, damaged)


def _write(
    folder: Folder, path: Path, kept: _Kept, missing: list[tuple[journal.Line, bytes]]
) -> None:
    """Write a writer's file anew, with what was missing; what it was is kept beside it, hidden.

    Damaged lines are left out only where none is missing any more; else they stay, and what came
    back stands in a file of its own.
    """
    every = sorted([*kept.lines, *missing], key=lambda both: both[0].n)
    most = max(every[-1][0].n, memory.counts(folder, memory.LINES).get(path.stem, 0))
    folder.journal.mkdir(exist_ok=True)
    if kept.damaged and {line.n for line, _ in every} != set(range(1, most + 1)):
        data = b"".join(raw + b"\n" for _, raw in missing)
        digest = hashlib.sha256(data).hexdigest()[:8]
        path = path.with_name(f"{path.stem}-{digest}.jsonl")
    else:
        data = b"".join(raw + b"\n" for _, raw in every)
        if path.exists():
            before = path.read_bytes()
            digest = hashlib.sha256(before).hexdigest()[:8]
            beside = path.with_name(f".before-repair-{digest}-{path.name}")
            placing.place(beside, before, read_only=False)
    placing.place(path, data, read_only=False)
