"""The words that narrow a question, declared once for every command that answers."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from typing import Annotated, Any

import typer

from camsign.answers.scope import Scope, scope_of
from camsign.cli.misused import length_apart, which
from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.places.areas import find_area
from camsign.tags.bucks import find_buck
from camsign.units import parse_day, parse_duration, parse_length

Bounds = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Option:
    """One word: its type and help for typer, what stands where it is not given.

    `first`: it is an argument, and comes before a command's own words.
    """

    kind: Any
    default: Any = None
    first: bool = False


def _option(kind: Any, *names: str, **more: Any) -> Option:
    return Option(Annotated[kind, typer.Option(*names, **more)])


OPTIONS: dict[str, Option] = {
    "buck": Option(Annotated[str, typer.Argument(help="A buck's name or id.")], ..., True),
    "area": Option(Annotated[str, typer.Argument(help="An area's name or id.")], ..., True),
    "any_area": Option(
        Annotated[
            str | None,
            typer.Argument(
                metavar="area", help="An area's name or id; leave it out to see their names."
            ),
        ],
        first=True,
    ),
    "named": Option(
        Annotated[
            str | None, typer.Argument(metavar="name", help="A buck's or an area's name or id.")
        ],
        first=True,
    ),
    "bucks": _option(list[str] | None, "--buck", help="A buck's name or id; repeat for more."),
    "areas": _option(list[str] | None, "--area", help="An area's name or id; repeat for more."),
    "does": Option(
        Annotated[bool, typer.Option("--does", help="Does and fawns instead of bucks.")],
        False,
    ),
    "season": _option(
        int | None, help="Hunting year, such as 2025 (the latest if you leave it out)."
    ),
    "first": _option(str | None, "--from", metavar="DAY", help="The first day."),
    "last": _option(str | None, "--to", metavar="DAY", help="The last day."),
    "phase": _option(str | None, metavar="NAME", help="A phase of the season, such as rut."),
    "last_days": _option(
        int | None, "--last", metavar="DAYS", min=1, help="The last days up to today, or --to."
    ),
    "reach": _option(str | None, metavar="LENGTH", help="How far from an area a camera counts."),
    "gap": _option(str | None, metavar="SPAN", help="Minutes apart that make two visits: 30min."),
    "mature": _option(float | None, metavar="YEARS", help="From which age a buck is mature."),
}
DAYS = ("season", "first", "last", "phase", "last_days")
WITHIN = (*DAYS, "reach", "gap", "mature")


def scope(session: Session, bounds: Bounds) -> Scope:
    """Give what a question is about from a command's words, lengths by the logbook's units."""
    bounds = _told_apart(session, bounds)
    first, last, reach, gap = (bounds.get(k) for k in ("first", "last", "reach", "gap"))
    return scope_of(
        session,
        [bounds["buck"]] if "buck" in bounds else bounds.get("bucks"),
        _areas(session, bounds),
        bounds.get("season"),
        parse_day(first) if first else None,
        parse_day(last) if last else None,
        length(session, reach) if reach else None,
        parse_duration(gap) if gap else None,
        bounds.get("mature"),
        bounds.get("phase"),
        bounds.get("last_days"),
        "does" if bounds.get("does") else "bucks",
    )


def _told_apart(session: Session, bounds: Bounds) -> Bounds:
    """Put a bare name among the bucks or the areas.

    Raises:
        UsageError: neither is called so.
    """
    said = bounds.get("named")
    if said is None:
        return bounds
    for kind, find in (("bucks", find_buck), ("areas", find_area)):
        with suppress(UsageError):
            find(session, said)
            return bounds | {kind: [said, *(bounds[kind] or ())]}
    if length := length_apart(bounds, said):
        raise UsageError(f"can't tell what {said!r} belongs to", f"write it {length}")
    lists = "list them with: camsign buck list, camsign area list"
    raise UsageError(f"there is no buck and no area {said!r}", lists)


def _areas(session: Session, bounds: Bounds) -> list[str] | None:
    """Give the areas asked about.

    Raises:
        UsageError: the question is about one, and none was named; those there are come with it.
    """
    if "areas" in bounds or not {"area", "any_area"} & bounds.keys():
        return bounds.get("areas")
    word = bounds.get("area") or bounds.get("any_area")
    if word is not None:
        return [word]
    if session.con.execute("SELECT 1 FROM areas_now LIMIT 1").fetchone() is None:
        raise UsageError("no area is drawn yet", "draw one: camsign area add NAME --at LAT,LON")
    raise which(session, "area")


def length(session: Session, text: str) -> float:
    """Read a length [m]; without a unit it is in yards or meters, by the logbook's units."""
    return parse_length(text, "yd" if session.settings.units == "imperial" else "m")
