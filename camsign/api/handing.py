"""What leaves a logbook: files in open formats, maps, charts, pages."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from camsign.api.opened import Opened
from camsign.flows.handover.camtrap import PackageWritten, write_camtrap
from camsign.flows.handover.lake import LakeWritten, write_lake
from camsign.flows.handover.pictures import PicturesWritten, write_pictures
from camsign.flows.handover.points import HandedOn, hand_on
from camsign.flows.handover.tables import ALL, TablesWritten, write_tables
from camsign.flows.handover.things import wanted
from camsign.report.drawn import write_chart, write_map
from camsign.report.fieldform import write_form
from camsign.report.gathered import write_report


class Handing(Opened):
    """Handing on. Places are rounded to 1 km unless exact ones are asked for."""

    def export_points(
        self,
        path: str | Path,
        what: Sequence[str] | None = None,
        season: int | None = None,
        exact_places: bool = False,
        newest: bool = False,
    ) -> HandedOn:
        """Write what has a place as GPX, KML, GeoJSON or CSV; see `flows.handover.points`."""
        return self._do(hand_on, Path(path), wanted(what, season, newest), exact_places)

    def export_tables(
        self,
        folder: str | Path,
        form: Literal["parquet", "csv"] = "parquet",
        tables: Sequence[str] | None = None,
        exact_places: bool = False,
    ) -> TablesWritten:
        """Write every view and table, or those named; see `flows.handover.tables`."""
        return self._do(write_tables, Path(folder), form, tuple(tables or ALL), exact_places)

    def export_pictures(
        self, buck: str, folder: str | Path, most: int = 20, as_taken: bool = False
    ) -> PicturesWritten:
        """Write a buck's best pictures; see `flows.handover.pictures`."""
        return self._do(write_pictures, buck, Path(folder), most, as_taken)

    def export_camtrap(self, folder: str | Path, exact_places: bool = False) -> PackageWritten:
        """Write a Camera Trap Data Package; see `flows.handover.camtrap`."""
        return self._do(write_camtrap, Path(folder), exact_places)

    def export_lake(self, folder: str | Path, exact_places: bool = False) -> LakeWritten:
        """Bring this logbook's part of a lake of Parquet files up to date (docs/lake.md)."""
        return self._do(write_lake, Path(folder), exact_places)

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
        return self._do(write_chart, what, Path(path), area, buck, season)

    def report(
        self,
        path: str | Path,
        names: Sequence[str] = (),
        season: int | None = None,
        no_places: bool = False,
    ) -> Path:
        """Write a self-contained page about areas and bucks; see `report.gathered`."""
        return self._do(write_report, list(names), Path(path), season, no_places)

    def form(self, path: str | Path = "field-form.html") -> Path:
        """Write a page to print and fill in outdoors, with the words that `take_files` reads."""
        return write_form(Path(path), self.folder.settings.units)
