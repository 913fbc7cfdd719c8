"""Sits as things with a place: their stand's, with the words that the import of a file reads."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from datetime import datetime, tzinfo
from typing import Any

from camsign.formats.geojson import positions
from camsign.logbook.moments import aware, season_of
from camsign.logbook.session import Session
from camsign.logbook.whois import known_bucks
from camsign.units import UnitSystem, compass_word
from camsign.zones import zone

Point = dict[str, Any]


def sit_things(
    session: Session, rows: list[dict[str, Any]], season: int | None
) -> Iterator[tuple[str, str, Point, dict[str, Any], datetime]]:
    """Give the name, the words, the place, the cells and the start (aware) of each sit.

    Args:
        session: the open logbook.
        rows: of sits.sql.
        season: only those of this hunting year.
    """
    there, bucks = session.settings, known_bucks(session)
    for row in rows:
        begin, end = aware(row["start"]), aware(row["stop"])
        day = begin.astimezone(zone(there.tz)).date()
        if season is not None and season_of(day, there.season_start) != season:
            continue
        met = [
            one | ({"buck_name": bucks.name(one["buck"])} if one["buck"] else {})
            for one in json.loads(row["met"] or "[]")
        ]
        cells = {
            "kind": "sit", "sit": row["sit"], "stand": row["stand"],
            "stand_name": row["stand_name"], "start": begin.isoformat(), "stop": end.isoformat(),
            "wind_deg": row["wind_deg"], "wind_ms": row["wind_ms"], "note": row["note"],
            "met": json.dumps([_said(one) for one in met]) if met else None,
        }  # fmt: skip
        lat, lon = next(positions(json.loads(row["shape"])["coordinates"]))
        tz = zone(there.tz)
        name = f"sat {row['stand_name']} {_clock(begin, tz)}-{_clock(end, tz)}"
        at = {"type": "Point", "coordinates": [lon, lat]}
        yield name, _words(row, met, there.units, tz), at, _said(cells), begin


def _said(cells: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in cells.items() if value is not None}


def _words(row: Mapping[str, Any], met: list[Point], units: UnitSystem, tz: tzinfo) -> str:
    """Give who was met, the wind and the note, such as `saw 8pt 40yd E 4:40pm; wind SW 6mph`."""
    parts = []
    for word, spooked in (("saw", False), ("spooked", True)):
        those = [_phrase(one, units, tz) for one in met if bool(one.get("spooked")) is spooked]
        parts += [f"{word} {', '.join(those)}"] if those else []
    parts += [f"wind {wind}"] if (wind := _wind(row, units)) else []
    parts += [f"note {row['note']}"] if row["note"] else []
    return "; ".join(parts)


def _phrase(one: Mapping[str, Any], units: UnitSystem, tz: tzinfo) -> str:
    count, points, far = one.get("count") or 1, one.get("points"), one.get("distance_m")
    who = one.get("buck_name") or (f"{points}pt" if points else one.get("what") or "animal")
    yards = units == "imperial"
    words = [str(count)] if count > 1 else []
    words += ["mature"] if one.get("mature") else []
    words += [who]
    words += [f"{far / 0.9144:.0f}yd" if yards else f"{far:.0f}m"] if far is not None else []
    words += [compass_word(one["from_deg"])] if one.get("from_deg") is not None else []
    at = one.get("seen_at")
    words += [_clock(datetime.fromisoformat(at), tz)] if at else []
    return " ".join([*words, *([one["note"]] if one.get("note") else [])])


def _wind(row: Mapping[str, Any], units: UnitSystem) -> str:
    way, pace = row["wind_deg"], row["wind_ms"]
    if way is None:
        return "calm" if pace == 0 else ""
    if pace is None:
        return compass_word(way)
    imperial = units == "imperial"
    return f"{compass_word(way)} {pace / 0.44704 if imperial else 3.6 * pace:.0f}" + (
        "mph" if imperial else "kmh"
    )


def _clock(when: datetime, tz: tzinfo) -> str:
    here = when.astimezone(tz)
    return f"{here.hour % 12 or 12}:{here:%M}{'am' if here.hour < 12 else 'pm'}"
