"""Commands that say something of a thing, made from the table of things."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping, Sequence
from functools import wraps
from typing import Annotated, Any

import typer

from camsign.cli.command import Out, command
from camsign.cli.reading import Anywhere
from camsign.logbook.fields import Field, Kind, Verb, read
from camsign.logbook.session import Session
from camsign.places.nearby import Nearby

Run = Callable[..., Out[Any]]
_TYPES: Mapping[str, Any] = {
    "flag": bool, "number": float, "whole": int,
    "path": list[str], "frames": list[str], "texts": list[str], "pins": list[str],
}  # fmt: skip


def says(
    group: typer.Typer | None,
    kind: Kind,
    name: str,
    called: str = "",
) -> Callable[[Run], Callable[..., Any]]:
    """Make a command of what `run` does with the values that people's words gave.

    `run` takes the session and what the verb takes, by name; it gives an `Out`.

    Args:
        group: the family it belongs to; None for a command of its own, which families.py names.
        kind: of what.
        name: the verb in the table.
        called: the command's name, where it is not the verb's.

    A place must be near the property, unless --anywhere says otherwise.
    """
    verb = kind.verb(name)
    fields = [(kind.field(one), needed) for one, needed in verb.fields.items()]
    shown = [(one, needed) for one, needed in fields if one.help]

    first = sorted(shown, key=lambda one: _place(verb.args, one[0].name))
    params = [_param(verb, one, needed) for one, needed in first]
    if any(one.name == "at" for one, _ in shown):
        params.append(_keyword("anywhere", Anywhere, False))

    def decorate(run: Run) -> Callable[..., Any]:
        @wraps(run)
        def act(session: Session, **words: Any) -> Out[Any]:
            far = words.pop("anywhere", True)
            sent = {one.said: words[one.name] for one, _ in shown}
            values = read(kind, name, sent, session.settings)
            if not far and values.get("at"):
                _check_near(session, values["at"])
            return run(session, **values)

        act.__doc__ = verb.help
        session = _keyword("session", Any, inspect.Parameter.empty)
        act.__signature__ = inspect.Signature([session, *params])  # type: ignore[attr-defined]
        done = command()(act)
        if group is None:
            return done
        group.command(called or name)(done)
        return run

    return decorate


def _check_near(session: Session, at: Any) -> None:
    """Refuse a point, or any of a line, that cannot lie on this property."""
    nearby = Nearby.of(session)
    for point in at if isinstance(at, list) else [at]:
        nearby.check(point)


def _place(args: Sequence[str], name: str) -> int:
    return args.index(name) if name in args else len(args)


def _param(verb: Verb, one: Field, needed: bool) -> inspect.Parameter:
    usual = verb.usual.get(one.name)
    sort: Any = _TYPES.get(one.sort, str)
    metavar = one.metavar or None
    info: Any = typer.Option(one.flag, help=one.help, metavar=metavar)
    if one.name in verb.args:
        info = typer.Argument(help=one.help, metavar=metavar)
    default: Any = usual
    if needed:
        default = inspect.Parameter.empty
    elif sort is bool:
        default = False
    elif usual is None:
        sort = sort | None
    return _keyword(one.name, Annotated[sort, info], default)


def _keyword(name: str, kind: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, default=default, annotation=kind)
