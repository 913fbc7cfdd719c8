"""Frames: which there are, and which are likely empty."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Annotated, Any, Literal

import typer

from camsign.answers import frames as answers
from camsign.answers.frames import FrameRow
from camsign.cli.command import Out, command
from camsign.cli.opened import logbook
from camsign.cli.reading import Camera, First, Last, span
from camsign.cli.show import Aside, Block, listed, note
from camsign.errors import UsageError
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session
from camsign.pixels.contact_sheet import sheets
from camsign.stats.estimate import Estimate
from camsign.units import format_bearing


@command(csv=True)
def frames(
    context: typer.Context,
    book: Folder,
    quiet: bool,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    light: Annotated[str | None, typer.Option(help="color, infrared or dark.")] = None,
    untagged: Annotated[bool, typer.Option("--untagged", help="Not tagged yet.")] = False,
    doubtful: Annotated[bool, typer.Option("--doubtful", help="Their time may be wrong.")] = False,
    empty: Annotated[
        bool, typer.Option("--likely-empty", help="Only the likely empty; the doubtful ones first.")
    ] = False,
    animal: Annotated[
        bool,
        typer.Option(
            "--likely-animal",
            help="Pictures that may have something in them, people included; surest first.",
        ),
    ] = False,
    look_first: Annotated[
        bool, typer.Option("--look-first", help="Look empty, but wait for your check.")
    ] = False,
    sheet: Annotated[
        Path | None,
        typer.Option(metavar="FILE.jpg", help="Save small copies on one sheet."),
    ] = None,
    limit: Annotated[int, typer.Option(min=1, help="How many the table shows.")] = 40,
) -> Out[list[FrameRow]]:
    """List pictures: the right time, what's in them, likely empty or not."""
    likely = _likely(empty, animal, look_first)
    wanted = answers.Wanted(camera, *span(first, last), light, untagged, doubtful, likely)
    with logbook(context, compare=True, quiet=quiet) as session:
        rows = answers.frames(session, wanted)
        none = _none(session, wanted)
    for path in () if sheet is None else _sheets(book, rows, sheet):
        note(f"Saved {path}: open it to look them over.")
    whole = not (empty or animal or look_first)
    return Out(rows, _told(rows, limit, whole, none))


def _none(session: Session, wanted: answers.Wanted) -> str:
    """Say that there are none, and which pictures a slip in the camera's name may have taken."""
    if wanted.likely == "look":
        return "nothing left to check"
    if wanted.camera is None or wanted != answers.Wanted(wanted.camera, untagged=wanted.untagged):
        return "no such pictures"
    told = f"No {'untagged ' * wanted.untagged}pictures from {wanted.camera}."
    for other, n in answers.unhung(session, wanted.camera):
        told += f" {n:,} {'is' if n == 1 else 'are'} under {other}, which isn't hung."
    return told


def _sheets(book: Folder, rows: Sequence[FrameRow], file: Path) -> Iterator[Path]:
    """Save sheets of small pictures: FILE.jpg, and FILE-2.jpg and so on if there are many."""
    made = sheets(book.thumbs, [(row.frame, book.root / row.file) for row in rows])
    for i, data in enumerate(made, 1):
        path = file if i == 1 else file.with_stem(f"{file.stem}-{i}")
        path.write_bytes(data)
        yield path


def _told(rows: Sequence[FrameRow], limit: int, whole: bool, none: str) -> Iterator[Block]:
    """Give the first as a table; of all frames also how many look empty, and how to see them."""
    yield from _table(rows[:limit], none)
    if len(rows) > limit:
        yield Aside(f"{len(rows) - limit} more; --limit shows more, --csv and --json all.")
    if not whole:
        return
    aside = sum(bool(r.likely_empty) for r in rows)
    held = sum(map(_wait_for_a_look, rows))
    if aside or held:
        rest = sum(not r.likely_empty and not r.look_first for r in rows)
        yield Aside(
            f"{aside} of {len(rows)} are likely empty (--likely-empty); {held} look empty, but "
            f"wait for your check (--look-first); {rest} may hold something (--likely-animal)."
        )
    if small := sum(bool(r.small) for r in rows):
        yield Aside(
            f"{small} of {len(rows)} also came by radio as small pictures; each counts once."
        )


def _likely(
    empty: bool, animal: bool, look_first: bool
) -> Literal["empty", "look", "animal"] | None:
    if empty + animal + look_first > 1:
        raise UsageError(
            "--likely-empty, --look-first and --likely-animal together leave nothing out",
            "give one",
        )
    return "empty" if empty else "look" if look_first else "animal" if animal else None


def _table(rows: Sequence[FrameRow], none: str) -> Iterator[Block]:
    columns: dict[str, str | Callable[[FrameRow], Any]] = {
        "frame": lambda r: r.frame[:12],
        "camera": "camera",
        # No fractions of a second: they break the row. --json keeps them.
        "camera showed": lambda r: r.clock_time and r.clock_time.partition(".")[0],
        "right time": "local",
        "light": "light",
        "how likely empty": _how_empty,
    }
    if any(r.detected for r in rows):
        columns["detector"] = lambda r: (
            f"{r.detected} {r.detected_score:.2f}" if r.detected_score else r.detected
        )
    if any(r.estimated_way for r in rows):
        columns["going (estimated)"] = lambda r: going(r.estimated_way, r.estimated_travel_deg)
    return listed(rows, columns | {"tags": "tags", "doubt": "doubt"}, none)


def _how_empty(row: FrameRow) -> str | None:
    """Write its score as a chance, never as sure as 0 or 100%, and whether it waits for a look."""
    if not row.compared:
        return f"can't judge: {row.cant_judge}" if row.cant_judge else "?"
    if row.empty_score is None:
        return None
    look = ", check" if _wait_for_a_look(row) else ""
    return f"{min(max(row.empty_score, 0.01), 0.99):.0%}{look}"


def _wait_for_a_look(row: FrameRow) -> bool:
    return bool(row.look_first and not row.tags)


def going(way: str | None, travel: Estimate) -> str | None:
    """Write a suggested travel for people: the way in the picture, and bearings if known."""
    side = way and f"to the {way} of the picture"
    if side is None or travel.value is None:
        return side
    return f"{side}, about {format_bearing(travel.value, travel.low, travel.high)}"
