"""Originals brought back from a card or a second copy that holds their very bytes."""

from __future__ import annotations

import contextlib
from collections import defaultdict
from pathlib import Path

from camsign.errors import CamsignError, InputRefused
from camsign.flows.upkeep.copied import checked
from camsign.flows.upkeep.originals import Original
from camsign.logbook import placing
from camsign.logbook.folder import Folder
from camsign.logbook.inside import inside
from camsign.logbook.sealed import hash_of


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
    target = inside(folder.cards / original.card, original.file)
    target.parent.mkdir(parents=True, exist_ok=True)
    with contextlib.suppress(FileNotFoundError):
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
