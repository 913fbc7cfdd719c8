"""A detector of the user's own let loose on stored frames, where they are new."""

from __future__ import annotations

import time
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

from camsign.derive.comparing import compared
from camsign.derive.opening import open_logbook
from camsign.flows.remeasure.originals import Stored, chosen, read, work_through
from camsign.formats.kinds import Kind
from camsign.logbook.database import run_sql
from camsign.logbook.far import Progress
from camsign.logbook.folder import Folder
from camsign.logbook.records import Detected
from camsign.logbook.session import Session
from camsign.pixels.decode import Undecodable
from camsign.pixels.detector import Box, Detector, enough_of
from camsign.pixels.see import pictures
from camsign.tags.frames import Skipped, Which


@dataclass(frozen=True, slots=True)
class Detecting:
    """What a detector did. `frames`: how many it looked at; `seconds`: how long it took [s].

    animal, person, vehicle: in how many of them it found one. `raised`: how many were set aside as
    likely empty and no longer are. `nothing_new`: frames that it had no reason to look at.
    """

    frames: int
    seconds: float
    model: str
    animal: int
    person: int
    vehicle: int
    raised: int
    nothing_new: int
    skipped: tuple[Skipped, ...]


def detect(
    folder: Folder,
    model: Path,
    which: Which,
    executor: Executor | None = None,
    progress: Progress | None = None,
    there: str = "",
) -> Detecting:
    """Let a detector look at frames; what it finds is kept in each card's folder.

    It replaces what another detector said of the same frames before. It can only lower a frame's
    empty score.

    Args:
        folder: the logbook; it is free while the detector works.
        model: an ONNX file or frozen TensorFlow graph; its recipe lies beside it as .toml.
        which: the frames; none named means all.
        executor, progress, there: as in `camsign.flows.remeasure.look_again`.

    Raises:
        InputRefused: the detector or its recipe cannot be used; else as there.
    """
    began = time.monotonic()
    detector = Detector(model)
    with compared(folder, executor=None if there else executor) as session:
        rows, skipped = chosen(session, which, there)
        before = _aside(session)
    new = [row for row in rows if row.box is not None]
    work = partial(_look, detector)
    frames, left = work_through(folder, new, work, executor, progress)
    with open_logbook(folder) as session:
        raised = len(before - _aside(session))
        given = {"model": detector.name, "frames": [row.frame for row in new]}
        found = run_sql(session.con, __file__, "detected.sql", **given)
        ((animal, person, vehicle),) = found.fetchall()
    seconds = round(time.monotonic() - began, 3)
    nothing = len(rows) - len(new)
    told = (*skipped, *left)
    name = detector.name
    return Detecting(frames, seconds, name, animal, person, vehicle, raised, nothing, told)


def _look(detector: Detector, row: Stored) -> Detected | Skipped:
    data = read(row)
    if row.box is None:
        return Skipped(row.frame, "it shows nothing new")
    picture = data if isinstance(data, Undecodable) else _picture(detector, row, row.box, data)
    if isinstance(picture, Undecodable):
        return Skipped(row.frame, picture.reason)
    return detector.look(row.frame, picture, row.box)


def _picture(
    detector: Detector, row: Stored, box: Box, data: bytes | None
) -> NDArray[Any] | Undecodable:
    """Give the picture as fine as the detector can use it; of clips the first, reduced."""
    kind = Kind(row.kind)
    if data is not None and kind in (Kind.JPEG, Kind.PNG):
        found = enough_of(data, box, detector.recipe)
        return Undecodable("its pixels cannot be decoded") if found is None else found
    some = pictures(kind, data, row.path)
    if isinstance(some, Undecodable):
        return some
    return some[0].pixels if some else Undecodable(f"a {kind} cannot be looked at here")


def _aside(session: Session) -> set[str]:
    sql = "SELECT frame FROM empty_scores WHERE aside OR look_first"
    return {frame for (frame,) in session.con.execute(sql).fetchall()}
