"""What a handheld or phone wrote, sorted by its words, shown, and taken when it is agreed to.

One file may hold cameras, stands, sign, areas and walked paths. What is not understood is kept as a
waypoint and told. The same file again adds nothing.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from camsign.errors import CamsignError, InputRefused, UsageError
from camsign.flows.fieldwork.handed import ROUNDED, WORKED_OUT, met_again
from camsign.flows.fieldwork.kindwords import Asked
from camsign.flows.fieldwork.new_or_known import Item, ItemMaker, outline
from camsign.flows.fieldwork.parsed import FieldFile, ParsedPoint, ParsedShape, read_field_file
from camsign.flows.fieldwork.sat import read_sit
from camsign.flows.fieldwork.shorthand import (
    NOTHING,
    Draft,
    Shorthand,
    SpotDraft,
)
from camsign.flows.fieldwork.sign_items import facing_words, joined, sign_items, sign_of
from camsign.flows.fieldwork.sign_tables import (
    Choices,
    Ready,
    SignReader,
    place_of_point,
)
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.flows.fieldwork.sorted_files import GROUPS, FieldTaken, SortedFiles, counted
from camsign.flows.fieldwork.table_cells import number, ours, words_of
from camsign.formats.collector import collector_paused
from camsign.formats.gpx import Track
from camsign.logbook.edits import Edit
from camsign.logbook.naming import key
from camsign.logbook.session import Session
from camsign.logbook.things import AREA_KINDS, PLACE_KINDS
from camsign.sign.lines import LINE_NAME

_WALKED = re.compile(r"\b(track|walk|walked|hike|tracklog)\b", re.I)


@collector_paused()
def sort_files(
    session: Session,
    paths: Sequence[Path],
    choices: Choices = Choices(),  # noqa: B008
    columns: Mapping[str, str] | None = None,
) -> SortedFiles:
    """Read files and sort what is in them; nothing is said yet.

    Args:
        session: the open logbook.
        paths: GPX, KML, KMZ, GeoJSON, CSV files and phone photos.
        choices: how they are to be read.
        columns: what a table's own column names mean.

    Raises:
        InputRefused: nothing in any of them could be read.
    """
    found = SortedFiles([])
    maker = ItemMaker(session, choices.on)
    signs: list[tuple[str, Ready]] = []
    for path in paths:
        try:
            file = met_again(read_field_file(path, columns))
        except InputRefused as e:
            found.refused.append(str(e))
            continue
        found.files.append(file.name)
        _Sorter(session, maker, file, choices, found, signs).run()
    items, found.twins = sign_items(session, signs)
    found.sign += items
    if not found.items:
        names = ", ".join(path.name for path in paths)
        told = found.refused[0] if found.refused else f"{names}: there is nothing in it"
        told += f" (and {len(found.refused) - 1} more such lines)" if found.refused[1:] else ""
        raise InputRefused(told)
    return found


@collector_paused()
def take(
    session: Session, found: SortedFiles, as_one: bool = False, only: Sequence[str] = GROUPS
) -> FieldTaken:
    """Say what was sorted, in one act.

    Args:
        session: the open logbook, the one that was sorted for.
        found: from `sort_files`.
        as_one: sign that is known from another device (its twins) is one more look at that.
        only: the groups to take.
    """
    edits: list[Edit] = []
    counts = dict.fromkeys(GROUPS, 0)
    known = 0
    twins = {twin.sign: twin.other for twin in found.twins} if as_one else {}
    for group in only:
        for item in getattr(found, group):
            other = twins.get(sign_of(item) or "") if twins else None
            if item.state == "known" or other:
                known += 1
            elif item.edits:
                counts[group] += 1
            edits += joined(item, other) if other else item.edits
    if edits:
        told = counted(counts) if any(counts.values()) else "sign known from another device"
        session.say(f"loaded {' and '.join(found.files)[:80]}: {told}", edits)
    return FieldTaken(**counts, known=known, refused=list(found.refused), said=bool(edits))


def import_cameras(
    session: Session,
    path: Path,
    choices: Choices = Choices(),  # noqa: B008
    columns: Mapping[str, str] | None = None,
) -> FieldTaken:
    """Take in only the cameras of a file; a table has columns camera, lat, lon, from, until.

    Raises:
        InputRefused: no such file, or no camera in it.
    """
    found = sort_files(session, [path], choices, columns)
    if not found.cameras:
        raise InputRefused("; ".join([f"{path} holds no camera", *found.refused[:1]]))
    return take(session, found, only=("cameras",))


class _Sorter:
    """Sorts one file."""

    def __init__(
        self,
        session: Session,
        maker: ItemMaker,
        file: FieldFile,
        choices: Choices,
        found: SortedFiles,
        signs: list[tuple[str, Ready]],
    ) -> None:
        self.maker = maker
        self.file = file
        self.choices = choices
        self.found = found
        self.signs = signs  # all of them are compared at once, when all files are read
        self.reader = SignReader(session, file.name, choices)
        self.shorthand = Shorthand(session.settings, maker.cameras)
        self._areas: set[str] = set()
        self.worked_out = 0

    def run(self) -> None:
        self.reader.nearby.check_home(
            [(p.lat, p.lon) for p in self.file.points if p.lat is not None and p.lon is not None]
        )
        self.found.refused += [f"{self.file.name}: {line}" for line in self.file.troubles]
        things: list[ParsedPoint | ParsedShape | Track]
        things = [*self.file.points, *self.file.polygons, *self.file.paths]
        for thing in things:
            self.found.rows += 1
            where = f"path {thing.name[:40]!r}" if isinstance(thing, Track) else thing.where
            try:
                if isinstance(thing, ParsedPoint):
                    self._point(thing)
                elif isinstance(thing, ParsedShape):
                    self._polygon(thing)
                else:
                    self._path(thing, where)
            except CamsignError as e:
                self.found.refused.append(f"{self.file.name}: {where} left out: {e}")
        if self.worked_out:
            told = f"{self.worked_out} lines and outlines that camsign works out: not taken"
            self.found.notes.append(f"{self.file.name}: {told}")
        self.found.notes += [f"{self.file.name}: {line}" for line in self.reader.notes]
        self.found.offered += self.reader.offered

    def _point(self, point: ParsedPoint) -> None:
        row, chosen = self.found.rows, self.choices.kinds.get(self.found.rows)
        if chosen is None:
            session, on = self.maker.session, self.choices.on
            sit = read_sit(session, point, on, self.found.places)
            if sit is not None:
                self._keep(self.found.sits, sit)
                return
        if point.rounded:
            raise UsageError(ROUNDED)
        cells = ours(point.cells)
        if cells.get("kind") in WORKED_OUT:
            self.worked_out += 1
            return
        at = place_of_point(point, cells) if point.made else (0.0, 0.0)
        if point.untouched and self._met(point.made, cells, point.name, at):
            return
        draft = self._draft(point, cells)
        if isinstance(draft, Asked) and self.choices.guesses:
            chosen = chosen or draft.guess
        if chosen:
            words = words_of(point, cells)
            draft = None if chosen == NOTHING else self.shorthand.read_as(chosen, *words)
        if isinstance(draft, SignDraft) or (draft is None and "kind" in cells and not chosen):
            ready = self.reader.read(point, draft, row, bool(chosen))
            self.signs.append((self.file.name, ready))
            return
        self._spot(point, cells, draft, bool(chosen))

    def _spot(
        self,
        point: ParsedPoint,
        cells: dict[str, str],
        draft: SpotDraft | Asked | None,
        chosen: bool,
    ) -> None:
        """Keep a point that is no sign, by what it was read as."""
        at, maker = place_of_point(point, cells), self.maker
        self.reader.nearby.check(at)
        if draft is None or isinstance(draft, Asked):
            why = draft.why if draft else "nothing in the name says what it is"
            sign = None if chosen else self.reader.id_of(point, at)
            item = maker.waypoint(point, at, self.file.name, why, sign)
            item = replace(item, guess=draft.guess if draft else "")
            self._keep(self.found.not_understood, item)
        elif draft.kind == "camera":
            item = maker.camera(point, draft, at, cells)
            looks = facing_words(draft.facing.deg) if draft.facing else ""
            self._keep(self.found.cameras, replace(item, way=looks))
        elif draft.kind in PLACE_KINDS:
            self._keep(self.found.places, maker.place(point, draft, [at]))
        else:
            self._once(draft.name)
            self._keep(self.found.areas, maker.area(point, draft, at))

    def _met(self, made: str, cells: Mapping[str, str], name: str, at: tuple[float, float]) -> bool:
        """Keep as known what camsign wrote itself and nobody changed since."""
        where = f"row {self.found.rows}"
        item = self.maker.met(made, cells, name, at, where) if made else None
        if item is None:
            return False
        group = "sign" if item.what == "sign" else f"{item.what}s"
        self._keep(getattr(self.found, group), item)
        return True

    def _keep(self, group: list[Item], item: Item) -> None:
        group.append(replace(item, row=self.found.rows))

    def _draft(self, point: ParsedPoint, cells: dict[str, str]) -> Draft | Asked | None:
        """Read a point's words, or the cells that say outright what it is."""
        if "camera" in cells:
            return SpotDraft("camera", cells["camera"])
        kind = " ".join(cells.get("kind", "").lower().replace("-", " ").split())
        name = cells.get("name", point.name)
        if kind in PLACE_KINDS:
            return SpotDraft(kind, name or kind)
        if kind in AREA_KINDS:
            radius = number(cells["radius"]) if "radius" in cells else None
            return SpotDraft(kind, name or kind, radius_m=radius)
        if kind in ("cam", "camera"):
            return SpotDraft("camera", name)
        if kind:
            return None
        draft = self.shorthand.read(*words_of(point, cells), cells.get("hint", point.hint))
        if draft is None and point.where.startswith("photo") and self.choices.photo_kind:
            return self.shorthand.read(self.choices.photo_kind)
        return draft

    def _polygon(self, drawn: ParsedShape) -> None:
        """An outline whose words name no kind is shown and asked about, not taken."""
        if drawn.kind in WORKED_OUT:
            self.worked_out += 1
            return
        at = outline(drawn, "").at
        if drawn.untouched and self._met(drawn.made, {}, drawn.name, at):
            return
        kind, name = self.choices.kinds.get(self.found.rows, drawn.kind), drawn.name
        draft = self.shorthand.read(name) if not kind else None
        if isinstance(draft, SpotDraft) and draft.kind in AREA_KINDS:
            kind, name = draft.kind, draft.name
        if not kind or kind == NOTHING:
            item = outline(drawn, f"say what area it is: {', '.join(AREA_KINDS)}")
            self._keep(self.found.not_understood, item)
            return
        name = name or kind
        self._once(name)
        self.reader.nearby.check(at)
        self._keep(self.found.areas, self.maker.drawn(drawn, kind, name))

    def _path(self, track: Track, where: str) -> None:
        """A recorded path is a walk, a line named as a way in is one, other drawn lines neither."""
        cells, line = track.cells, [(p.lat, p.lon) for p in track.points]
        kind, made = cells.get("kind", ""), cells.get("made", "")
        if kind in WORKED_OUT:
            self.worked_out += 1
            return
        if cells.get("untouched") and self._met(made, cells, track.name, line[0]):
            return
        draft = self.shorthand.read(track.name) if track.name and not kind else None
        if kind in PLACE_KINDS:
            draft = SpotDraft(kind, track.name.removeprefix(f"{kind} ") or kind)
        if isinstance(draft, SpotDraft) and draft.kind in PLACE_KINDS:
            point = ParsedPoint(where, track.name, cells=cells, made=made)
            self._keep(self.found.places, self.maker.place(point, draft, line))
        elif LINE_NAME.fullmatch(track.name):
            raise UsageError("it is a line of rubs to walk", "nobody has walked it yet")
        elif not track.planned or kind == "walk" or _WALKED.search(track.name):
            walks = self.maker.walks(track, self.file.name)
            if not walks:
                raise UsageError("it has one point", "so nothing was walked")
            for walk in walks:
                self._keep(self.found.walks, walk)
        else:
            raise UsageError("it is a drawn line, not a walked path", "call it way in, or walk")

    def _once(self, area: str) -> None:
        if key(area) in self._areas:
            raise UsageError(f"{area} comes twice in the file", "the first was taken")
        self._areas.add(key(area))
