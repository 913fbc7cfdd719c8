"""One dump, from the files on it to cards that stand."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import date
from functools import partial
from tempfile import TemporaryFile

from camsign.errors import REFUSED, CamsignError, InputRefused
from camsign.flows.intake import card_files, companions, incoming
from camsign.flows.intake.card_files import Dump
from camsign.flows.intake.commit import commit
from camsign.flows.intake.incoming import Incoming, Leftovers, SafeNames
from camsign.flows.intake.one_file import Job, NotTaken, take
from camsign.flows.intake.report import Report
from camsign.flows.intake.whose import Whose
from camsign.logbook import placing
from camsign.pixels.workers import in_order
from camsign.systems import remove_tree
from camsign.units import counted

WINDOW = 24
"""How many files are in work or waiting at most."""


def take_dump(job: Job, dump: Dump) -> Report:
    """Take one dump in: a bounded window of its files is in work at once, and noted in order.

    Raises:
        InputRefused: it holds no picture, or whose they are is not known; nothing was written.
        CamsignError: a disk is full, or the card was pulled out; running it again goes on.
    """
    pairs = companions.of_one_name(f.card_path for f in dump.files)
    thms = (f for f in dump.files if f.card_path in pairs and f.card_path.lower().endswith(".thm"))
    job = replace(job, pairs=pairs, smalls={pairs[f.card_path]: f for f in thms})
    whose = Whose(job, dump)
    job = replace(job, described={i.file.card_path: i.row for i in whose.survey()})
    whose.refuse()
    with TemporaryFile(dir=job.folder.cache) as spool, _room(job, dump) as room:
        job, names = replace(job, room=room), SafeNames()
        report = Report(job, dump, whose, spool, _is_full(dump), [*dump.companions], [*dump.left])
        with _disk_errors(report):
            tasks = (partial(take, job, f, names.path(f.card_path)) for f in dump.files)
            for done, item in enumerate(in_order(job.executor, tasks, WINDOW), 1):
                report.note(item)
                if isinstance(item, NotTaken) and item.unreadable and _is_gone(dump):
                    raise _stopped(f"{dump.root} stopped answering: ", report, _INSERT)
                if job.progress is not None:
                    job.progress(done, len(dump.files))
            report.unsettled = card_files.changes(dump, card_files.list_files(dump))
            report.partial = card_files.partial(dump, job.folder.root)
            whose.decide()
            whose.refuse(report.left)
            commit(report)
            report.warnings += whose.objections(report.cards)
            _tidy(report)
    return report


@contextmanager
def _room(job: Job, dump: Dump) -> Iterator[Incoming | None]:
    """Give a room in which the card is put together; none if nothing is to be written.

    After a failure what stands in it waits for the next run, which goes on with it.
    """
    if job.dry_run:
        yield None
        return
    with closing(incoming.find_leftovers(job.folder, dump.sizes, job.executor)) as leftovers:
        _check_space(job, dump, leftovers)
        with closing(incoming.start(job.folder, job.disk, leftovers)) as room:
            try:
                yield room
            except BaseException as e:
                # What was refused is refused again: nothing of it would be gone on with.
                if isinstance(e, InputRefused) or not any(incoming.files_of(room.root)):
                    remove_tree(room.root)
                raise


def _check_space(job: Job, dump: Dump, leftovers: Leftovers) -> None:
    """Refuse before the first copy if what is surely new cannot fit."""
    need = sum(f.bytes for f in dump.files if f.bytes not in job.known.sizes) - leftovers.bytes
    job.folder.cards.mkdir(exist_ok=True)
    free = placing.free_bytes(job.folder.cards)
    if need > free:
        raise InputRefused(
            f"the card needs {_size(need)}, and only {_size(free)} are free where"
            f" {job.folder.root} lies",
            "free some space, then run the same command again; do not wipe the card",
        )


def _is_full(dump: Dump) -> bool:
    """Whether a card in a reader had no room left for two more files like those on it."""
    if not dump.files or not dump.root.is_mount():
        return False
    return placing.free_bytes(dump.root) < 2 * dump.bytes / len(dump.files)


def _size(count: float) -> str:
    # In decimal units, as disks are sold.
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.1f} MB"


def _tidy(report: Report) -> None:
    job, frames = report.job, report.job.known.frames
    if report.heic:
        from camsign.pixels.see import opens_heic  # which loads NumPy

        if not opens_heic():
            report.warnings.append(
                f"HEIC pictures copied, but not looked at: {report.heic}; to see them, pip install"
                ' "camsign[heic]", then camsign look'
            )
    if report.mended:
        root = report.dump.root
        report.warnings.append(
            f"{counted(report.mended, 'damaged or missing file')} replaced from {root}"
        )
    if job.room is None:
        return
    job.room.leftovers.drop(lambda frame: frame in frames or frame in report.stored)
    for root, count in incoming.sweep(job.room.leftovers):
        day = date.fromtimestamp(root.stat().st_mtime)  # noqa: DTZ012 - the user's own day is meant
        report.warnings.append(
            f"{counted(count, 'file')} of another card, whose load was stopped on {day}, not taken "
            "in yet: insert that card and load it again; this card is complete"
        )


def _is_gone(dump: Dump) -> bool:
    """Whether the whole card stopped answering, not just one of its files."""
    try:
        with os.scandir(dump.root) as entries:
            return next(iter(entries), None) is None
    except OSError:
        return True


_INSERT = "insert the card again and run the same command: it goes on from there"
_FREE = "do not wipe the card; free some space and run the same command: it goes on from there"


def _stopped(what: str, report: Report, remedy: str) -> CamsignError:
    files = counted(len(report.dump.files), "file")
    error = CamsignError(f"{what}{report.taken} of {files} safe so far", remedy)
    error.exit_code = REFUSED
    return error


@contextmanager
def _disk_errors(report: Report) -> Iterator[None]:
    """Tell people what the logbook's disk said, and that nothing is lost."""
    import duckdb

    try:
        yield
    except (OSError, duckdb.Error) as e:
        said = (getattr(e, "strerror", None) or str(e)).splitlines()[0]
        what = f"{report.job.folder.root} cannot be written to ({said}): "
        raise _stopped(what, report, _FREE) from e
