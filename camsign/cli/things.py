"""Commands that say something of a thing, made from the table of things."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import GenericAlias
from typing import Annotated, Any, TypeVar

import typer

from camsign.cli.command import Out, command
from camsign.cli.reading import Anywhere
from camsign.cli.show import Block
from camsign.cli.typed import resolved
from camsign.logbook.fields import Field, Kind, Verb, read
from camsign.logbook.session import Session
from camsign.places.nearby import check_near, far_off_m
from camsign.units import format_length

T = TypeVar("T")
_TYPES: Mapping[str, Any] = {
    "flag": bool, "number": float, "whole": int,
    "path": list[str], "frames": list[str], "texts": list[str], "pins": list[str],
}  # fmt: skip


def says(
    group: typer.Typer | None,
    kind: Kind,
    name: str,
    run: Callable[..., T],
    words: Callable[[T, Session, Mapping[str, Any]], Iterable[Block]],
    called: str = "",
    help: str = "",
) -> Callable[..., None]:
    """Make a command of a verb in the table of things.

    Args:
        group: the family it belongs to; None for a command of its own, which families.py names.
        kind: of what.
        name: the verb in the table.
        run: carries it out; takes the session and what the verb takes, by name.
        words: what people are told of what `run` gave; takes that, the session, what was said.
        called: the command's name, where it is not the verb's.
        help: of a command of its own, which families.py reads from the module's text.

    A place must be near the property, unless --anywhere says otherwise.
    """
    verb = kind.verb(name)
    fields = [(kind.field(one), needed) for one, needed in verb.fields.items()]
    shown = [(one, needed) for one, needed in fields if one.help]

    first = sorted(shown, key=lambda one: _place(verb.args, one[0].name))
    params = [_keyword("session", Any, inspect.Parameter.empty)]
    params += [_param(verb, one, needed) for one, needed in first]
    if any(one.name == "at" for one, _ in shown):
        params.append(_keyword("anywhere", Anywhere, False))

    def act(session: Session, **sent: Any) -> Out[T]:
        far = sent.pop("anywhere", True)
        said = {one.said: sent[one.name] for one, _ in shown}
        values = read(kind, name, said, session.settings)
        if not far and values.get("at"):
            check_near(session, values["at"])
        done = run(session, **values)
        told = words(done, session, values)
        return Out(done, told, warned=_odd(session, values.get("at")))

    act.__doc__ = help or verb.help
    act.__signature__ = inspect.Signature(params)  # type: ignore[attr-defined]
    gives = resolved(run.__annotations__["return"], run.__module__)
    act.__annotations__ = {"return": GenericAlias(Out, (gives,))}
    return command(group, called or name)(act)


def _odd(session: Session, at: object) -> list[str]:
    """Ask about a point that lies far from all that is known, though it can be right."""
    off = far_off_m(session, at) if isinstance(at, tuple) else None
    if off is None:
        return []
    far = format_length(off, session.settings.units)
    return [
        f"that is {far} from home and every camera: is a digit wrong? camsign undo takes it back"
    ]


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
