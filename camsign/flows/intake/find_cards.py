"""Which cards are in a reader right now, and whose each of them seems to be."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Executor
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from camsign.derive.opening import open_logbook
from camsign.flows.intake import known, one_file
from camsign.flows.intake.card_files import find_dumps, list_files
from camsign.flows.intake.evidence import Witness
from camsign.flows.intake.known import Known
from camsign.flows.intake.read import READER
from camsign.flows.intake.volumes import holds_dcim, label_of, mounted
from camsign.flows.intake.whose import Case, sample
from camsign.flows.workers import workers
from camsign.logbook.folder import Folder


@dataclass(frozen=True, slots=True)
class FoundCard:
    """A mounted card. `camera` is whose it seems to be, or None; `why` says how that is known.

    `bytes` is the size of its files [bytes]. `known` of `looked_at` pictures are in the logbook.
    `first`, `last`: days that its own clock showed on the pictures looked at, or None.
    """

    path: Path
    label: str
    files: int
    bytes: int
    camera: str | None
    why: str
    looked_at: int
    known: int
    first: str | None = None
    last: str | None = None


def find_cards(
    folder: Folder, *, executor: Executor | None = None, mounts: Iterable[Path] | None = None
) -> tuple[FoundCard, ...]:
    """List the mounted volumes with a DCIM folder; a few pictures of each are read, none taken in.

    Args:
        folder: the logbook, which knows cameras.
        executor: runs the reading; default threads.
        mounts: where to look; default every disk that the system has mounted.
    """
    cards = {m for m in (mounted() if mounts is None else mounts) if holds_dcim(m)}
    return look_at(folder, sorted(cards), executor=executor)


def look_at(
    folder: Folder, places: Iterable[Path], *, executor: Executor | None = None
) -> tuple[FoundCard, ...]:
    """Say of each of these folders, with DCIM or without, whose card it seems to be.

    Args:
        folder: the logbook, which knows cameras.
        places: where cards or their copies lie, each with its own files.
        executor: runs the reading; default threads.
    """
    with open_logbook(folder) as session:
        knowledge = known.load(session)
    with workers(executor) as threads:
        return tuple(_look_into(folder, knowledge, p, threads) for p in places)


def _look_into(folder: Folder, knowledge: Known, path: Path, workers: Executor) -> FoundCard:
    dumps = find_dumps([path], folder.root)
    dump = next((d for d in dumps if d.root == path.resolve()), dumps[0])
    listing = list_files(dump)
    case = Case(dump, knowledge, Witness(knowledge, folder.settings.camera_rules, dump.names))
    today = datetime.now(UTC).date()
    files = [listing.files[n] for n in sample(listing, per_folder=2, folders=10)]
    heard = again = 0
    days: list[str] = []
    rows = workers.map(lambda f: one_file.examine(READER, f, today), files)
    for file, row in zip(files, rows, strict=True):
        if row is not None:
            before = knowledge.frames.get(row.frame)
            case.hear(row, file.path, before.camera if before else None)
            days += [row.shown[:10]] if row.shown else []
            heard, again = heard + 1, again + (before is not None)
    case.decide()
    camera, why = _whose(case)
    size = listing.bytes
    span = (min(days, default=None), max(days, default=None))
    about = (label_of(path), len(listing.files), size)
    return FoundCard(path, *about, camera, why, heard, again, *span)


def _whose(case: Case) -> tuple[str | None, str]:
    verdicts = list(case.verdicts.values())
    cameras = {v.camera for v in verdicts}
    if not verdicts:
        return None, "no picture on it could be read"
    if len(cameras) == 1:
        return verdicts[0].camera, verdicts[0].why
    names = sorted(c or "an unknown camera" for c in cameras)
    return None, f"pictures of {' and '.join(names)} are on it"
