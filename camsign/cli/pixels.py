"""What the pixels say, measured again."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from concurrent.futures import Executor
from contextlib import AbstractContextManager, nullcontext
from pathlib import Path
from typing import Annotated

import typer

from camsign.cli.command import Out, code_of, command
from camsign.cli.reading import Camera, First, Frames, Last, span
from camsign.cli.show import Block, first_of
from camsign.cli.waiting import Progress
from camsign.errors import UsageError
from camsign.flows.cluster import cluster
from camsign.flows.remeasure.detect import Detecting, detect
from camsign.flows.remeasure.look_again import LookedAgain, look_again
from camsign.logbook.folder import Folder
from camsign.tags.frames import Which
from camsign.units import counted


@command(
    attention="some pictures could not be read",
    refused="no picture could be read",
    stopped="cards that were done are kept; the same command measures the rest",
)
def look(
    book: Folder,
    progress: Progress,
    quiet: bool,
    frames: Frames = None,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    card: Annotated[str | None, typer.Option(help="Only this card's, by its id.")] = None,
    every: Annotated[
        bool, typer.Option("--all", help="Also what this version measured already.")
    ] = False,
    model: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="A detector of your own: ONNX or a frozen graph, and its .toml."
        ),
    ] = None,
    workers: Annotated[
        str | None,
        typer.Option(
            metavar="tcp://HOST:PORT", help="Let a Dask scheduler's workers do it (docs/how-to.md)."
        ),
    ] = None,
    there: Annotated[
        str,
        typer.Option(
            "--pictures-at",
            metavar="ADDRESS",
            help="Where workers find this folder if they don't mount it, such as s3://bucket/woods.",
        ),
    ] = "",
) -> Out[LookedAgain | Detecting]:
    """Check all pictures again for empty ones, or let your own detector check them.

    Without frames, camera or card: what an older version measured. A detector looks where frames
    are new, can only raise a frame, never set one aside, and names no species (docs/pixels.md).
    """
    which = Which(tuple(frames or ()), camera, *span(first, last), card)
    done: LookedAgain | Detecting
    lost: list[str] = []
    with _working(workers, there, book, lost.append) as executor:
        if model is not None:
            done = detect(book, model, which, executor, progress, there)
        else:
            done = look_again(book, which, every, executor, progress, there)
    left = [f"{one.frame[:12]}: {one.why}" for one in done.skipped]
    warned = () if quiet else (*lost, *first_of(left))
    return Out(done, _told(done), warned=warned, code=code_of(left, done.frames))


def _working(
    address: str | None, there: str, book: Folder, tell: Callable[[str], None]
) -> AbstractContextManager[Executor | None]:
    if address is None:
        if there:
            raise UsageError("--pictures-at is for --workers", "leave it out, or give both")
        return nullcontext()
    return cluster(address, book, tell, there)


def _told(done: LookedAgain | Detecting) -> Iterator[Block]:
    if not isinstance(done, Detecting):
        yield f"Measured {counted(done.frames, 'picture')} again in {done.seconds:.1f} s."
        return
    yield (
        f"{done.model} looked at {counted(done.frames, 'new picture')} in {done.seconds:.1f} s; "
        f"{done.nothing_new} show nothing new."
    )
    yield (
        f"An animal in {done.animal}, a person in {done.person}, a vehicle in {done.vehicle}; "
        f"{counted(done.raised, 'picture')} no longer set aside."
    )
