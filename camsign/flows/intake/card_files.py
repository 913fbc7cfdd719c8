"""What is on a card: where cards are mounted, the dumps under a path, and every file of each."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path

from camsign.errors import InputRefused, UsageError
from camsign.flows.intake import companions
from camsign.logbook.folder import refuse_logbook
from camsign.logbook.receipts import Left
from camsign.systems import is_system_disk, long_path, volume_label

DCIM = "dcim"
_CARD_SYSTEMS = frozenset({"vfat", "msdos", "fat", "fat32", "exfat"})
"""What cards are formatted with: FAT12, FAT16, FAT32, exFAT (SD Association, File System)."""

_LOOKED_AT = 20_000


@dataclass(frozen=True, slots=True)
class CardFile:
    """A file of a card: where it is now, its path on the card, size [bytes] and stamp [Unix s]."""

    path: str
    card_path: str
    bytes: int
    modified: float


@dataclass(slots=True)
class Dump:
    """What one memory card left, or a copy of it: the folder that holds DCIM, or any folder.

    `names` are the folders from the path that was given down to `root`, outermost first. `only`
    holds file names when single files were named; `without` further dumps that lie inside.
    `named`: the roots of all dumps that were named together.

    What is on it: `files` to look at, known `companions`, and what is `left` since it cannot be.
    """

    root: Path
    names: tuple[str, ...]
    only: tuple[str, ...] = ()
    without: frozenset[str] = frozenset()
    named: frozenset[str] = frozenset()
    files: list[CardFile] = field(default_factory=list)
    companions: list[Left] = field(default_factory=list)
    left: list[Left] = field(default_factory=list)

    @property
    def bytes(self) -> int:
        """The size of all files to look at [bytes]."""
        return sum(f.bytes for f in self.files)

    @property
    def sizes(self) -> frozenset[int]:
        """The sizes of the files to look at [bytes], each once."""
        return frozenset(f.bytes for f in self.files)


def find_dumps(paths: Sequence[Path], logbook: Path) -> list[Dump]:
    """Find the dumps under these paths, with what is on each: every folder that holds DCIM, and
    what lies beside them.

    Args:
        paths: folders, or single files.
        logbook: the logbook's folder, which is no card.

    Raises:
        UsageError: there is no such path.
        InputRefused: the path is in the logbook itself.
    """
    dumps: dict[Path, Dump] = {}
    single: dict[Path, list[str]] = {}
    home = logbook.resolve()
    for given in paths:
        path = widened(_resolved(given, home))
        if not path.is_dir():
            single.setdefault(path.parent, []).append(path.name)
            continue
        roots = {str(path)} | {str(p.parent) for p in _dcim_folders(path, str(home)) if p != path}
        for root in sorted(roots):
            inside = frozenset(r for r in roots if r != root and r.startswith(root + os.sep))
            above = filter(None, (volume_label(path), *Path(root).relative_to(path).parts))
            dump = list_files(Dump(Path(root), tuple(above), without=inside | {str(home)}))
            if root != str(path) or len(roots) == 1 or dump.files or dump.left:
                dumps.setdefault(dump.root, dump)
    for folder, names in single.items():
        dump = Dump(folder, (folder.name,), tuple(sorted(set(names))))
        dumps.setdefault(folder, list_files(dump))
    named = frozenset(str(d.root) for d in dumps.values() if not d.only)
    return [replace(d, named=named) for d in dumps.values()]


def partial(dump: Dump, logbook: Path) -> str:
    """Say why what was named is not the whole card; "" if it is."""
    if dump.only:
        return "you named single files, not the whole card"
    card, home = card_of(dump.root), logbook.resolve()
    if card in home.parents:
        return f"the logbook itself is on it ({home})"
    if card == dump.root or not (missed := not_named(card, dump.named, str(home))):
        return ""
    return (
        f"only {dump.root.relative_to(card).as_posix()} of it was read, and {text_of(missed)} lies"
        f" on it too: name {card} to take in the whole card"
    )


def on_one_card(dump: Dump) -> str:
    """Name another dump that lies on the same card; "" if none does.

    What became of both is known only when both are taken in.
    """
    root = str(dump.root)
    nested = (
        other
        for other in sorted(dump.named - {root})
        if other.startswith(root + os.sep) or root.startswith(other + os.sep)
    )
    card = card_of(dump.root)
    return next((other for other in nested if card_of(Path(other)) == card), "")


def _resolved(given: Path, logbook: Path) -> Path:
    if not given.exists():
        raise UsageError(
            f"there is no file or folder {given}", "check the name, or insert the card"
        )
    path = given.resolve()
    if logbook in (path, *path.parents):
        raise InputRefused(f"{given} is in the logbook itself", "name the card or its copy")
    refuse_logbook(path)
    return path


def _dcim_folders(path: Path, without: str) -> Iterator[Path]:
    """Every DCIM folder at and below `path` that lies in no other, links not followed."""
    stack = [path]
    while stack:
        folder = stack.pop()
        if folder.name.casefold() == DCIM:
            yield folder
            continue
        for entry in _entries(str(folder))[0]:
            below = folder / entry.name
            if not companions.index(entry.name) and str(below) != without:
                with suppress(OSError):
                    stack += [below] if entry.is_dir(follow_symlinks=False) else []


def list_files(dump: Dump) -> Dump:
    """Give a dump as it is now, its files by their paths whatever the file system's own order."""
    dump = replace(dump, files=[], companions=[], left=[])
    if dump.only:
        for name in dump.only:
            path = dump.root / name
            try:
                stat = path.stat()
            except OSError as e:
                dump.left.append(Left(text_of(name), _unreadable(e)))
                continue
            dump.files.append(CardFile(str(path), text_of(name), stat.st_size, stat.st_mtime))
        return dump
    stack = [str(dump.root)]
    while stack:
        stack += reversed(_list_folder(stack.pop(), dump))
    aside = companions.of_others(f.card_path for f in dump.files)
    dump.companions += [Left(path, why) for path, why in aside.items()]
    dump.files = [f for f in dump.files if f.card_path not in aside]
    return dump


def changes(before: Dump, now: Dump) -> list[Left]:
    """Give what came, grew or can no longer be listed since a dump was listed before."""
    known, there = {x.file for x in before.left}, {f.path: f for f in before.files}
    found = [x for x in now.left if x.file not in known]
    for file in now.files:
        was = there.get(file.path)
        if was is None:
            found.append(Left(file.card_path, "it came while the card was read"))
        elif (was.bytes, was.modified) != (file.bytes, file.modified):
            found.append(Left(file.card_path, "it changed while the card was read"))
    return found


def _list_folder(folder: str, dump: Dump) -> list[str]:
    """List one folder's files; give its sub-folders."""
    entries, trouble = _entries(folder)
    if trouble:
        index = companions.index(Path(folder).name)
        what = dump.companions if index else dump.left
        what.append(Left(_card_path(folder, dump) + "/", index or trouble))
    below, above = [], _card_path(folder, dump).rstrip("/")
    for entry in entries:
        path = os.path.join(folder, entry.name)  # noqa: PTH118
        where = f"{above}/{text_of(entry.name)}" if above else text_of(entry.name)
        try:
            if entry.is_symlink():
                dump.left.append(Left(where, "a link to another place; it was not followed"))
            elif entry.is_dir(follow_symlinks=False):
                below += [] if path in dump.without else [path]
            elif entry.is_file():
                stat = entry.stat()
                dump.files.append(CardFile(path, where, stat.st_size, stat.st_mtime))
            else:
                dump.left.append(Left(where, "not an ordinary file"))
        except OSError as e:
            dump.left.append(Left(where, _unreadable(e)))
    return below


def _unreadable(e: OSError) -> str:
    return f"cannot be read ({e.strerror})"


def _entries(folder: str) -> tuple[list[os.DirEntry[str]], str]:
    """A folder's entries by name, and what is wrong if they cannot be listed."""
    try:
        with os.scandir(long_path(folder)) as scan:
            return sorted(scan, key=lambda e: (e.name.casefold(), e.name)), ""
    except OSError as e:
        return [], f"the folder cannot be read ({e.strerror})"


def _card_path(path: str, dump: Dump) -> str:
    relative = os.path.relpath(path, dump.root).replace(os.sep, "/")
    prefix = f"{dump.root.name}/" if dump.root.name.casefold() == DCIM else ""
    return text_of(prefix + ("" if relative == "." else relative))


def text_of(name: str) -> str:
    """Give a file name as text that can be written anywhere; bytes that are no text as \\xNN."""
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "backslashreplace")


def mounted() -> list[Path]:
    """Give where the system has mounted its disks, cards among them, but no network drives."""
    import psutil

    return [Path(p.mountpoint) for p in psutil.disk_partitions(all=False)]


def holds_dcim(mount: Path) -> bool:
    """Say whether a DCIM folder lies right in this one."""
    try:
        with os.scandir(mount) as entries:
            return any(e.name.casefold() == DCIM and e.is_dir() for e in entries)
    except OSError:
        return False


def widened(path: Path) -> Path:
    """Give the whole card for a DCIM folder right on it or one inside; else the path itself."""
    mount = mount_of(path)
    inside = path.relative_to(mount).parts
    return mount if inside and inside[0].casefold() == DCIM else path


def card_of(path: Path) -> Path:
    """Give the root of the card, or of the copy of one, on which a folder lies.

    That is the mounted volume if it is a card: it holds DCIM, or has a card's file system and the
    folder is no copy with a DCIM of its own. Else it is the folder that holds the outermost DCIM
    above; else the folder itself.
    """
    mount = mount_of(path)
    if not is_system_disk(mount) and holds_dcim(mount):
        return mount
    above = [p.parent for p in (path, *path.parents) if p.name.casefold() == DCIM]
    if above:
        return above[-1]
    if not is_system_disk(mount) and not holds_dcim(path) and _file_system(mount) in _CARD_SYSTEMS:
        return mount
    return path


def mount_of(path: Path) -> Path:
    """Give the nearest place at or above a path where a volume is mounted."""
    return next((p for p in (path, *path.parents) if os.path.ismount(p)), Path(path.anchor))


def not_named(card: Path, named: Collection[str], logbook: str) -> str:
    """Give a file of the card that lies in none of the folders that were named; "" if all do.

    What systems leave by a known name does not count. Of a card with very many folders the first
    folder that was not looked into is given.
    """
    stack, seen = [str(card)], 0
    while stack:
        folder = stack.pop()
        if folder in named or folder == logbook:
            continue
        try:
            entries = list(os.scandir(folder))
        except OSError:
            return _inside(card, folder)
        seen += len(entries)
        for entry in entries:
            if entry.is_dir(follow_symlinks=False):
                stack += [] if companions.index(entry.name) else [entry.path]
            elif not companions.file(entry.name):
                return _inside(card, entry.path)
        if seen > _LOOKED_AT:
            return _inside(card, folder)
    return ""


def _inside(card: Path, path: str) -> str:
    return Path(path).relative_to(card).as_posix()


def _file_system(mount: Path) -> str:
    import psutil

    parts = psutil.disk_partitions(all=True)
    return next((p.fstype.casefold() for p in parts if Path(p.mountpoint) == mount), "")
