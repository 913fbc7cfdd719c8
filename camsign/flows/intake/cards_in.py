"""Cards in: every dump under some paths, one after the other, their files many at once."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor
from contextlib import ExitStack, contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from camsign.cards.listing import spans
from camsign.derive.comparing import compared
from camsign.derive.opening import open_logbook
from camsign.errors import CamsignError, LogbookBusy
from camsign.flows.intake import known
from camsign.flows.intake.card_files import Dump, find_dumps
from camsign.flows.intake.dump import take_dump
from camsign.flows.intake.one_camera import refuse_several
from camsign.flows.intake.one_file import Job
from camsign.flows.intake.other_times import OtherTimes
from camsign.flows.intake.read import READER, Reader
from camsign.flows.intake.report import Report
from camsign.flows.intake.result import Ask, CameraCount, CardTaken, Doubt, IngestResult
from camsign.flows.intake.since_last_check import SinceLastCheck, since_last_check
from camsign.logbook import naming, second_copies
from camsign.logbook.database import sparing
from camsign.logbook.folder import Folder
from camsign.logbook.placing import DISK, Disk
from camsign.logbook.session import Session
from camsign.pixels.scores import Aside, set_aside
from camsign.pixels.workers import workers


def ingest(
    folder: Folder,
    paths: Sequence[Path],
    *,
    camera: str | None = None,
    dry_run: bool = False,
    accept_refused: bool = False,
    ask: Ask | None = None,
    executor: Executor | None = None,
    progress: Callable[[int, int], None] | None = None,
    reader: Reader = READER,
    disk: Disk = DISK,
) -> IngestResult:
    """Take cards in. The cards are only read; the logbook is opened only before and after.

    Args:
        folder: the logbook.
        paths: cards, folders that hold dumps of cards, or single files.
        camera: whose they are, whatever the cards say.
        dry_run: say what would happen and write nothing.
        accept_refused: what cannot be taken in may be lost when the card is wiped.
        ask: is asked whose pictures these are where the card does not settle it; None is no answer.
        executor: runs the work on files; default threads.
        progress: is told (files done, files in all) of each dump.
        reader: reads the cards.
        disk: writes the logbook.

    Raises:
        InputRefused: nothing was taken in: unknown camera, one camera said for what is plainly
            several cameras', no pictures, no room.
        CamsignError: nothing was taken in: a disk failed, the card was pulled out.
    """
    began = time.monotonic()
    dumps = find_dumps(paths, folder.root)
    sizes = [dump.sizes for dump in dumps]
    with open_logbook(folder) as session:
        knowledge = known.load(session, frozenset().union(*sizes))
    if camera is not None:
        camera = knowledge.spelled(naming.cleaned(camera, "camera"))
    reports: list[Report] = []
    failures: list[CamsignError] = []
    with workers(executor) as threads:
        about = (camera, ask, dry_run, accept_refused, progress, reader, disk)
        job = Job(folder, threads, knowledge, OtherTimes.of(folder.settings), *about)
        if camera is not None:
            refuse_several(job, dumps, paths)
        for nth, dump in enumerate(dumps, 1):
            try:
                report = take_dump(job, dump)
            except CamsignError as e:
                failures.append(_of_dump(dump, e) if len(dumps) > 1 else e)
                continue
            finally:
                dump.files.clear()  # what lies on many cards is not held at once
            reports.append(report)
            if not dry_run and nth < len(dumps):
                names = [card.folder for card in report.cards if card.new]
                ahead = frozenset().union(*sizes[nth:])
                job = replace(job, known=known.learn(job.known, folder, names, ahead))
    if failures and not reports:
        raise failures[0] if len(failures) == 1 else _all_failed(failures)
    since, aside = _look_back(folder, reports)
    seconds = round(time.monotonic() - began, 3)
    result = _sum_up(reports, failures)
    told = second_copies.words(folder, new=result.new > 0)
    return replace(
        result, since=since, set_aside=aside, second_copy=told, seconds=seconds, dry_run=dry_run
    )


def _look_back(
    folder: Folder, reports: Sequence[Report]
) -> tuple[tuple[SinceLastCheck, ...], tuple[Aside, ...]]:
    """Give the cards' spans by the right time of their pictures, and sum up each new camera.

    First what is not compared yet is compared with its camera's others, of known cards too: a run
    that was killed while it compared goes on here. What cannot be compared now is done later.
    """
    cards = [card for r in reports for card in r.cards if card.folder]
    if not cards:
        return (), ()
    try:
        with _compared(folder, cards, reports[-1]) as session:
            found, since, aside = sparing(
                session.con,
                lambda: (
                    spans(session, [card.card for card in cards]),
                    tuple(since_last_check(session, *new) for new in _new(reports)),
                    tuple(set_aside(session, [card.card for card in cards if card.new])),
                ),
            )
    except LogbookBusy:
        return (), ()
    for r in reports:
        for n, card in enumerate(r.cards):
            if span := found.get(card.card):
                first, last = (moment.isoformat() for moment in span)
                r.cards[n] = replace(card, first=first, last=last)
    return since, aside


@contextmanager
def _compared(folder: Folder, cards: Sequence[CardTaken], report: Report) -> Iterator[Session]:
    """Open the logbook with these cards' frames compared; if that can't be now, the report tells
    why, and it is opened as it is."""
    with ExitStack() as opened:
        try:
            cameras = sorted({card.camera for card in cards})
            session = opened.enter_context(compared(folder, cameras))
        except (LogbookBusy, OSError) as e:
            told = f"the cards are loaded, but no picture was compared yet: {e}"
            report.warnings.append(told)
            session = opened.enter_context(open_logbook(folder, spare=True))
        yield session


def _new(reports: Sequence[Report]) -> list[tuple[str, list[str], bool]]:
    """Give each camera with new cards, by name, those cards, and whether one had hardly room."""
    full: dict[str, bool] = {}
    cards: dict[str, list[str]] = {}
    for r in reports:
        for card in r.cards:
            if card.new and card.folder:
                cards.setdefault(card.camera, []).append(card.card)
                full[card.camera] = full.get(card.camera, False) or r.card_full
    return [(camera, cards[camera], full[camera]) for camera in sorted(cards)]


def _of_dump(dump: Dump, e: CamsignError) -> CamsignError:
    """The error with the card's name in front, if it does not bear it."""
    if str(dump.root) not in e.what:
        e.what, e.args = f"{dump.root}: {e.what}", (f"{dump.root}: {e}",)
    return e


def _all_failed(failures: Sequence[CamsignError]) -> CamsignError:
    error = CamsignError(" | ".join(str(f) for f in failures))
    error.exit_code = max(f.exit_code for f in failures)
    return error


def _sum_up(reports: Sequence[Report], failures: Sequence[CamsignError]) -> IngestResult:
    several = len(reports) + len(failures) > 1
    reasons = [f"{r.dump.root}: {why}" if several else why for r in reports for why in r.reasons()]
    reasons += [f.what for f in failures]
    cards = tuple(card for r in reports for card in r.cards)
    doubts = (Doubt(why, n, file) for r in reports for why, (n, file) in r.doubts.items())
    return IngestResult(
        cards=cards,
        files=sum(r.files for r in reports),
        new=sum(c.new for c in cards),
        known=sum(c.known for c in cards),
        refused=tuple(left for r in reports for left in r.not_taken),
        lost=tuple(left for r in reports for left in r.lost),
        by_camera=tuple(_by_camera(cards)),
        safe_to_wipe=not reasons,
        seconds=0.0,
        reasons=tuple(reasons),
        companions=tuple(c for r in reports for c in r.companions),
        doubts=tuple(doubts),
        warnings=(*(w for r in reports for w in r.warnings), *map(str, failures)),
        notes=tuple(line for r in reports for line in r.notes),
    )


def _by_camera(cards: Sequence[CardTaken]) -> Iterator[CameraCount]:
    by_time = datetime.fromisoformat
    for camera in sorted({c.camera for c in cards}):
        mine = [c for c in cards if c.camera == camera]
        yield CameraCount(
            camera=camera,
            frames=sum(c.frames for c in mine),
            new=sum(c.new for c in mine),
            known=sum(c.known for c in mine),
            first=min(filter(None, (c.first for c in mine)), key=by_time, default=None),
            last=max(filter(None, (c.last for c in mine)), key=by_time, default=None),
        )
