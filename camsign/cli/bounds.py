"""The options that narrow a question, shared by every command that answers."""

from __future__ import annotations

import inspect
from collections.abc import Callable
from functools import wraps
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from camsign.answers.scope import Scope
    from camsign.logbook.session import Session

Bounds = dict[str, Any]
Area = Annotated[str, typer.Argument(help="An area's name or id.")]
AskedArea = Annotated[
    str | None, typer.Argument(help="An area's name or id; without it, the areas are named.")
]
Bucks = Annotated[
    list[str] | None, typer.Option("--buck", help="A buck's name or id; may be given again.")
]
Areas = Annotated[
    list[str] | None, typer.Option("--area", help="An area's name or id; may be given again.")
]
Does = Annotated[bool, typer.Option("--does", help="Does and fawns, by company, not bucks.")]
_OPTIONS: dict[str, Any] = {
    "season": Annotated[
        int | None, typer.Option(help="A hunting year; else the latest with pictures.")
    ],
    "first": Annotated[str | None, typer.Option("--from", metavar="DAY", help="The first day.")],
    "last": Annotated[str | None, typer.Option("--to", metavar="DAY", help="The last day.")],
    "phase": Annotated[
        str | None, typer.Option(metavar="NAME", help="A phase of the season, such as rut.")
    ],
    "last_days": Annotated[
        int | None,
        typer.Option("--last", metavar="DAYS", min=1, help="The last days up to today, or --to."),
    ],
    "reach": Annotated[
        str | None, typer.Option(metavar="LENGTH", help="How far from an area a camera counts.")
    ],
    "gap": Annotated[
        str | None, typer.Option(metavar="SPAN", help="What parts two visits: 30min.")
    ],
    "mature": Annotated[
        float | None, typer.Option(metavar="YEARS", help="From which age a buck is mature.")
    ],
}


def bounded(*wanted: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Give a command the options that narrow a question; they reach it as its `bounds`.

    Args:
        wanted: names of the options that mean something for it, none for all.
    """
    names = wanted or tuple(_OPTIONS)

    def decorate(command: Callable[..., None]) -> Callable[..., None]:
        @wraps(command)
        def asked(**given: Any) -> None:
            bounds = {name: given.pop(name) for name in names}
            command(**given, bounds=bounds)

        own = inspect.signature(command, eval_str=True)
        kept = [p for p in own.parameters.values() if p.name != "bounds"]
        shared = [
            inspect.Parameter(
                name, inspect.Parameter.KEYWORD_ONLY, default=None, annotation=_OPTIONS[name]
            )
            for name in names
        ]
        params = [p.replace(kind=inspect.Parameter.KEYWORD_ONLY) for p in kept] + shared
        asked.__signature__ = own.replace(parameters=params)  # type: ignore[attr-defined]
        asked.__annotations__ = {p.name: p.annotation for p in params}
        return asked

    return decorate


def scope(
    session: Session,
    bounds: Bounds,
    bucks: list[str] | None = None,
    areas: list[str] | None = None,
) -> Scope:
    """Give the bounds of a question from a command's words, lengths by the logbook's units."""
    from camsign.answers.scope import scope_of
    from camsign.units import parse_day, parse_duration

    first, last, reach, gap = (bounds.get(k) for k in ("first", "last", "reach", "gap"))
    return scope_of(
        session,
        bucks,
        areas,
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


def one_area(session: Session, word: str | None) -> list[str]:
    """Give the area that a question is about.

    Raises:
        UsageError: none was named; those there are come with it.
    """
    from camsign.errors import UsageError

    if word is not None:
        return [word]
    rows = session.con.execute("SELECT name FROM areas_now ORDER BY lower(name)").fetchall()
    if not rows:
        raise UsageError("no area is drawn yet", "draw one: camsign area add NAME --at LAT,LON")
    named = ", ".join(f'"{name}"' for (name,) in rows)
    raise UsageError("this question is about one area", f"name one of {named}")


def length(session: Session, text: str) -> float:
    """Read a length [m]; without a unit it is in yards or metres, by the logbook's units."""
    from camsign.units import parse_length

    return parse_length(text, "yd" if session.settings.units == "imperial" else "m")
