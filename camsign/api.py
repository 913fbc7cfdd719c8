"""What `camsign.open(DIR)` gives: one logbook, its verbs, and its questions as DataFrames.

Each verb is one act in the journal; each question opens the logbook briefly and gives a pandas
DataFrame whose `attrs` hold `why`, `method` and `watch`, and as `answer` what is not a row. The
functions in `camsign.answers`, given a `session()`, give the typed results.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Concatenate, Literal, ParamSpec, TypedDict, TypeVar, Unpack

from camsign.logbook import folder as folders
from camsign.units import parse_bearing, parse_lat_lon, parse_when

if TYPE_CHECKING:
    import pandas as pd

    from camsign.answers.result import Answer
    from camsign.answers.scope import Scope
    from camsign.clock.audit import Finding
    from camsign.flows.fieldwork.sign_tables import SignTaken
    from camsign.flows.handover.camtrap import PackageWritten
    from camsign.flows.handover.pictures import PicturesWritten
    from camsign.flows.handover.points import HandedOn
    from camsign.flows.handover.tables import TablesWritten
    from camsign.flows.intake.result import IngestResult
    from camsign.logbook.session import Session
    from camsign.places.areas import AreasTaken
    from camsign.places.deployments import Hung, Outage
    from camsign.tags.bucks import BuckSaid
    from camsign.tags.tagging import Tagged


P = ParamSpec("P")
T = TypeVar("T")


class Bounds(TypedDict, total=False):
    """What narrows a question: see `camsign.answers.scope.scope_of`. reach_m [m], gap_s [s]."""

    season: int | None
    first: date | None
    last: date | None
    reach_m: float | None
    gap_s: float | None
    mature_age: float | None


def open_logbook(path: str | Path) -> Logbook:
    """Open the logbook in a folder. Raises UsageError if it holds none."""
    return Logbook(folders.find(Path(path), Path.cwd()))


def start_logbook(
    path: str | Path, home: str | None = None, units: str = "imperial", tz: str | None = None
) -> Logbook:
    """Start a logbook; see `camsign.flows.fieldwork.starting.start`."""
    from camsign.flows.fieldwork.starting import start

    return open_logbook(start(Path(path), home, units, tz).logbook)


class Logbook:
    """One logbook. Texts are as on the command line: "44.6,-71.2", "2025-08-10", "NE", "120M"."""

    def __init__(self, folder: folders.Folder) -> None:
        self.folder = folder

    @contextmanager
    def session(self) -> Iterator[Session]:
        """Open it briefly, brought up to date; nothing else can use it meanwhile."""
        from camsign.derive.opening import open_logbook

        with open_logbook(self.folder) as session:
            yield session

    def _do(
        self, verb: Callable[Concatenate[Session, P], T], *words: P.args, **more: P.kwargs
    ) -> T:
        with self.session() as s:
            return verb(s, *words, **more)

    def _ask(
        self,
        question: Callable[Concatenate[Session, Scope, P], Answer],
        buck: str | None,
        areas: str | Sequence[str] | None,
        bounds: Bounds,
        *words: P.args,
        **more: P.kwargs,
    ) -> pd.DataFrame:
        with self.session() as s:
            return question(s, _scope(s, buck, areas, bounds), *words, **more).to_frame()

    # ------------------------------------------------------------------ what people say

    def hang(
        self,
        camera: str,
        at: str,
        start: str,
        until: str | None = None,
        facing: str | None = None,
        clock: str = "hung",
    ) -> Hung:
        """Say that a camera hangs at a place."""
        from camsign.places.deployments import hang

        span = parse_when(start), parse_when(until) if until else None
        faces = parse_bearing(facing) if facing else None
        return self._do(hang, camera, parse_lat_lon(at), *span, faces, clock)

    def takedown(self, camera: str, on: str, working: bool = False) -> Hung:
        """Say that a camera was taken down."""
        from camsign.places.deployments import takedown

        return self._do(takedown, camera, parse_when(on), working)

    def outage(self, camera: str, start: str, stop: str, note: str | None = None) -> Outage:
        """Say that a camera did not work for a while."""
        from camsign.places.deployments import outage

        return self._do(outage, camera, parse_when(start), parse_when(stop), note)

    def add_buck(self, name: str, **details: Any) -> BuckSaid:
        """Add a buck; details as for `camsign.tags.bucks.set_buck`."""
        from camsign.tags.bucks import add_buck

        with self.session() as s:
            return add_buck(s, name, **details)

    def tag(self, subject: str, frames: Sequence[str], count: int = 1) -> Tagged:
        """Say who or what is in frames (12 or more hex digits each)."""
        from camsign.tags.frames import by_ids
        from camsign.tags.tagging import subject_of, tag

        with self.session() as s:
            return tag(s, subject_of(s, subject), by_ids(s, frames), count)

    def audit_clocks(self, camera: str | None = None, apply: bool = False) -> list[Finding]:
        """Judge clocks by the sun; with `apply` note the corrections that are proposed."""
        from camsign.clock import verbs
        from camsign.derive.comparing import compare

        with self.session() as s:
            found = verbs.audit(s, camera)
            applied = verbs.apply(s, found) if apply else None
        if applied is not None and applied.corrections:
            compare(self.folder)  # frames may have come to another deployment
        return found

    # ------------------------------------------------------------------ files taken in

    def ingest(self, *paths: str | Path, camera: str | None = None, **more: Any) -> IngestResult:
        """Take cards in; see `camsign.flows.intake.ingest`."""
        from camsign.flows.intake import ingest

        return ingest(self.folder, [Path(p) for p in paths], camera=camera, **more)

    def import_tags(self, path: str | Path, add_bucks: bool = False) -> Tagged:
        """Take in tags from a CSV file."""
        from camsign.tags.importing import import_tags

        return self._do(import_tags, Path(path), add_bucks)

    def import_sign(self, path: str | Path) -> SignTaken:
        """Take in sign from a CSV or GPX file."""
        from camsign.flows.fieldwork.sign_tables import import_sign

        return self._do(import_sign, Path(path))

    def import_areas(
        self, path: str | Path, kind: str | None = None, anywhere: bool = False
    ) -> AreasTaken:
        """Take in areas from a GeoJSON file."""
        from camsign.places.areas import import_areas

        return self._do(import_areas, Path(path), kind, anywhere)

    # ------------------------------------------------------------------ questions

    def frames(
        self,
        camera: str | None = None,
        untagged: bool = False,
        likely: Literal["empty", "animal"] | None = None,
    ) -> pd.DataFrame:
        """List frames with what the camera showed and the right time; see `answers.frames`."""
        from camsign.answers.frames import FrameRow, Wanted, frames
        from camsign.answers.result import frame_of
        from camsign.derive.comparing import compare

        compare(self.folder)
        wanted = Wanted(camera, untagged=untagged, likely=likely)
        return frame_of(self._do(frames, wanted), FrameRow)

    def near(
        self,
        buck: str | None = None,
        area: str | None = None,
        kinds: Sequence[str] | None = None,
        within_m: float | None = None,
        days: int = 0,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say which bucks were pictured near which sign while it was made."""
        from camsign.answers.near import near

        return self._ask(near, buck, area, bounds, kinds, within_m, days)

    def visits(
        self,
        buck: str | None = None,
        area: str | None = None,
        by: Literal["area", "camera"] = "area",
        split: Literal["month", "phase"] | None = None,
        against: str | None = None,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say how often each buck is there, and in which light.

        `against`: another area, a hunting year or "DAY..DAY" to which `ratio` compares the rate.
        """
        from camsign.answers.scope import against as opposed
        from camsign.answers.visits import visits

        with self.session() as s:
            asked = _scope(s, buck, area, bounds)
            other = opposed(s, asked, against) if against else None
            return visits(s, asked, by, split, other).to_frame()

    def when(self, buck: str, area: str, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say when a buck is near an area: his visits, by the sun; chances are in `attrs`."""
        from camsign.answers.when import when

        return self._ask(when, buck, area, bounds)

    def bedding(
        self,
        area: str,
        buck: str | None = None,
        apart_m: float | None = None,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say whether an area is a bed: a row a buck; the area's verdict is in `attrs`."""
        from camsign.answers.bedding import bedding
        from camsign.answers.beds_input import APART_M

        far = APART_M if apart_m is None else apart_m
        return self._ask(bedding, buck, area, bounds, far)

    def rivals(self, area: str, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say how many mature bucks compete: a row a known one; estimates and pairs in `attrs`."""
        from camsign.answers.rivals import rivals

        return self._ask(rivals, None, area, bounds)

    def makers(self, sign: str, buck: str | None = None, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say who likely made a sign (its id, or the beginning of it)."""
        from camsign.answers.makers import makers

        return self._ask(makers, buck, None, bounds, sign)

    def compare(self, areas: Sequence[str] | None = None, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say which areas deserve the sits, best first."""
        from camsign.answers.compare import compare

        return self._ask(compare, None, areas, bounds)

    def lately(
        self, days: int = 10, areas: Sequence[str] | None = None, **bounds: Unpack[Bounds]
    ) -> pd.DataFrame:
        """Say what is hot in the last days with anything new."""
        from camsign.answers.lately import lately

        return self._ask(lately, None, areas, bounds, days)

    def signs(
        self, kind: str | None = None, season: int | None = None, species: str | None = None
    ) -> pd.DataFrame:
        """Give the looks at signs with when each was made; measures are columns."""
        import pandas as pd

        from camsign.sign.record import PLAIN, as_records, signs

        rows = as_records(self._do(signs, kind, season, species))
        return pd.DataFrame(rows, columns=None if rows else PLAIN)

    def sign_lines(self, season: int | None = None) -> pd.DataFrame:
        """Give rubs that follow one another: heading, ends, where they lead on."""
        from camsign.answers.result import frame_of
        from camsign.sign.lines import LineRow, sign_lines

        return frame_of(self._do(sign_lines, season), LineRow)

    def propose_areas(self, season: int | None = None) -> pd.DataFrame:
        """Give the areas that rubs speak for, best first, with the reasons."""
        from camsign.answers.result import frame_of
        from camsign.sign.proposals import Proposal, propose

        return frame_of(self._do(propose, season), Proposal)

    def sql(self, question: str) -> pd.DataFrame:
        """Ask a question of one's own on the documented views; nothing can be changed."""
        from camsign.answers.ask import ask

        return self._do(ask, question).to_frame()

    # ------------------------------------------------------------------ handed on

    def export_points(
        self,
        path: str | Path,
        what: Sequence[str] | None = None,
        season: int | None = None,
        exact_places: bool = False,
        newest: bool = False,
    ) -> HandedOn:
        """Write what has a place as GPX, KML, GeoJSON or CSV; see `flows.handover.points`."""
        from camsign.flows.handover.points import hand_on
        from camsign.flows.handover.things import wanted

        return self._do(hand_on, Path(path), wanted(what, season, newest), exact_places)

    def export_tables(
        self,
        folder: str | Path,
        form: Literal["parquet", "csv"] = "parquet",
        tables: Sequence[str] | None = None,
        exact_places: bool = False,
    ) -> TablesWritten:
        """Write every view and table, or those named; see `flows.handover.tables`."""
        from camsign.flows.handover.tables import ALL, write_tables

        return self._do(write_tables, Path(folder), form, tuple(tables or ALL), exact_places)

    def export_pictures(
        self, buck: str, folder: str | Path, most: int = 20, as_taken: bool = False
    ) -> PicturesWritten:
        """Write a buck's best pictures; see `flows.handover.pictures`."""
        from camsign.flows.handover.pictures import write_pictures

        return self._do(write_pictures, buck, Path(folder), most, as_taken)

    def export_camtrap(self, folder: str | Path, exact_places: bool = False) -> PackageWritten:
        """Write a Camera Trap Data Package; see `flows.handover.camtrap`."""
        from camsign.flows.handover.camtrap import write_camtrap

        return self._do(write_camtrap, Path(folder), exact_places)

    def map(
        self,
        path: str | Path,
        title: str | None = None,
        area: str | None = None,
        verdicts: bool = False,
        buck: str | None = None,
        season: int | None = None,
    ) -> Path:
        """Draw what lies where as PNG, SVG or PDF; see `report.drawn.write_map`."""
        from camsign.report.drawn import write_map

        return self._do(write_map, Path(path), title, area, verdicts, buck, season)

    def chart(
        self,
        what: Literal["day", "months", "calendar", "rose", "areas", "years"],
        path: str | Path,
        area: str | None = None,
        buck: str | None = None,
        season: int | None = None,
    ) -> Path:
        """Draw one answer as PNG, SVG or PDF; see `report.drawn.write_chart`."""
        from camsign.report.drawn import write_chart

        return self._do(write_chart, what, Path(path), area, buck, season)

    def report(
        self,
        path: str | Path,
        names: Sequence[str] = (),
        season: int | None = None,
        no_places: bool = False,
    ) -> Path:
        """Write a self-contained page about areas and bucks; see `report.gathered`."""
        from camsign.report.gathered import write_report

        return self._do(write_report, list(names), Path(path), season, no_places)


def _scope(
    session: Session, buck: str | None, areas: str | Sequence[str] | None, bounds: Bounds
) -> Scope:
    from camsign.answers.scope import scope_of

    if isinstance(areas, str):
        areas = [areas] if areas else None
    return scope_of(session, [buck] if buck else None, areas, **bounds)
