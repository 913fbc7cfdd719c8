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
    AreaDraft,
    CameraDraft,
    Draft,
    PlaceDraft,
    Shorthand,
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
from camsign.places.areas import KINDS as AREA_KINDS
from camsign.places.points import KINDS as PLACE_KINDS
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
        _Sorter(session, maker, file, choices, found).run(signs)
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
            other = twins.get(sign_of(item) or "")
            if item.state == "known" or other:
                known += 1
            elif item.edits:
                counts[group] += 1
            edits += joined(item, other) if other else item.edits
    if edits:
        told = counted(counts) if any(counts.values()) else "sign known from another device"
        session.say(f"took in {' and '.join(found.files)[:80]}: {told}", edits)
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
    ) -> None:
        self.maker = maker
        self.file = file
        self.choices = choices
        self.found = found
        self.reader = SignReader(session, file.name, choices)
        self.shorthand = Shorthand(session.settings, maker.cameras)
        self._seen: set[tuple[str, str]] = set()
        self.worked_out = 0

    def run(self, signs: list[tuple[str, Ready]]) -> None:
        self.reader.nearby.check_home(
            [(p.lat, p.lon) for p in self.file.points if p.lat is not None and p.lon is not None]
        )
        self.found.refused += [f"{self.file.name}: {line}" for line in self.file.troubles]
        for point in self.file.points:
            self.found.rows += 1
            try:
                sat = self._sat(point, self.found.rows)
                ready = None if sat else self._point(point, self.found.rows)
            except CamsignError as e:
                self.found.refused.append(f"{self.file.name}: {point.where} left out: {e}")
                continue
            if ready is not None:
                signs.append((self.file.name, ready))
        for drawn in self.file.polygons:
            self.found.rows += 1
            self._polygon(drawn, self.found.rows)
        for path in self.file.paths:
            self.found.rows += 1
            self._path(path, self.found.rows)
        if self.worked_out:
            told = f"{self.worked_out} lines and outlines that camsign works out: not taken"
            self.found.notes.append(f"{self.file.name}: {told}")
        self.found.notes += [f"{self.file.name}: {line}" for line in self.reader.notes]
        self.found.offered += self.reader.offered

    def _sat(self, point: ParsedPoint, row: int) -> bool:
        """Keep a point as the sit that its words or cells say; say whether they do."""
        if row in self.choices.kinds:
            return False
        sit = read_sit(self.maker.session, point, self.choices.on, self.found.places)
        if sit:
            self._keep(self.found.sits, sit, row)
        return sit is not None

    def _point(self, point: ParsedPoint, row: int) -> Ready | None:
        """Sort one point; sign is given back, since all of it is compared at once."""
        if point.rounded:
            raise UsageError(ROUNDED)
        cells = ours(point.cells)
        if cells.get("kind") in WORKED_OUT:
            self.worked_out += 1
            return None
        at = place_of_point(point, cells) if point.made else (0.0, 0.0)
        if self._met(point.made if point.untouched else "", cells, point.name, at, row):
            return None
        chosen = self.choices.kinds.get(row)
        draft = self._draft(point, cells)
        if isinstance(draft, Asked) and self.choices.guesses:
            chosen = chosen or draft.guess
        if chosen:
            draft = None if chosen == NOTHING else self._chosen(chosen, point, cells)
        if isinstance(draft, SignDraft) or (draft is None and "kind" in cells and not chosen):
            return self.reader.read(point, draft, row, bool(chosen))
        at = place_of_point(point, cells)
        self.reader.nearby.check(at)
        if draft is None or isinstance(draft, Asked):
            why = draft.why if draft else "nothing in the name says what it is"
            sign = None if chosen else self.reader.id_of(point, at)
            item = self.maker.waypoint(point, at, self.file.name, why, sign)
            item = replace(item, guess=draft.guess if draft else "")
            self._keep(self.found.not_understood, item, row)
        elif isinstance(draft, CameraDraft):
            item = self.maker.camera(point, draft, at, cells)
            looks = facing_words(draft.facing.deg) if draft.facing else ""
            self._keep(self.found.cameras, replace(item, way=looks), row)
        elif isinstance(draft, PlaceDraft):
            self._keep(self.found.places, self.maker.place(point, draft, [at]), row)
        else:
            self._once("area", draft.name)
            self._keep(self.found.areas, self.maker.area(point, draft, at), row)
        return None

    def _met(
        self, made: str, cells: Mapping[str, str], name: str, at: tuple[float, float], row: int
    ) -> bool:
        """Keep as known what camsign wrote itself and nobody changed since."""
        item = self.maker.met(made, cells, name, at, f"row {row}") if made else None
        if item is None:
            return False
        group = "sign" if item.what == "sign" else f"{item.what}s"
        self._keep(getattr(self.found, group), item, row)
        return True

    def _keep(self, group: list[Item], item: Item, row: int) -> None:
        group.append(replace(item, row=row))

    def _chosen(self, kind: str, point: ParsedPoint, cells: dict[str, str]) -> Draft:
        """Read a point as what a person said that it is."""
        return self.shorthand.read_as(kind, *words_of(point, cells))

    def _draft(self, point: ParsedPoint, cells: dict[str, str]) -> Draft | Asked | None:
        """Read a point's words, or the cells that say outright what it is."""
        if "camera" in cells:
            return CameraDraft(cells["camera"])
        kind = " ".join(cells.get("kind", "").lower().replace("-", " ").split())
        name = cells.get("name", point.name)
        if kind in PLACE_KINDS:
            return PlaceDraft(kind, name or kind)
        if kind in AREA_KINDS:
            radius = number(cells["radius"]) if "radius" in cells else None
            return AreaDraft(kind, name or kind, radius)
        if kind in ("cam", "camera"):
            return CameraDraft(name)
        if kind:
            return None
        draft = self.shorthand.read(*words_of(point, cells), cells.get("hint", point.hint))
        if draft is None and point.where.startswith("photo") and self.choices.photo_kind:
            return self.shorthand.read(self.choices.photo_kind)
        return draft

    def _polygon(self, drawn: ParsedShape, row: int) -> None:
        """An outline whose words name no kind is shown and asked about, not taken."""
        if drawn.kind in WORKED_OUT:
            self.worked_out += 1
            return
        try:
            at = outline(drawn, "").at
            if self._met(drawn.made if drawn.untouched else "", {}, drawn.name, at, row):
                return
            kind, name = self.choices.kinds.get(row, drawn.kind), drawn.name
            draft = self.shorthand.read(name) if not kind else None
            if isinstance(draft, AreaDraft):
                kind, name = draft.kind, draft.name
            if not kind or kind == NOTHING:
                item = outline(drawn, f"say what area it is: {', '.join(AREA_KINDS)}")
                self._keep(self.found.not_understood, item, row)
                return
            name = name or kind
            self._once("area", name)
            self.reader.nearby.check(at)
            item = self.maker.drawn(drawn, kind, name)
            self._keep(self.found.areas, item, row)
        except CamsignError as e:
            self.found.refused.append(f"{self.file.name}: {drawn.where} left out: {e}")

    def _path(self, track: Track, row: int) -> None:
        """A recorded path is a walk, a line named as a way in is one, other drawn lines neither."""
        cells, line = track.cells, [(p.lat, p.lon) for p in track.points]
        kind, made = cells.get("kind", ""), cells.get("made", "")
        if kind in WORKED_OUT:
            self.worked_out += 1
            return
        try:
            if self._met(made if cells.get("untouched") else "", cells, track.name, line[0], row):
                return
            draft = self._drawn_as(track, kind)
            if isinstance(draft, PlaceDraft):
                point = ParsedPoint(f"path {track.name[:40]!r}", track.name, cells=cells, made=made)
                self._keep(self.found.places, self.maker.place(point, draft, line), row)
            elif LINE_NAME.fullmatch(track.name):
                raise UsageError("it is a line of rubs to walk", "nobody has walked it yet")
            elif not track.planned or kind == "walk" or _WALKED.search(track.name):
                walks = self.maker.walks(track, self.file.name)
                if not walks:
                    raise UsageError("it has one point", "so nothing was walked")
                self.found.walks += [replace(walk, row=row) for walk in walks]
            else:
                raise UsageError("it is a drawn line, not a walked path", "call it way in, or walk")
        except CamsignError as e:
            told = f"path {track.name[:40]!r} left out: {e}"
            self.found.refused.append(f"{self.file.name}: {told}")

    def _drawn_as(self, track: Track, kind: str) -> Draft | Asked | None:
        if kind in PLACE_KINDS:
            return PlaceDraft(kind, track.name.removeprefix(f"{kind} ") or kind)
        named = track.name and not kind
        return self.shorthand.read(track.name) if named else None

    def _once(self, what: str, name: str) -> None:
        if (what, key(name)) in self._seen:
            raise UsageError(f"{name} comes twice in the file", "the first was taken")
        self._seen.add((what, key(name)))
