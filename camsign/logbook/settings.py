"""logbook.toml: what a person may edit, read into one typed value.

The fields of `Settings` are the one table of all settings: section, key, check, default. The file
is written once by `init` with a comment beside each setting, and from then on belongs to the
person. A setting that is missing has its default. One whose value does not fit has its default too,
and is named by every command, as is a key or section that is not known: nothing is ignored.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, fields
from datetime import date
from pathlib import Path
from typing import Any, Literal, TypeVar

from camsign.errors import Damaged, UsageError
from camsign.logbook import values
from camsign.logbook.values import Check, Days, MonthDay, phases_toml, usual_phases
from camsign.units import Bearing, UnitSystem
from camsign.zones import zone

FILE = "logbook.toml"
T = TypeVar("T")


def _row(section: str, key: str, check: Check[T], default: T) -> T:
    """Declare a setting: a key of a section ("" is the top of the file; key "*": all of it)."""
    found: T = field(default=default, metadata={"at": (section, key), "check": check})
    return found


@dataclass(frozen=True, slots=True)
class CameraRule:
    """Which metadata field holds a camera ID, and the pattern whose first group is it."""

    field: str
    pattern: str


def _rules(value: Any) -> tuple[CameraRule, ...]:
    tables = value if isinstance(value, list) else [value]
    for rule in tables:
        if not isinstance(rule, dict) or set(rule) != {"field", "pattern"}:
            raise ValueError("needs to be [[camera_id]] with the lines field and pattern")
    return tuple(CameraRule(str(rule["field"]), str(rule["pattern"])) for rule in tables)


@dataclass(frozen=True, slots=True)
class Settings:
    """The settings of one logbook. Lengths [m], spans [s], days as (month, day).

    A new setting is one line here, and one in TEMPLATE for people to see it.
    """

    id: str
    tz: str
    home: tuple[float, float] | None = _row("", "home", values.place, None)
    units: UnitSystem = _row("", "units", values.one_of("imperial", "metric"), "imperial")
    season_start: MonthDay = _row("seasons", "start", values.month_day, (7, 1))
    rubbing: Days = _row("seasons", "rubbing", values.days, ((9, 1), (12, 31)))
    other_sign_days: int = _row("seasons", "other_sign_days", values.whole(1, 3660), 30)
    visit_gap_s: float = _row("answers", "visit_gap", values.span(1, 604_800), 1800.0)
    reach_m: float = _row("answers", "reach_m", values.number(0, 20_000), 200.0)
    pair_limit_m: float = _row("answers", "pair_limit_m", values.number(1, 100_000), 2000.0)
    mature_age: float = _row("answers", "mature_age", values.number(0.5, 20), 3.5)
    burst_gap_s: float = _row("pictures", "burst_gap_s", values.number(0, 86_400), 10.0)
    light_before_min: float = _row("light", "light_before", values.number(0, 120), 30.0)
    light_after_min: float = _row("light", "light_after", values.number(0, 120), 30.0)
    time_in_name: tuple[str, ...] = _row("pictures", "time_in_name", values.texts, ())
    # Which north a bare number means; a word such as NE is of that north too.
    bearings: Literal["true", "magnetic"] = _row(
        "field", "bearings", values.one_of("true", "magnetic"), "true"
    )
    bare_side_rule: bool = _row("field", "bare_side_rule", values.flag, True)
    waist_m: float = _row("field", "waist", values.length(0.5, 1.5, "cm"), 1.0)
    ears_in: tuple[float, float] | None = _row("ruler", "ears_in", values.inches(2, 39), None)
    phases: Mapping[str, Days] = field(
        default_factory=lambda: usual_phases(None),
        metadata={"at": ("phases", "*"), "check": values.phases},
    )
    aging: Mapping[str, Mapping[str, Mapping[str, Any]]] = field(
        default_factory=dict, metadata={"at": ("ageing", "*"), "check": values.aging}
    )
    camera_rules: tuple[CameraRule, ...] = _row("camera_id", "*", _rules, ())
    troubles: tuple[str, ...] = ()
    """What the file says that could not be used, one line each."""

    def to_true(self, bearing: Bearing, place: tuple[float, float] | None, day: date) -> float:
        """Give a bearing taken at a place [deg] on a (local) day in degrees true, 0 to below 360.

        Raises UsageError: magnetic, and the place is unknown or too near a magnetic pole.
        """
        if (bearing.reference or self.bearings) != "magnetic":
            return bearing.deg % 360.0
        if place is None:
            raise UsageError(
                f"{bearing.deg:g} is from magnetic north, but the place is not known",
                "give it from true north, such as 120T, or set home in logbook.toml",
            )
        from camsign.magnetism import declination_deg

        return (bearing.deg + declination_deg(*place, day)) % 360.0


TEMPLATE = """\
# The settings of this logbook. Edit them freely; every answer is computed anew from them.

id = "{id}"                # never change: it names this logbook among others
tz = "{tz}"      # the time zone of the place
{home}
units = "{units}"          # imperial or metric: for lengths shown, and read without a unit

[seasons]
start = "07-01"             # a season is named by the year in which this day falls
rubbing = ["09-01", "12-31"]  # when rubs and scrapes are made (hunters' rule of thumb)
other_sign_days = 30        # other sign is taken to be at most this old when seen

[answers]
visit_gap = "30min"         # pictures of the same deer closer together than this are one visit
reach_m = 200               # cameras and sign this close to an area count for it
pair_limit_m = 2000         # distances between cameras and sign are kept up to here
mature_age = 3.5            # a buck this old or older in a season counts as mature

[light]
# The law where you hunt decides when you may shoot: check it, then set these to it.
light_before = {before:g}          # minutes before sunrise that still count as shooting light
light_after = {after:g}           # minutes after sunset

[pictures]
burst_gap_s = 10            # pictures of one camera closer together than this are one burst

[field]
bearings = "true"           # which north a bare bearing means: true or magnetic
bare_side_rule = true       # bare wood faces back the way he came (hunters' rule of thumb)
waist = "100cm"             # rubs this high or higher count as tall (hunters' rule of thumb)

# When a sign was made, by its look: docs/sign.md has the table. Single values may be replaced:
# [ageing.rub.fresh]
# days = 7

# Phases of your season, two days each (month-day). The usual ones at your latitude (common
# practice, no source): set them to what you see. In the South the rut differs by county.
[phases]
{phases}

# Where a camera writes its own ID. The first rule whose pattern fits wins; a group in it is the ID.
# [[camera_id]]
# field = "comment"         # comment, description, owner, model or serial
# pattern = "(CAM[0-9]+)"
"""


def render(
    logbook_id: str,
    tz: str,
    home: tuple[float, float] | None,
    units: str,
    light: tuple[float, float] = (30.0, 30.0),
) -> str:
    """Give the text of a new logbook.toml; `light`: minutes before sunrise and after sunset."""
    where = f"home = [{home[0]!r}, {home[1]!r}]" if home else "# home = [LAT, LON]"
    before, after = light
    phases = phases_toml(usual_phases(home[0] if home else None))
    return TEMPLATE.format(
        id=logbook_id, tz=tz, home=where, units=units, before=before, after=after, phases=phases
    )


def moved(text: str, home: tuple[float, float], tz: str) -> str:
    """Give the text of a logbook.toml with another home [deg] and time zone; the rest stays.

    Raises UsageError: its top has no one line of a home or of a time zone that could be replaced.
    """
    top, bracket, rest = text.partition("\n[")
    place, key = f"home = [{home[0]!r}, {home[1]!r}]", f'tz = "{tz}"'
    for line, patterns in {
        place: (r"^home *=.*$", r"^# *home *=.*$"),  # a comment only where there is no other
        key: (r'^tz *= *"[^"]*"',),
    }.items():
        found = next((p for p in patterns if re.search(p, top, re.MULTILINE)), None)
        if found is None:
            raise UsageError("logbook.toml lacks a line for it", f"put this at its top: {line}")
        top = re.sub(found, line, top, count=1, flags=re.MULTILINE)
    text = top + bracket + rest
    _refuse_unmoved(text, home, tz, f"{place} and {key}")
    return text


def _refuse_unmoved(text: str, home: tuple[float, float], tz: str, lines: str) -> None:
    try:
        raw = tomllib.loads(text.removeprefix("\ufeff"))
    except tomllib.TOMLDecodeError:
        raw = {}
    if raw.get("home") != list(home) or raw.get("tz") != tz:
        told = "the lines of home and tz in logbook.toml could not be replaced"
        raise UsageError(told, f"write them by hand, each on one line: {lines}")


def read(path: Path) -> Settings:
    """Read logbook.toml.

    Raises:
        Damaged: not TOML, or without a time zone that there is: nothing can be answered right then.
    """
    raw, troubles = _parsed(path)
    found: dict[str, Any] = {"id": raw.get("id"), "tz": _zone(path, raw.get("tz"))}
    if not isinstance(found["id"], str) or not found["id"]:
        found["id"] = ""
        troubles.append("holds no id; put the id line back from a copy of this logbook")
    for f, section, key in _rows():
        there, value = _value(raw, section, key)
        if not there:
            continue
        try:
            found[f.name] = f.metadata["check"](value)
        except ValueError as e:
            name = section if key == "*" else key
            troubles.append(f"{name} = {_short(value)} {e}; the usual value is taken instead")
    if "phases" not in found:
        home = found.get("home")
        found["phases"] = usual_phases(home[0] if home else None)
    return Settings(**found, troubles=(*troubles, *_unknown(raw)))


def changed(before: Path, now: Path) -> tuple[str, ...]:
    """Name each setting whose value differs between two files, as `reach_m 200 -> 300`.

    Raises:
        OSError: a file is not there.
        Damaged: as `read`.
    """
    old, new = read(before), read(now)
    raws = [_parsed(path)[0] for path in (before, now)]
    rows = [("tz", "", "tz"), *((f.name, section, key) for f, section, key in _rows())]
    found = []
    for name, section, key in rows:
        if getattr(old, name) != getattr(new, name):
            was, became = (_said(raw, section, key) for raw in raws)
            found.append(f"{section if key == '*' else key} {was} -> {became}")
    return tuple(found)


def _said(raw: Mapping[str, Any], section: str, key: str) -> str:
    there, value = _value(raw, section, key)
    return _short(value) if there else "the usual"


def _rows() -> Iterator[tuple[Any, str, str]]:
    for f in fields(Settings):
        if "at" in f.metadata:
            yield (f, *f.metadata["at"])


def _parsed(path: Path) -> tuple[dict[str, Any], list[str]]:
    data, troubles = path.read_bytes().removeprefix(b"\xef\xbb\xbf"), []
    text = data.decode("utf-8", "replace")
    if text.encode() != data:
        troubles.append("holds bytes that are no UTF-8 text; save it as UTF-8")
    try:
        return tomllib.loads(text), troubles
    except (tomllib.TOMLDecodeError, RecursionError) as e:
        raise Damaged(
            f"{path} is not readable as TOML ({e})",
            "mend that line, or put the file back from a copy of this logbook",
        ) from e


def _zone(path: Path, said: object) -> str:
    try:
        return zone(str(said)).key if isinstance(said, str) else zone("").key
    except UsageError as e:
        what = f"tz = {_short(said)}, which is no time zone" if said is not None else "no tz"
        raise Damaged(
            f"{path} holds {what}, so every hour would be wrong",
            'put back its line, such as tz = "America/New_York"',
        ) from e


def _value(raw: Mapping[str, Any], section: str, key: str) -> tuple[bool, Any]:
    if key == "*":
        return section in raw, raw.get(section)
    table = raw.get(section) if section else raw
    if not isinstance(table, dict):
        return False, None
    return key in table, table.get(key)


def _unknown(raw: Mapping[str, Any]) -> Iterator[str]:
    """Name each section and key that no setting has, with the nearest that one has."""
    known: dict[str, list[str]] = {"": ["id", "tz"]}
    for _, section, key in _rows():
        known.setdefault(section, []).append(key)
    top = [*known[""], *(s for s in known if s)]
    for name, value in raw.items():
        if name not in top:
            yield f"{name!r} is no setting{_nearest(name, top)}"
        elif name in known and known[name] != ["*"]:
            if not isinstance(value, dict):
                yield f"{name} needs to be a section: write [{name}]"
                continue
            for key in value:
                if key not in known[name]:
                    yield f"{key!r} under [{name}] is no setting{_nearest(key, known[name])}"


def _nearest(said: str, known: list[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(said, known, n=1, cutoff=0.5)
    return f"; did you mean {near[0]!r}?" if near else f"; known here: {', '.join(known)}"


def _short(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 40 else f"{text[:39]}…"
