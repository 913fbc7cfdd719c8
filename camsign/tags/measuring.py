"""Antler spread from a picture, by the known distance between a deer's ear tips.

The spread is the distance between the beams' outermost points over that between the ear tips,
times the yardstick. What comes out is a range, not an interval: the yardstick itself has a range
(published for ears tip to tip: 16 in, Boone and Crockett Club 2011; other teaching says 13 in), and
each mark can be off by some pixels. It holds for a head that faces the camera with its ears out.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import dist, isfinite
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.edits import SetFields, new_id
from camsign.logbook.moments import season_of
from camsign.logbook.session import Session
from camsign.stats.estimate import Estimate
from camsign.tags import frames
from camsign.tags.bucks import BuckSaid, find_buck

INCH_M = 0.0254
EARS_LOW_M, EARS_HIGH_M = 13 * INCH_M, 16 * INCH_M
MARK_OFF_PX = 2.0
"""How far a mark may be off [pixels of the picture]."""
MARKS = ("left ear", "right ear", "left beam", "right beam")
_LEAST_EARS_PX = 12.0

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Yardstick:
    """The distance between the ear tips, from `low_m` to `high_m` [m]."""

    low_m: float
    high_m: float
    name: str = "ears tip to tip"


@dataclass(frozen=True, slots=True)
class Measurement:
    """What was measured of a buck in a season. `spread_m` is a value and its range [m]."""

    measurement: str
    buck: str
    buck_id: str
    season: int
    kind: str
    spread_m: Estimate
    frame: str
    yardstick: Yardstick


def usual_yardstick(session: Session) -> Yardstick:
    """Give the ears' range [m]: `ears_in = [13, 16]` under [ruler] in logbook.toml says another."""
    said = session.settings.ears_in
    if said is None:
        return Yardstick(EARS_LOW_M, EARS_HIGH_M)
    return checked_yardstick(said[0] * INCH_M, said[1] * INCH_M)


def checked_yardstick(low_m: float, high_m: float) -> Yardstick:
    """Give a yardstick. Raises UsageError unless 5 cm <= low <= high <= 1 m."""
    if not (0.05 <= low_m <= high_m <= 1.0):
        raise UsageError(
            f"ears of {low_m / INCH_M:.1f} to {high_m / INCH_M:.1f} in tip to tip are not likely",
            "give the smaller length first, such as 13 and 16 in",
        )
    return Yardstick(low_m, high_m)


def spread(
    marks: Mapping[str, Sequence[float]], yardstick: Yardstick, off_px: float = MARK_OFF_PX
) -> Estimate:
    """Give the spread [m] with its range.

    Args:
        marks: a point (x, y) [pixels] for each of `MARKS`.
        yardstick: the ears' range.
        off_px: how far each mark may be off [pixels].

    Returns:
        The value with the middle of the yardstick, and what is possible with its ends and the marks
        off the worst way.

    Raises:
        UsageError: a mark is missing or no point, or the ears are too few pixels apart.
    """
    points = {name: _point(marks, name) for name in MARKS}
    ears = dist(points["left ear"], points["right ear"])
    beams = dist(points["left beam"], points["right beam"])
    if ears < max(_LEAST_EARS_PX, 4 * off_px):
        raise UsageError(
            f"the ear tips are only {ears:.0f} pixels apart", "measure on a picture taken nearer"
        )
    middle = (yardstick.low_m + yardstick.high_m) / 2
    low = max(0.0, beams - 2 * off_px) / (ears + 2 * off_px) * yardstick.low_m
    high = (beams + 2 * off_px) / (ears - 2 * off_px) * yardstick.high_m
    return Estimate(beams / ears * middle, low, high)


def measure_spread(
    session: Session,
    buck: str,
    frame: str,
    marks: Mapping[str, Sequence[float]],
    yardstick: Yardstick,
) -> tuple[BuckSaid, Estimate]:
    """Note a buck's spread as measured on a frame, for the season of that frame.

    Raises:
        UsageError: as `spread`; no such buck or frame; or the frame's time is not known.
    """
    found = find_buck(session, buck)
    one, result = frames.one(session, frame), spread(marks, yardstick)
    fields: dict[str, Any] = {
        "buck": found.buck_id,
        "frame": one,
        "kind": "spread",
        "season": _season(session, one),
        "value_m": result.value,
        "low_m": result.low,
        "high_m": result.high,
        "marks": {name: [round(x, 1) for x in _point(marks, name)] for name in MARKS},
        "yardstick": {
            "name": yardstick.name, "low_m": yardstick.low_m, "high_m": yardstick.high_m,
        },
    }  # fmt: skip
    edit = SetFields("measurement", new_id("m"), fields)
    session.say(f"measured the spread of {found.buck}", [edit])
    return found, result


def drop_measurement(session: Session, measurement: str) -> None:
    """Take a measurement out. Raises UsageError if there is none of this id."""
    row = session.con.execute(
        "SELECT n.name FROM measurements m LEFT JOIN bucks_now n ON n.buck = m.buck"
        " WHERE m.measurement = ? AND m.gone IS NOT TRUE",
        [measurement],
    ).fetchone()
    if row is None:
        raise UsageError(f"there is no measurement {measurement!r}")
    edit = SetFields("measurement", measurement, {"gone": True})
    session.say(f"dropped a measurement of {row[0]}", [edit])


def measurements(session: Session, buck: str | None = None) -> list[Measurement]:
    """Give what was measured of a buck, or of all, the latest season first.

    Raises:
        UsageError: there is no such buck.
    """
    buck_id = find_buck(session, buck).buck_id if buck else None
    rows = session.con.execute(
        "SELECT m.measurement, n.name, n.buck_id, m.season, m.kind, m.value_m, m.low_m, m.high_m,"
        " m.frame, m.yardstick FROM measurements m JOIN bucks_now n ON n.buck = m.buck"
        " WHERE m.gone IS NOT TRUE AND ($buck IS NULL OR n.buck_id = $buck)"
        " ORDER BY lower(n.name), n.buck_id, m.season DESC, m.value_m DESC, m.measurement",
        {"buck": buck_id},
    ).fetchall()
    usual = {"low_m": EARS_LOW_M, "high_m": EARS_HIGH_M, "name": ""}
    found = []
    for own, name, known, season, kind, value, low, high, frame, stick in rows:
        by, spread_m = Yardstick(**usual | json.loads(stick or "{}")), Estimate(value, low, high)
        found.append(Measurement(own, name, known, season, kind, spread_m, frame, by))
    return found


def _season(session: Session, frame: str) -> int:
    row = session.con.execute("SELECT day FROM frame_times WHERE frame = ?", [frame]).fetchone()
    if row is None or row[0] is None:
        raise UsageError(
            f"the time of {frame[:12]} is not known, so neither is the season",
            "say where its camera hung first",
        )
    return season_of(row[0], session.settings.season_start)


def _point(marks: Mapping[str, Sequence[float]], name: str) -> Point:
    value = marks.get(name)
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise UsageError(f"the {name} is not marked")
    numbers = all(isinstance(x, int | float) and not isinstance(x, bool) for x in value)
    if not numbers or not all(isfinite(x) and abs(x) < 1e6 for x in value):
        raise UsageError(f"the {name} is no point of a picture")
    return float(value[0]), float(value[1])
