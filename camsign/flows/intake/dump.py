"""One dump, from the files on it to cards that stand."""

from __future__ import annotations

import os
import shutil
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Executor, Future
from contextlib import ExitStack, closing, contextmanager
from datetime import UTC, date, datetime
from itertools import repeat

from camsign.errors import REFUSED, CamsignError, InputRefused
from camsign.flows.intake import commit, companions, incoming, one_file, other_times
from camsign.flows.intake.card_files import CardFile, Dump, Listing, changes, list_files, partial
from camsign.flows.intake.evidence import Witness
from camsign.flows.intake.incoming import Incoming, Leftovers
from camsign.flows.intake.known import Known
from camsign.flows.intake.one_file import Bench, Outcome
from camsign.flows.intake.report import DumpReport
from camsign.flows.intake.safe_names import SafeNames
from camsign.flows.intake.spool import Spool, Spooled
from camsign.flows.intake.tools import Tools
from camsign.flows.intake.whose import Case, sample
from camsign.logbook.folder import Folder
from camsign.logbook.receipts import Left
from camsign.logbook.sealed import hash_of

WINDOW = 24
"""How many files are in work or waiting at most."""


def take_dump(tools: Tools, known: Known, dump: Dump) -> DumpReport:
    """Take one dump in.

    Raises:
        InputRefused: it holds no picture, or whose they are is not known; nothing was written.
        CamsignError: a disk is full, or the card was pulled out; running it again goes on.
    """
    listing = list_files(dump)
    listed = {f.path: f for f in listing.files}
    _set_aside(listing)
    smalls = _smalls(listing)
    report = DumpReport(dump, companions=list(listing.companions), left=list(listing.left))
    report.card_full = _is_full(dump, listing)
    rules = tools.folder.settings.camera_rules
    case = Case(dump, known, Witness(known, rules, dump.names), tools.camera, tools.ask)
    today = datetime.now(UTC).date()
    _survey(tools, case, listing, today)
    with ExitStack() as stack:
        spool = stack.enter_context(Spool(tools.folder.cache))
        leftovers, room = Leftovers(), None
        if not tools.dry_run:
            leftovers = stack.enter_context(closing(_leftovers(tools, listing)))
            _check_space(tools.folder, known, listing, leftovers)
            room = stack.enter_context(closing(incoming.start(tools.folder, tools.disk)))
        bench = _bench(tools, known, leftovers, room, today, smalls)
        try:
            with _disk_errors(tools.folder, report, len(listing.files)):
                _work_through(tools, bench, case, listing, spool, report)
                report.unsettled = changes(listed, listing.left, dump)
                report.partial = partial(dump, tools.folder.root)
                _decide(case, report)
                incoming.sweep(leftovers)  # one of them may bear the name that this card will get
                commit.commit(tools, case, spool, room, report)
                _tidy(leftovers, known, report)
        except BaseException:
            if room is not None and not any(incoming.files_of(room.root)):
                incoming.remove_tree(room.root)
            raise
    return report


def _set_aside(listing: Listing) -> None:
    """Move small pictures that were made from other files of the card to the companions."""
    names = frozenset(f.card_path.casefold() for f in listing.files)
    aside = {f: why for f in listing.files if (why := companions.of_another(f.card_path, names))}
    listing.companions += [Left(f.card_path, why) for f, why in aside.items()]
    listing.files[:] = [f for f in listing.files if f not in aside]


def _smalls(listing: Listing) -> dict[str, CardFile]:
    """The small pictures that go with clips, by the clip's path on the card."""
    paths = {f.card_path.casefold(): f.card_path for f in listing.files}
    found = ((companions.clip_of(f.card_path, paths), f) for f in listing.files)
    return {clip: small for clip, small in found if clip}


def _survey(tools: Tools, case: Case, listing: Listing, today: date) -> None:
    """Learn from a few files of each folder whose card it is, before anything is copied."""
    files = [listing.files[n] for n in sample(listing)]
    readers, days = repeat(tools.reader), repeat(today)
    rows = tools.executor.map(one_file.examine, readers, files, days)
    for file, row in zip(files, rows, strict=True):
        if row is not None:
            before = case.known.frames.get(row.frame)
            case.hear(row, file.path, before.camera if before else None)
    case.decide()
    if case.groups and not case.cameras():
        raise commit.unknown_camera(case)
    _refuse_contradiction(case)
    case.count_anew()


def _leftovers(tools: Tools, listing: Listing) -> Leftovers:
    """Find what interrupted ingests had placed of this card; only sizes that occur are hashed."""
    found = incoming.find_leftovers(tools.folder)
    sizes = {f.bytes for f in listing.files}
    for root, _ in found.roots:
        paths = [p for p in incoming.files_of(root) if p.stat().st_size in sizes]
        for path, sha256 in zip(paths, tools.executor.map(hash_of, paths), strict=True):
            incoming.note(found, path, sha256)
    return found


def _check_space(folder: Folder, known: Known, listing: Listing, leftovers: Leftovers) -> None:
    """Refuse before the first copy if what is surely new cannot fit."""
    need = sum(f.bytes for f in listing.files if not known.frames.has_size(f.bytes))
    need -= leftovers.bytes
    folder.cards.mkdir(exist_ok=True)
    free = shutil.disk_usage(folder.cards).free
    if need > free:
        raise InputRefused(
            f"the card needs {size(need)}, and only {size(free)} are free where {folder.root} lies",
            "free some space, then run the same command again; do not wipe the card",
        )


def _is_full(dump: Dump, listing: Listing) -> bool:
    """Whether a card in a reader had no room left for two more files like those on it."""
    if not listing.files or not dump.root.is_mount():
        return False
    return shutil.disk_usage(dump.root).free < 2 * listing.bytes / len(listing.files)


def size(count: int) -> str:
    """Give a size in words, in decimal units as disks are sold [bytes]."""
    return f"{count / 1e9:.1f} GB" if count >= 1e9 else f"{count / 1e6:.1f} MB"


def _bench(
    tools: Tools,
    known: Known,
    leftovers: Leftovers,
    room: Incoming | None,
    today: date,
    smalls: dict[str, CardFile],
) -> Bench:
    return Bench(
        folder=tools.folder,
        reader=tools.reader,
        disk=tools.disk,
        known=known.frames,
        leftovers=leftovers,
        incoming=room,
        today=today,
        patterns=other_times.compiled(tools.folder.settings.time_in_name),
        tz=tools.folder.settings.tz,
        smalls=smalls,
        clips={small.card_path: clip for clip, small in smalls.items()},
    )


def _work_through(
    tools: Tools, bench: Bench, case: Case, listing: Listing, spool: Spool, report: DumpReport
) -> None:
    total = len(listing.files)
    outcomes = _in_order(tools.executor, bench, listing.files)
    for done, outcome in enumerate(outcomes, 1):
        report.note(outcome)
        if outcome.row is not None:
            group = case.hear(outcome.row, outcome.file.path, outcome.known_as)
            spool.add(Spooled(group, outcome.row, outcome.look))
        elif outcome.unreadable and _is_gone(case.dump):
            raise _gone(case.dump, report.taken, total)
        if tools.progress is not None:
            tools.progress(done, total)


def _in_order(executor: Executor, bench: Bench, files: list[CardFile]) -> Iterator[Outcome]:
    """Work on a bounded window of files at once, and give what became of them in their order."""
    names = SafeNames()
    pending: deque[Future[Outcome]] = deque()
    try:
        for file in files:
            pending.append(executor.submit(one_file.take, bench, file, names.path(file.card_path)))
            if len(pending) >= WINDOW:
                yield pending.popleft().result()
        while pending:
            yield pending.popleft().result()
    finally:
        for future in pending:
            future.cancel()
        for future in pending:
            if not future.cancelled():
                future.exception()


def _refuse_contradiction(case: Case) -> None:
    if why := case.contradiction():
        raise InputRefused(
            f"{case.dump.root}: you said {case.camera}, but {why}",
            "leave --camera out, and each goes to the camera that its name says",
        )


def _decide(case: Case, report: DumpReport) -> None:
    case.decide()
    _refuse_contradiction(case)
    report.warnings += case.objections()
    if case.groups and not case.cameras():
        raise commit.unknown_camera(case)
    if not case.groups:
        raise _no_pictures(report)


def _no_pictures(report: DumpReport) -> InputRefused:
    root = report.dump.root
    if report.left:
        first = report.left[0]
        return InputRefused(
            f"{root} holds no picture or clip that can be taken in (the first of "
            f"{len(report.left)}: {first.file}: {first.why})",
            "check the card in another reader",
        )
    return InputRefused(f"{root} holds no picture or clip", "name the card's folder")


def _tidy(leftovers: Leftovers, known: Known, report: DumpReport) -> None:
    leftovers.drop(lambda frame: known.frames.get(frame) is not None or frame in report.stored)
    for root, count in incoming.sweep(leftovers):
        report.warnings.append(
            f"{count} files of an ingest that did not finish wait in {root}; insert that card again"
        )


def _is_gone(dump: Dump) -> bool:
    """Whether the whole card stopped answering, not just one of its files."""
    try:
        with os.scandir(dump.root) as entries:
            return next(iter(entries), None) is None
    except OSError:
        return True


def _gone(dump: Dump, done: int, total: int) -> CamsignError:
    error = CamsignError(
        f"{dump.root} stopped answering: {done} of {total} files are safe so far",
        "insert the card again and run the same command: it goes on from there",
    )
    error.exit_code = REFUSED
    return error


@contextmanager
def _disk_errors(folder: Folder, report: DumpReport, total: int) -> Iterator[None]:
    """Tell people what the logbook's disk said, and that nothing is lost."""
    import duckdb

    try:
        yield
    except (OSError, duckdb.Error) as e:
        said = (getattr(e, "strerror", None) or str(e)).splitlines()[0]
        error = CamsignError(
            f"{folder.root} cannot be written to ({said}): {report.taken} of {total} files are safe"
            " so far",
            "do not wipe the card; free some space and run the same command: it goes on from there",
        )
        error.exit_code = REFUSED
        raise error from e
