"""What leaves the logbook: files for a handheld, for maps and spreadsheets, a data package."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.command import Out, command
from camsign.cli.waiting import Progress
from camsign.flows.fieldwork.sorted_files import counted
from camsign.flows.handover.camtrap import write_camtrap
from camsign.flows.handover.lake import LakeWritten, write_lake
from camsign.flows.handover.points import EXACT, ROUNDED, hand_on
from camsign.flows.handover.tables import ALL, write_tables
from camsign.flows.handover.things import wanted
from camsign.logbook.session import Session

if TYPE_CHECKING:
    from camsign.flows.handover.pictures import PicturesWritten

export_app = typer.Typer(help="Export places, tables, pictures in open formats.")

Exact = Annotated[
    bool, typer.Option("--exact-places", help="Places as they are, not rounded to 1 km.")
]
What = Annotated[
    list[str] | None,
    typer.Option("--what", help="cameras, sign, places, areas, walks, sits, lines, proposals."),
]
Season = Annotated[int | None, typer.Option(help="Only sign and sits of this hunting year.")]
Folder = Annotated[Path, typer.Argument(help="The folder to write into.")]
_STOPPED = "files that were done are whole, the rest is missing; the same command writes them"


@dataclass(frozen=True, slots=True)
class Written:
    """The files written, whether their places are exact, and what is in them."""

    written: list[Path]
    exact_places: bool
    what: str


@command(export_app, "handheld", stopped=_STOPPED)
def handheld(
    session: Session,
    file: Annotated[Path, typer.Argument(help="GPX, KML, GeoJSON or CSV, by its ending.")],
    what: What = None,
    season: Season = None,
) -> Out[Written]:
    """For your own handheld or phone: exact places, each camera where it hung last, each sign
    as last seen."""
    return _points(session, file, what, season, True, True)


@command(export_app, "points", stopped=_STOPPED)
def points(
    session: Session,
    file: Annotated[Path, typer.Argument(help="GPX, KML, GeoJSON or CSV, by its ending.")],
    what: What = None,
    season: Season = None,
    exact_places: Exact = False,
) -> Out[Written]:
    """To hand on: cameras, sign, places, areas, walks, sits, lines of rubs and proposals."""
    return _points(session, file, what, season, exact_places, False)


@command(export_app, "tables", stopped=_STOPPED)
def tables(
    session: Session,
    progress: Progress,
    folder: Folder,
    as_: Annotated[str, typer.Option("--as", help="parquet or csv.")] = "parquet",
    table: Annotated[
        list[str] | None, typer.Option("--table", help="Only this one; may be repeated.")
    ] = None,
    exact_places: Exact = False,
) -> Out[Written]:
    """Every view and table, one file each: detections, visits, sign, watch, bucks, tags…"""
    chosen = tuple(table) if table else ALL
    done = write_tables(session, folder, as_, chosen, exact_places, progress)
    return _out(done.written, done.exact_places, counted({"tables": len(done.written)}))


@command(export_app, "pictures", attention="a picture was refused", stopped=_STOPPED)
def pictures(
    session: Session,
    progress: Progress,
    buck: Annotated[str, typer.Argument(help="His name or id.")],
    folder: Folder,
    most: Annotated[int, typer.Option(min=1, help="How many pictures.")] = 20,
    exact_places: Annotated[
        bool, typer.Option("--exact-places", help="As the camera wrote them, place and all.")
    ] = False,
) -> Out[PicturesWritten]:
    """A buck's best pictures, drawn anew so that no place and no camera is hidden in them."""
    from camsign.flows.handover.pictures import write_pictures

    done = write_pictures(session, buck, folder, most, exact_places, progress)
    hidden = "as the camera wrote them" if done.as_taken else "no place hidden in them"
    told = (
        f"Wrote {counted({'pictures': len(done.written)})} of {done.buck} into {folder}: {hidden}."
    )
    return Out(done, told, warned=done.refused, code=int(bool(done.refused)))


@command(export_app, "lake", several=True, stopped=_STOPPED)
def lake(
    session: Session, progress: Progress, folder: Folder, exact_places: Exact = False
) -> Out[LakeWritten]:
    """What answers rest on as partitioned Parquet files, of one logbook or many; only what changed.

    DuckDB, pandas, Spark and Dask read them; `camsign lake` answers from them.
    """
    done = write_lake(session, folder, exact_places, progress)
    rows = counted({name: done.rows[name] for name in ("detections", "visits")})
    gone = f", {len(done.removed)} removed" if done.removed else ""
    told = (
        f"Wrote {counted({'files': len(done.written)})} of {done.property} into {folder}{gone},"
        f" {done.kept} as they were: {rows}; {EXACT if exact_places else ROUNDED}."
    )
    return Out(done, told)


@command(export_app, "camtrap", stopped=_STOPPED)
def camtrap(
    session: Session, progress: Progress, folder: Folder, exact_places: Exact = False
) -> Out[Written]:
    """A Camera Trap Data Package (Camtrap DP 1.0.2), as wildlife surveys exchange them."""
    done = write_camtrap(session, folder, exact_places, progress)
    out = counted({"pictures": done.left_out})
    left = f"; {out} without a place or time left out" if done.left_out else ""
    return _out(done.written, done.exact_places, counted(done.rows) + left)


def _points(
    session: Session,
    file: Path,
    what: list[str] | None,
    season: int | None,
    exact: bool,
    newest: bool,
) -> Out[Written]:
    done = hand_on(session, file, wanted(what, season, newest), exact)
    return _out(done.written, done.exact_places, counted(done.counts))


def _out(written: Sequence[Path], exact: bool, counts: str) -> Out[Written]:
    where = written[0] if len(written) == 1 else written[0].parent
    told = f"Wrote {where}: {counts}; {EXACT if exact else ROUNDED}."
    return Out(Written(list(written), exact, counts), told)
