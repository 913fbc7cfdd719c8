"""Which cards are in a reader right now, and whose each of them seems to be."""

from __future__ import annotations

from collections.abc import Iterable
from concurrent.futures import Executor
from dataclasses import dataclass
from pathlib import Path

from camsign.derive.opening import open_logbook
from camsign.flows.intake import known
from camsign.flows.intake.card_files import Dump, find_dumps, holds_dcim, mounted
from camsign.flows.intake.one_file import Job
from camsign.flows.intake.other_times import OtherTimes
from camsign.flows.intake.whose import Whose
from camsign.logbook.folder import Folder
from camsign.pixels.workers import workers
from camsign.systems import volume_label


@dataclass(frozen=True, slots=True)
class FoundCard:
    """A mounted card. `camera` is whose it seems to be, or None; `why` says how that is known.

    `bytes` is the size of its files [bytes]. `known` of `looked_at` pictures are in the logbook.
    `first`, `last`: days that its own clock showed on the pictures looked at, or None. `several`:
    the cameras whose pictures lie on it, if they are several.
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
    several: tuple[str, ...] = ()


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
    there = []
    for place in places:
        found = find_dumps([place], folder.root)
        there.append((place, next((d for d in found if d.root == place.resolve()), found[0])))
    with open_logbook(folder) as session:
        knowledge = known.load(session, frozenset().union(*(dump.sizes for _, dump in there)))
    with workers(executor) as threads:
        job = Job(folder, threads, knowledge, OtherTimes.of(folder.settings))
        return tuple(_look_into(job, *one) for one in there)


def _look_into(job: Job, path: Path, dump: Dump) -> FoundCard:
    whose = Whose(job, dump)
    items = whose.survey(per_folder=2, folders=10)
    rows = (item.row for item in items)
    days = [row.shown[:10] for row in rows if row.shown and row.shown_from != "file"]
    camera, why = _whose(whose)
    return FoundCard(
        path=path,
        label=volume_label(path),
        files=len(dump.files),
        bytes=dump.bytes,
        camera=camera,
        why=why,
        looked_at=len(items),
        known=sum(item.before is not None for item in items),
        first=min(days, default=None),
        last=max(days, default=None),
        several=tuple(sorted(cameras)) if len(cameras := whose.speaks_for()) > 1 else (),
    )


def _whose(whose: Whose) -> tuple[str | None, str]:
    verdicts = list(whose.verdicts.values())
    cameras = {v.camera for v in verdicts}
    if not verdicts:
        return None, "no picture on it could be read"
    if len(cameras) == 1:
        return verdicts[0].camera, verdicts[0].why
    names = sorted(c or "an unknown camera" for c in cameras)
    return None, f"pictures of {' and '.join(names)} are on it"
