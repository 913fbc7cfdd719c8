"""A sign from a row of named cells, as a table or a GeoJSON point gives it, and from words.

Columns are named as the JSON keys (`kind`, `lat`, `lon`, `seen_on`, `travel_deg`, …) or by the
words that people use for them; a measure may carry its unit (`top_in`, `diameter_cm`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from camsign.errors import UsageError
from camsign.flows.fieldwork.parsed import ParsedPoint
from camsign.flows.fieldwork.signwords import SignDraft
from camsign.flows.fieldwork.words import TABLES, meanings
from camsign.formats.marked import CHECK, IDS, WORDS
from camsign.formats.text import degrees, plain_number
from camsign.geo import check_lat_lon
from camsign.logbook.settings import Settings
from camsign.sign.aging import is_look
from camsign.sign.heading import SaidHeading, parse_heading
from camsign.sign.kinds import MEASURES, checked_bed_of, parse_measures, sign_kind
from camsign.sign.record import SaidSighting
from camsign.units import Bearing, parse_bearing, parse_day

_OURS, _CELLS = meanings("columns"), frozenset(TABLES["columns"])
# Computed by camsign when it writes a table; read back they would freeze a default.
_COMPUTED = frozenset({"season", "seasons", "traditional", "bare_deg"})
# What a thing is known by again, and what other things than sign have in one table with it.
_BESIDE = frozenset(
    {CHECK, WORDS, *IDS, "shape", "shoots_m", "tz", "worked_to_end", "started", "ended", "score",
     "proposed_kind", "stand", "stand_name", "start", "stop", "wind_deg", "wind_ms", "met"}
)  # fmt: skip
_UNITED = re.compile(r"(?P<name>[a-z_ ]+?)[ _]*\(?(?P<unit>mm|cm|m|in|inches|ft)\)?")
_DAY = re.compile(r"(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})(?:[T ].*)?")
_MONTH_FIRST = re.compile(r"(?P<month>\d{1,2})/(?P<day>\d{1,2})/(?P<year>\d{4})(?: .*)?")
# Phones write their own heading into columns of nearly every name; these can only be the deer's.
_PLAINLY_HIS = ("travel", "going", "bare", "bare side", "bare_side", "rubbed side", "taken_as")
# What columns may add to a sign that was written in words; which way is another matter.
_BESIDE_WORDS = frozenset({"kind", "species", "state", "note", "description"})
_MEASURE_WORDS = {word for measures in MEASURES.values() for word in measures}
_MEASURE_NAMES = {m.name for measures in MEASURES.values() for m in measures.values()}


@dataclass(frozen=True, slots=True)
class SignCells:
    """A sign as its cells say; `sign`, `sighting` are ids if it came from a logbook."""

    kind: str
    species: str | None
    note: str | None
    seen: SaidSighting
    sign: str | None = None
    sighting: str | None = None
    bed_of: str | None = None


def ours(cells: Mapping[str, str]) -> dict[str, str]:
    """Give the cells that say something, by camsign's own names."""
    return {_OURS.get(name, name): text for name, text in cells.items() if text.strip()}


def not_understood(columns: Iterable[str]) -> list[str]:
    """Give the columns that nothing is known of."""
    known = {*_OURS, *_COMPUTED, *_BESIDE, *_MEASURE_WORDS, *_MEASURE_NAMES}
    return [c for c in columns if c.lower() not in known and _united(c.lower()) is None]


def place_of(cells: Mapping[str, str]) -> tuple[float, float]:
    """Give latitude and longitude [deg]; decimal commas are understood.

    Raises:
        UsageError: a cell is missing, no number, or no such place.
    """
    values = []
    for name, word, letters in (("lat", "latitude", "NS"), ("lon", "longitude", "EW")):
        value = number(cells.get(name, ""))
        value = degrees(cells.get(name), letters) if value is None else value
        if value is None:
            raise UsageError(f"its {word} is {cells.get(name, '')!r}", "write it like 44.12345")
        values.append(value)
    check_lat_lon(values[0], values[1])
    return values[0], values[1]


def number(text: str) -> float | None:
    """Give a number with a decimal point or comma, or None."""
    plain = plain_number(text)
    if plain is None and text.count(",") == 1 and "." not in text:
        plain = plain_number(text.replace(",", "."))
    return plain


def day_of(text: str) -> date:
    """Give the day of `2026-03-14`, `2026/3/14`, `3/14/2026`, `2026-03-14T17:30`.

    Raises:
        UsageError: it is none; with slashes the month stands first, as Americans write it.
    """
    found = _DAY.fullmatch(text.strip()) or _MONTH_FIRST.fullmatch(text.strip())
    if not found:
        raise UsageError(
            f"{text.strip()!r} is not a day", "write it as 2026-03-14 (year-month-day)"
        )
    year, month, day = (found[name] for name in ("year", "month", "day"))
    return parse_day(f"{year}-{int(month):02d}-{int(day):02d}")


def sign_of(cells: Mapping[str, str], day: date | None, settings: Settings) -> SignCells:
    """Read a sign from cells that name its kind.

    Args:
        cells: from `ours`.
        day: when it was seen, if the cells do not say.
        settings: the logbook's, for units and the aging table.

    Raises:
        UsageError: a cell does not fit; it is named.
    """
    kind = sign_kind(cells["kind"])
    seen_on = day_of(cells["seen_on"]) if "seen_on" in cells else day
    if seen_on is None:
        raise UsageError("it has no day on which it was seen", "add a column seen_on, or give --on")
    # A table that camsign wrote gives computed days, and beside them those that were said.
    made = ("said_from", "said_to") if "basis" in cells else ("made_from", "made_to")
    from_, to = (day_of(cells[name]) if cells.get(name) else None for name in made)
    seen = SaidSighting(
        seen_on,
        cells.get("state"),
        _heading(kind, cells),
        from_,
        to,
        _measures(kind, cells, settings),
        cells.get("seen_note"),
    )
    return SignCells(
        kind,
        cells.get("species"),
        cells.get("note") or cells.get("description"),
        seen,
        _id(cells.get("sign"), "s"),
        _id(cells.get("sighting"), "g"),
        checked_bed_of(kind, cells.get("bed_of")),
    )


def words_of(point: ParsedPoint, cells: Mapping[str, str]) -> tuple[str, str]:
    """Give a point's name, and everything else that was written with it."""
    text = (cells.get("description", ""), cells.get("note", ""), point.text)
    return cells.get("name", point.name), " ".join(part for part in dict.fromkeys(text) if part)


def sign_from_draft(
    draft: SignDraft,
    point: ParsedPoint,
    cells: Mapping[str, str],
    day: date | None,
    settings: Settings,
) -> SignCells:
    """Give the cells of a sign that was written in shorthand; its row's columns fill what is left.

    Raises:
        UsageError: no day, or a column does not fit.
    """
    if draft.seen_on or point.day or point.when or "seen_on" not in cells:
        seen_on = draft.seen_on or day
    else:
        seen_on = day_of(cells["seen_on"])
    if seen_on is None:
        raise UsageError("it has no day on which it was seen", "give one with --on DAY")
    row = SignCells(draft.kind, None, None, SaidSighting(seen_on))
    if cells:
        row = _beside_words({**cells, "kind": draft.kind}, row, settings)
    plainly_his = {c: t for c, t in point.cells.items() if c in _PLAINLY_HIS}
    seen = replace(
        row.seen,
        seen_on=seen_on,
        state=draft.state or row.seen.state,
        heading=draft.heading or _heading(draft.kind, ours(plainly_his)),
        measures={**row.seen.measures, **draft.measures},
    )
    note = " ".join(" ".join(words_of(point, cells)).split())
    return replace(
        row, species=draft.species or row.species, note=note or row.note, seen=seen,
        bed_of=row.bed_of or draft.bed_of,
    )  # fmt: skip


def _beside_words(cells: Mapping[str, str], plain: SignCells, settings: Settings) -> SignCells:
    """What a row's columns say beside its words; nothing where one of them means something else."""
    kept = {k: v for k, v in cells.items() if k in _BESIDE_WORDS or k not in _CELLS}
    if not is_look(plain.kind, kept.get("state", ""), settings):
        kept.pop("state", None)  # a state of the Union, or of a battery
    try:
        return sign_of(kept, plain.seen.seen_on, settings)
    except UsageError:
        return plain


def _heading(kind: str, cells: Mapping[str, str]) -> SaidHeading | None:
    """What was taken down, if the table keeps it, goes before the travel computed from it."""
    if "bare" in cells:
        return SaidHeading(parse_bearing(cells["bare"]), bare=True)
    for name in ("taken_as", "travel"):
        if name in cells:
            return parse_heading(cells[name])
    side = cells.get("facing") or cells.get("side")
    if side and kind == "rub":
        return SaidHeading(parse_bearing(side), bare=True)
    if "travel_deg" in cells:
        degrees = number(cells["travel_deg"])
        if degrees is None or not 0 <= degrees <= 360:
            raise UsageError(f"its travel_deg is {cells['travel_deg']!r}", "give 0 to 360, true")
        return SaidHeading(Bearing(degrees % 360.0, "true"))
    return None


def _measures(kind: str, cells: Mapping[str, str], settings: Settings) -> dict[str, Any]:
    said: dict[str, str] = {}
    for name, text in cells.items():
        if name in _MEASURE_WORDS or name in _MEASURE_NAMES:
            said[name] = _pointed(text)
        elif (united := _united(name)) is not None:
            said[united[0]] = f"{_pointed(text)} {united[1]}"
    of_kind = MEASURES[kind]
    known = {*of_kind, *(m.name for m in of_kind.values())}
    # A table of many kinds has columns that some of its rows have no use for.
    values = parse_measures(kind, {n: t for n, t in said.items() if n in known}, settings)
    # A written table's heights are above bare ground already; its snow would be added twice.
    if "snow_m" in cells and values.get("snow_m"):
        for name in ("top_m", "bottom_m", "tine_m"):
            if name in cells and name in values:
                values[name] -= values["snow_m"]
    return values


def _united(name: str) -> tuple[str, str] | None:
    found = _UNITED.fullmatch(name)
    if found is None or found["name"] not in _MEASURE_WORDS:
        return None
    return found["name"], found["unit"]


def _pointed(text: str) -> str:
    value = number(text)
    return repr(value) if value is not None and "," in text else text


def _id(text: str | None, letter: str) -> str | None:
    """Another program's numbers are no ids here: a second file may use them for other things."""
    said = (text or "").strip().lower()
    return said if re.fullmatch(letter + "-[0-9a-f]{8,12}", said) else None
