"""logbook.toml: what a person may edit, read into one typed value.

The file is written once by `init` with a comment beside each setting, and from then on belongs to
the person. A setting that is missing has the default given here.
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from camsign.errors import Damaged, UsageError
from camsign.units import UnitSystem

FILE = "logbook.toml"


@dataclass(frozen=True, slots=True)
class CameraRule:
    """Which metadata field holds a camera ID, and the pattern whose first group is it."""

    field: str
    pattern: str


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one logbook. Lengths [m], spans [s], days as (month, day)."""

    id: str
    tz: str
    home: tuple[float, float] | None = None
    units: UnitSystem = "imperial"
    season_start: tuple[int, int] = (7, 1)
    rubbing: tuple[tuple[int, int], tuple[int, int]] = ((9, 1), (12, 31))
    other_sign_days: int = 30
    visit_gap_s: float = 1800.0
    burst_gap_s: float = 10.0
    reach_m: float = 200.0
    pair_limit_m: float = 2000.0
    mature_age: float = 3.5
    camera_rules: tuple[CameraRule, ...] = ()
    tables: dict[str, Any] = field(default_factory=dict)


TEMPLATE = """\
# The settings of this logbook. Edit them freely; every answer is computed anew from them.

id = "{id}"                # never change: it names this logbook among others
tz = "{tz}"      # the time zone of the place
{home}
units = "{units}"          # imperial or metric: for lengths shown, and read without a unit

[seasons]
start = "07-01"             # a season is named by the year in which this day falls
rubbing = ["09-01", "12-31"]  # when rubs and scrapes are made (common practice, no source)
other_sign_days = 30        # other sign is taken to be at most this old when seen

[answers]
visit_gap = "30min"         # detections of one subject closer than this are one visit
reach_m = 200               # how far from an area's edge a camera or a sign speaks for it
pair_limit_m = 2000         # distances between cameras and sign are kept up to here
mature_age = 3.5            # a buck this old or older in a season counts as mature

[pictures]
burst_gap_s = 10            # frames of one camera closer than this belong to one trigger

[field]
bearings = "true"           # which north a bare bearing means: true or magnetic
bare_side_rule = true       # bare wood looks back the way he came (common practice, no source)
waist = "100cm"             # a rub whose top is as high is a tall one (common practice, no source)

# When a sign was made, by its look: docs/sign.md has the table. Single values may be replaced:
# [ageing.rub.fresh]
# days = 7

# Phases of your season, for visits --split phase and for when: two days each (month-day).
# [phases]
# "pre-rut" = ["10-15", "11-04"]

# Where a camera writes its own ID. The first rule whose pattern fits wins; a group in it is the ID.
# [[camera_id]]
# field = "comment"         # comment, description, owner, model or serial
# pattern = "(CAM[0-9]+)"
"""


def render(logbook_id: str, tz: str, home: tuple[float, float] | None, units: str) -> str:
    """Give the text of a new logbook.toml."""
    where = f"home = [{home[0]!r}, {home[1]!r}]" if home else "# home = [LAT, LON]"
    return TEMPLATE.format(id=logbook_id, tz=tz, home=where, units=units)


def read(path: Path) -> Settings:
    """Read logbook.toml.

    Raises:
        Damaged: not TOML, or without an id.
        UsageError: a setting has a value that does not fit.
    """
    try:
        raw = tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as e:
        raise Damaged(f"{path} is not readable as TOML ({e})", "mend the line it names") from e
    if not raw.get("id"):
        raise Damaged(f"{path} holds no id", "put back the id line from a copy of this logbook")
    try:
        return _settings(raw)
    except (TypeError, ValueError, KeyError, AttributeError) as e:
        raise UsageError(f"a setting in {path} does not fit: {e}", "mend that line") from e


def _settings(raw: dict[str, Any]) -> Settings:
    seasons, answers, pictures = (raw.get(k, {}) for k in ("seasons", "answers", "pictures"))
    home = raw.get("home")
    first, last = seasons.get("rubbing", ["09-01", "12-31"])
    return Settings(
        id=str(raw["id"]),
        tz=str(raw.get("tz", "UTC")),
        home=(float(home[0]), float(home[1])) if home else None,
        units=_units(raw.get("units", "imperial")),
        season_start=_month_day(seasons.get("start", "07-01")),
        rubbing=(_month_day(first), _month_day(last)),
        other_sign_days=int(seasons.get("other_sign_days", 30)),
        visit_gap_s=_span(answers.get("visit_gap", "30min")),
        burst_gap_s=float(pictures.get("burst_gap_s", 10)),
        reach_m=float(answers.get("reach_m", 200)),
        pair_limit_m=float(answers.get("pair_limit_m", 2000)),
        mature_age=float(answers.get("mature_age", 3.5)),
        camera_rules=tuple(
            CameraRule(str(r["field"]), str(r["pattern"])) for r in raw.get("camera_id", [])
        ),
        tables=raw,
    )


def _units(value: object) -> UnitSystem:
    return "metric" if _one_of(value, "imperial", "metric") == "metric" else "imperial"


def _one_of(value: object, *words: str) -> str:
    if value not in words:
        raise ValueError(f"{value!r} is none of {', '.join(words)}")
    return str(value)


def _month_day(text: str) -> tuple[int, int]:
    month, day = (int(x) for x in text.split("-"))
    if not (1 <= month <= 12 and 1 <= day <= 31):
        raise ValueError(f"{text!r} is no month-day such as 09-01")
    return month, day


def _span(value: str | int | float) -> float:
    from camsign.units import parse_duration

    return float(value) if isinstance(value, int | float) else parse_duration(value)
