"""What is said of a sit as people say it: odds, hours, winds, who was seen."""

from __future__ import annotations

from datetime import datetime

from camsign.answers.odds import one_in
from camsign.formats.days import People, minutes_words
from camsign.formats.interval import Interval
from camsign.logbook.settings import Settings
from camsign.sits.sightwords import Seen
from camsign.units import compass_word, format_length
from camsign.zones import zone

SLIGHT = 0.005  # below it a chance has no number
_ALL_CLEAN = 0.05  # from this chance on a clean scent is only mostly clean; our choice
CERTAIN = "nearly certain"
SPEED_MS = {"imperial": ("mph", 0.44704), "metric": ("km/h", 1 / 3.6)}
"""The unit of wind speeds, and how many m/s one of it is."""


def met_words(one: Seen, settings: Settings) -> str:
    """Somebody seen on a sit: `2 does 40 yd from SW at 4:40 PM`."""
    who = one.buck or (f"{one.points} pt" if one.points else one.what)
    several = one.count > 1
    words = [
        str(one.count) if several else "",
        "mature" if one.mature else "",
        f"{who}s" if several and who == one.what and not who.endswith(("deer", "s")) else who,
        format_length(one.distance_m, settings.units) if one.distance_m is not None else "",
        f"from {compass_word(one.from_deg)}" if one.from_deg is not None else "",
        f"at {clock(one.at, settings)}" if one.at else "",
        f"({one.note})" if one.note else "",
    ]
    return " ".join(word for word in words if word)


def wind_words(from_deg: float | None, speed_ms: float | None, settings: Settings) -> str:
    """A wind as people say it: `SW 6 mph`, calm; empty where nobody said."""
    unit, per = SPEED_MS[settings.units]
    if from_deg is None:
        return "calm" if speed_ms == 0 else ""
    pace = "" if speed_ms is None else f" {speed_ms / per:.0f} {unit}"
    return f"{compass_word(from_deg)}{pace}"


def odds(chance: float | None) -> str:
    """A chance as people say it: `about 1 in 6`."""
    words = _one(chance)
    return f"about {words}" if words[0].isdigit() else words


def span(figure: Interval) -> str:
    """The interval of a chance: `anywhere from 1 in 20 to 1 in 3`."""
    if figure.low is None or figure.high is None:
        return "can't tell how close that is"
    low, high = _one(figure.low), _one(figure.high)
    return f"anywhere from {low} to {high}" if low != high else low


def range_in_words(figure: Interval) -> str:
    """The interval of a chance in a cell: `1 in 20 to 1 in 3`."""
    low, high = _one(figure.low), _one(figure.high)
    return f"{low} to {high}" if low != high else low


def _one(chance: float | None) -> str:
    if chance is None or chance < SLIGHT:
        return "next to none"
    return CERTAIN if chance >= 0.95 else one_in(chance)


def scent_words(word: str | None, chance: float | None) -> str | None:
    """The word for a scent, which is `mostly clean` where its chance is still worth telling."""
    return "mostly clean" if word == "clean" and (chance or 0.0) >= _ALL_CLEAN else word


def hours_words(hours: float) -> str:
    """How long somebody sat: `2 h 23 min`; `10 h`."""
    return minutes_words(round(60 * hours))


def clock(when: datetime, settings: Settings) -> str:
    """A time of day (UTC in) at the place: `4:07 PM`, or 16:07 in a metric logbook."""
    return People(settings.units).clock(when.astimezone(zone(settings.tz)))
