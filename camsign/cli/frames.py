"""Frames: which there are, and which are likely empty."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from camsign.cli.opened import folder, logbook
from camsign.cli.show import Csv, Form, Json, form, listing
from camsign.cli.waiting import bar
from camsign.errors import UsageError

if TYPE_CHECKING:
    from camsign.answers.frames import FrameRow
    from camsign.logbook.folder import Folder
    from camsign.stats.estimate import Estimate

Camera = Annotated[str | None, typer.Option(help="Only this camera's.")]
First = Annotated[str | None, typer.Option("--from", metavar="WHEN", help="Not before this.")]
Last = Annotated[str | None, typer.Option("--to", metavar="WHEN", help="Not after this.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(frames)


def frames(
    context: typer.Context,
    camera: Camera = None,
    first: First = None,
    last: Last = None,
    light: Annotated[str | None, typer.Option(help="colour, infrared or dark.")] = None,
    untagged: Annotated[bool, typer.Option("--untagged", help="Nothing said of them yet.")] = False,
    doubtful: Annotated[bool, typer.Option("--doubtful", help="Their time may be wrong.")] = False,
    empty: Annotated[
        bool, typer.Option("--likely-empty", help="Set aside; what may yet be something first.")
    ] = False,
    animal: Annotated[
        bool,
        typer.Option(
            "--likely-animal", help="All others, also people and vehicles; the surest first."
        ),
    ] = False,
    look_first: Annotated[
        bool, typer.Option("--look-first", help="Likely empty, but held until you looked.")
    ] = False,
    sheet: Annotated[
        Path | None,
        typer.Option(metavar="FILE.jpg", help="Save them small, to look over."),
    ] = None,
    limit: Annotated[int, typer.Option(min=1, help="How many the table shows.")] = 40,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """List frames with what the camera showed, the right time, and whether anything is there."""
    from camsign.answers import frames as answers
    from camsign.answers.result import columns_of
    from camsign.cli.show import note
    from camsign.derive.comparing import compare
    from camsign.units import parse_when

    asked = form(as_json, as_csv)
    wanted = answers.Wanted(
        camera,
        parse_when(first) if first else None,
        parse_when(last) if last else None,
        light,
        untagged,
        doubtful,
        _likely(empty, animal, look_first),
    )
    with bar(quiet=asked is not Form.TABLE) as progress:
        compare(folder(context), progress=progress)
    with logbook(context) as session:
        rows = answers.frames(session, wanted)
    if sheet is not None:
        _save_sheets(folder(context), rows, sheet)
    if asked is not Form.TABLE:
        listing(rows, dict.fromkeys(columns_of(answers.FrameRow), ""), asked)
        return
    _table(rows[:limit])
    if len(rows) > limit:
        note(f"{len(rows) - limit} more; --limit shows more, --csv and --json all.")
    if not (empty or animal or look_first):
        _note_aside(rows)


def _save_sheets(book: Folder, rows: Sequence[FrameRow], file: Path) -> None:
    """Save sheets of small pictures: FILE.jpg, and FILE-2.jpg and so on if there are many."""
    from camsign.cli.show import note
    from camsign.pixels.contact_sheet import sheets

    made = sheets(book.thumbs, [(row.frame, book.root / row.file) for row in rows])
    for i, data in enumerate(made, 1):
        path = file if i == 1 else file.with_stem(f"{file.stem}-{i}")
        path.write_bytes(data)
        note(f"{path}: look it over.")


def _note_aside(rows: Sequence[FrameRow]) -> None:
    """Say how many of these look empty, and how to see them."""
    from camsign.cli.show import note

    if aside := sum(bool(r.likely_empty) for r in rows):
        note(f"{aside} of {len(rows)} are likely empty: --likely-empty, --likely-animal.")
    if small := sum(bool(r.small) for r in rows):
        note(f"{small} of {len(rows)} also came by radio as small pictures; each counts once.")
    if held := sum(bool(r.look_first) for r in rows):
        note(f"{held} of {len(rows)} look empty, but wait for your look: --look-first.")


def _likely(
    empty: bool, animal: bool, look_first: bool
) -> Literal["empty", "look", "animal"] | None:
    if empty + animal + look_first > 1:
        raise UsageError(
            "--likely-empty, --look-first and --likely-animal are all frames", "give one or none"
        )
    return "empty" if empty else "look" if look_first else "animal" if animal else None


def _table(rows: Sequence[FrameRow]) -> None:
    columns = {"frame": "frame", "camera": "camera", "clock_time": "camera showed"}
    columns |= {"local": "right time", "light": "light", "empty_score": "empty"}
    if any(r.detected for r in rows):
        columns |= {"detected": "detector"}
    if any(r.estimated_way for r in rows):
        columns |= {"going": "going (estimated)"}
    columns |= {"tags": "tags", "doubt": "doubt"}
    listing([_shown(r) for r in rows], columns, Form.TABLE, "no such frames")


def _shown(row: FrameRow) -> dict[str, Any]:
    cells = {name: getattr(row, name) for name in row.__slots__}
    cells["frame"] = row.frame[:12]
    cells["empty_score"] = f"{row.empty_score:.2f}" if row.compared else _why_not(row)
    if row.detected and row.detected_score:
        cells["detected"] = f"{row.detected} {row.detected_score:.2f}"
    cells["going"] = going(row.estimated_way, row.estimated_travel_deg)
    return cells


def _why_not(row: FrameRow) -> str:
    return f"can't judge: {row.cant_judge}" if row.cant_judge else "?"


def going(way: str | None, travel: Estimate) -> str | None:
    """Write a suggested travel for people: the way in the picture, and bearings if known."""
    if way is None or travel.value is None:
        return way
    from camsign.units import format_bearing

    return f"{way}, {format_bearing(travel.value, travel.low, travel.high)}"
