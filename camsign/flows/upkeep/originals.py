"""The cards that stand in a logbook, as files, held against what is written of them."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Set
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from zlib import crc32

import duckdb
from duckdb import DuckDBPyConnection

from camsign.cards import sums
from camsign.errors import InputRefused
from camsign.logbook import let_go, receipts
from camsign.logbook.cardfacts import DETECTED, FRAMES, LOOKS
from camsign.logbook.checking import Finding
from camsign.logbook.database import PARQUET, first_line, in_memory
from camsign.logbook.far import Progress
from camsign.logbook.folder import FILES, Folder
from camsign.logbook.inside import OutsideError, inside, is_plain
from camsign.logbook.let_go import LetGo
from camsign.logbook.measured import is_readable
from camsign.logbook.receipts import Receipt
from camsign.logbook.sealed import hash_of, is_hash_of, is_whole
from camsign.pixels.stays_shown import SHOWN
from camsign.systems import is_stub
from camsign.units import counted, numbered

_FETCH = "camsign verify --repair --from DIR fetches it from a card or a second copy"
_LOOK = "camsign look makes it again"
SECOND = "camsign verify --repair --from DIR brings it back from a second copy"
_AGAIN = f"{SECOND}, or take the card in again"
BESIDE = (sums.FILE, FRAMES, LOOKS, DETECTED, SHOWN, let_go.FILE)
"""What a card's folder holds beside its originals and its receipt."""


@dataclass(frozen=True, slots=True)
class Original:
    """A file that a card's frames.parquet names, with what it must be.

    `bytes` is None where only its hash is known. `let_go`: a person let go of its bytes, so that
    it need not be there.
    """

    card: str
    file: str
    sha256: str
    bytes: int | None
    let_go: bool = False

    @property
    def name(self) -> str:
        """Its path inside the logbook."""
        return f"cards/{self.card}/{self.file}"

    def path(self, folder: Folder) -> Path:
        """Give where it lies. Raises OutsideError."""
        return inside(folder.cards / self.card, self.file)


@dataclass(slots=True)
class CardsChecked:
    """What was found of the cards, and of how many originals the bytes were read."""

    findings: list[Finding] = field(default_factory=list)
    broken: list[Original] = field(default_factory=list)
    originals: int = 0
    read: int = 0
    let_go: int = 0


def standing(folder: Folder) -> Iterator[tuple[Path, Receipt]]:
    """Give each card's folder and receipt; those whose receipt cannot be read are passed over."""
    for path in sorted(folder.cards.glob(f"*/{receipts.FILE}")):
        receipt = None if path.parent.name.startswith(".") else receipts.read_if_whole(path)
        if receipt is not None:
            yield path.parent, receipt


def originals_of(home: Path) -> list[Original]:
    """Give each original that a card brought, in the order of their paths.

    Raises:
        InputRefused: frames.parquet cannot be read.
    """
    try:
        with in_memory() as con:
            ours = f"WHERE NOT known AND starts_with(file, '{FILES}/') ORDER BY file"
            rows = _rows(con, home / FRAMES, ours)
    except duckdb.Error as e:
        told = f"{FRAMES} cannot be read ({str(e).splitlines()[0]})"
        raise InputRefused(told, "camsign verify on that logbook tells more") from e
    return [Original(home.name, file, sha256, size) for file, sha256, size, _ in rows]


def check_cards(
    folder: Folder,
    share: float = 1.0,
    passed: Set[str] = frozenset(),
    note: Callable[[str], object] = lambda _: None,
    progress: Progress | None = None,
) -> CardsChecked:
    """Check every card: receipt, sums, Parquet, and that each original is there with its bytes.

    Args:
        folder: the logbook.
        share: of how many originals the bytes are read, 0..1.
        passed: hashes of those that were found right before, in a check that was cut short.
        note: told the hash of each that is found right.
        progress: told (done, of) while originals are read.
    """
    checked = CardsChecked()
    originals: list[Original] = []
    with in_memory() as con:
        folders = folder.cards.iterdir() if folder.cards.is_dir() else ()
        for home in sorted(p for p in folders if p.is_dir() and not p.name.startswith(".")):
            facts = _check_facts(con, home, checked.findings)
            originals += facts
            checked.findings += _strays(home, facts)
    checked.originals = len(originals)
    for i, original in enumerate(originals, 1):
        # A sample is always of the same originals for the same share.
        reads = original.sha256 not in passed and crc32(original.sha256.encode()) / 2**32 < share
        finding = _check_original(folder, original, note if reads else None, checked)
        if finding:
            checked.findings.append(finding)
            if finding.kind == "damage":
                checked.broken.append(original)
        if progress and (i % 20 == 0 or i == len(originals)):
            progress(i, len(originals))
    return checked


def _check_facts(con: DuckDBPyConnection, home: Path, found: list[Finding]) -> list[Original]:
    """Check what is written about a card; give the originals that it must hold."""
    name = f"cards/{home.name}"
    receipt: Receipt | None = None
    try:
        receipt = receipts.read(home / receipts.FILE)
    except FileNotFoundError:
        if (home / receipts.UNFINISHED).exists():
            told = "is of an intake that was cut short: its pictures do not count yet"
            found.append(
                Finding("note", name, told, "take the card in again: it goes on from here")
            )
            return []
        told = "is missing: the card and its pictures do not count"
        found.append(Finding("damage", f"{name}/{receipts.FILE}", told, _AGAIN))
    except (OSError, ValueError, KeyError, TypeError) as e:
        told = f"cannot be read: {first_line(e)}"
        found.append(Finding("damage", f"{name}/{receipts.FILE}", told, _AGAIN))
    try:
        _refuse_changed(home)
        rows = _rows(con, home / FRAMES)
    except Exception as e:  # noqa: BLE001  (DuckDB raises its own kinds on a damaged file)
        told = "is missing" if not (home / FRAMES).exists() else f"cannot be read: {first_line(e)}"
        found.append(Finding("damage", f"{name}/{FRAMES}", told, _AGAIN))
        found += _check_measured(home)
        return _by_sums(home)
    new = [(file, sha, size) for file, sha, size, known in rows if not known]
    wanted = {file: sha for file, sha, _ in new}
    if receipt and (len(new), len(rows) - len(new)) != (receipt.new, receipt.known):
        told = f"names {len(new)} new and {len(rows) - len(new)} known files, its receipt"
        told += f" {receipt.new} and {receipt.known}"
        found.append(Finding("damage", f"{name}/{FRAMES}", told, _AGAIN))
    found += _check_sums(home, wanted)
    found += _check_let_go(home, wanted)
    found += _check_shown(home, {sha[:16].encode() for _, sha, _, _ in rows})
    found += _check_measured(home)
    gone = _let_go_of(home, wanted)
    return [Original(home.name, file, sha, size, file in gone) for file, sha, size in new]


def _refuse_changed(home: Path) -> None:
    """Refuse a frames.parquet that is not what was written: none of its hashes is believed.

    Raises:
        ValueError: its own sum does not fit or, where it has none, that in SHA256SUMS.
    """
    whole = is_whole(home / FRAMES)
    named = sums.said(home).get(FRAMES) if whole is None else None
    if whole is False or named not in (None, hash_of(home / FRAMES)):
        raise ValueError("it was changed since")


def _by_sums(home: Path) -> list[Original]:
    """The originals as SHA256SUMS names them, where frames.parquet cannot be believed."""
    named = {f: s for f, s in sums.said(home).items() if f.startswith(f"{FILES}/") and is_plain(f)}
    gone = _let_go_of(home, named)
    return [Original(home.name, file, sha, None, file in gone) for file, sha in named.items()]


def _rows(con: DuckDBPyConnection, path: Path, which: str = "") -> list[tuple[Any, ...]]:
    sql = f"SELECT file, sha256, bytes, known FROM {PARQUET} {which}"
    return con.execute(sql, [str(path)]).fetchall()


def _check_measured(home: Path) -> Iterator[Finding]:
    """What the pixels measure can be made again, by looking at the originals."""
    if not (home / LOOKS).is_file():
        told = "is missing: nothing is known of its pictures' light"
        yield Finding("damage", f"cards/{home.name}/{LOOKS}", told, _LOOK)
    for name in (LOOKS, DETECTED):
        if (home / name).is_file() and not is_readable(home / name):
            yield Finding("damage", f"cards/{home.name}/{name}", "was changed since", _LOOK)


def damage_beside(home: Path) -> list[Finding]:
    """Find what of a card's sums, let-go list and small pictures is not what was written.

    Raises:
        InputRefused: frames.parquet, which they are held against, cannot be read.
    """
    wanted = {original.file: original.sha256 for original in originals_of(home)}
    return [*_check_sums(home, wanted), *_check_let_go(home, wanted)]


def _check_sums(home: Path, wanted: dict[str, str]) -> Iterator[Finding]:
    """SHA256SUMS names the originals and frames.parquet itself: both must agree."""
    name = f"cards/{home.name}/{sums.FILE}"
    named = sums.said(home)
    if not named:
        yield Finding("damage", name, "is missing or cannot be read", _AGAIN)
        return
    if FRAMES in named and hash_of(home / FRAMES) != named.pop(FRAMES):
        yield Finding("damage", name, f"has another sum of {FRAMES}", _AGAIN)
    differing = sum(wanted.get(f) != named.get(f) for f in wanted.keys() | named.keys())
    if differing:
        yield Finding(
            "damage", name, f"differs from {FRAMES} in {counted(differing, 'file')}", _AGAIN
        )


def _gone(home: Path, wanted: dict[str, str]) -> dict[str, LetGo]:
    """What was let go of, as far as its line names an original of this card."""
    return {f: one for f, one in let_go.read(home).items() if wanted.get(f) == one.sha256}


def _let_go_of(home: Path, wanted: dict[str, str]) -> set[str]:
    """What need not be there: a line says so, or its small picture beside lines that are damaged.

    Those lines are named as damage, and the pictures that they spoke of are not blamed besides.
    """
    gone = set(_gone(home, wanted))
    with suppress(OSError):
        if _lines(home) > len(gone):
            gone |= {f for f, sha in wanted.items() if let_go.small_path(home, sha).exists()}
    return gone


def _lines(home: Path) -> int:
    try:
        return len([x for x in (home / let_go.FILE).read_bytes().split(b"\n") if x])
    except FileNotFoundError:
        return 0


def _check_let_go(home: Path, wanted: dict[str, str]) -> Iterator[Finding]:
    """The list of what was let go of, and the small picture that stays of each."""
    name = f"cards/{home.name}/{let_go.FILE}"
    gone = _gone(home, wanted)
    try:
        lines = _lines(home)
    except OSError as e:
        yield Finding("damage", name, f"cannot be read ({e.strerror})", SECOND)
        return
    if lines != len(gone):
        told = f"{abs(lines - len(gone))} of its lines name no picture of this card"
        yield Finding("damage", name, told, SECOND)
    for one in gone.values():
        small = let_go.small_path(home, one.sha256)
        if not (home / one.file).exists() and not is_hash_of(one.small, small):
            path = f"cards/{home.name}/{small.relative_to(home).as_posix()}"
            yield Finding("damage", path, "is missing or was changed", SECOND)


def _check_shown(home: Path, frames: set[bytes]) -> Iterator[Finding]:
    """Each line of shown.txt names a frame of this card, and how it shows."""
    try:
        lines = (home / SHOWN).read_bytes().split(b"\n")
    except OSError:
        return
    parts = [line.split(b" ") for line in lines[:-1]]
    bad = sum(p[0] not in frames or p[1:] not in ([b"kept"], [b"look"]) for p in parts)
    if bad or lines[-1]:
        told = f"{max(1, bad)} of its lines cannot be read: a later check may hide those pictures"
        cure = "delete those lines; the next command that compares pictures writes them anew"
        yield Finding("note", f"cards/{home.name}/{SHOWN}", told, cure)


def _strays(home: Path, facts: list[Original]) -> Iterator[Finding]:
    """Files among a card's own that nothing names."""
    named = {original.file for original in facts}
    there = (p for p in (home / FILES).rglob("*") if p.is_file())
    strays = [p for p in there if p.relative_to(home).as_posix() not in named]
    if strays and named:
        many = numbered(len(strays), "file here is", "files here are")
        told = f"{many} named by nothing, such as {strays[0].name}"
        yield Finding("note", f"cards/{home.name}/{FILES}", told, "nothing needs to be done")


def _check_original(
    folder: Folder,
    original: Original,
    note: Callable[[str], object] | None,
    checked: CardsChecked,
) -> Finding | None:
    try:
        path = original.path(folder)
        if is_stub(path):
            told = "is not on this machine: a synced folder keeps only its name"
            return Finding(
                "away", original.name, told, "let the sync service fetch it, then verify"
            )
        size = path.stat().st_size
        if original.bytes not in (None, size):
            told = f"has {size} bytes and had {original.bytes}"
            return Finding("damage", original.name, told, _FETCH)
        if note is None:  # its bytes are not to be read
            return None
        checked.read += 1
        if hash_of(path) != original.sha256:
            return Finding("damage", original.name, "its bytes were changed", _FETCH)
    except OutsideError as e:
        return Finding("damage", original.name, e.what, _AGAIN)
    except FileNotFoundError:
        if original.let_go:
            checked.let_go += 1
            return None
        return Finding("damage", original.name, "is missing", _FETCH)
    except OSError as e:
        return Finding("damage", original.name, f"cannot be read ({e.strerror})", _FETCH)
    note(original.sha256)
    return None
