"""One way in and out: a command says its words and gives a value; what happens around it is here.

A command is a function that takes what it needs by name, calls one function and gives an `Out`.
`command` makes of it what the command line runs: it opens the logbook, adds --json and --csv,
prints, and leaves with the exit code.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterable, Iterator, Sequence, Sized
from contextlib import ExitStack
from dataclasses import dataclass, replace
from functools import partial, wraps
from pathlib import Path
from typing import Annotated, Any, Generic, TypeVar, get_args, get_origin

import typer

from camsign.answers.result import Answer
from camsign.cli.asked import OPTIONS, Bounds, scope
from camsign.cli.opened import Asked, folder, logbook
from camsign.cli.show import Block, as_csv, as_json, json_of, note, put_csv, tell
from camsign.cli.stopping import stop_if_pressed, under_way
from camsign.cli.typed import resolved
from camsign.cli.waiting import bar
from camsign.errors import ATTENTION, REFUSED, UsageError
from camsign.logbook.folder import find
from camsign.logbook.session import Session
from camsign.units import lower_first, upper_first

T = TypeVar("T")
Command = Callable[..., "Out[Any]"]

Json = Annotated[bool, typer.Option("--json", help="One JSON value on stdout, nothing else.")]
Csv = Annotated[bool, typer.Option("--csv", help="CSV on stdout, columns named as the JSON keys.")]
Why = Annotated[bool, typer.Option("--why", help="The full reasons and the method.")]

# What a command may ask for by these names, beside its own words.
_GIVEN = ("context", "session", "book", "asked", "bounds", "progress", "quiet", "why")
_REASONS = 5


@dataclass(frozen=True, slots=True)
class Out(Generic[T]):
    """What a command leaves behind.

    `value` is what --json prints and --csv lists. `told` is read only for people, after the logbook
    is closed: a line, or lines and tables. `more`: likewise, behind --why. `warned` goes to stderr
    in every form. `code` is the exit code. `of`: what an answer is about, before what it says.
    `rows`: what --csv lists where it is not the value itself.
    """

    value: T
    told: Iterable[Block] = ()
    more: Iterable[Block] = ()
    warned: Sequence[str] = ()
    code: int = 0
    of: str = ""
    rows: Sequence[Any] | None = None


@dataclass(frozen=True, slots=True)
class Made:
    """A command as it was declared, kept for the pages that are made from all of them.

    `attention`, `refused`: what its exit codes 1 and 3 mean, None where it has none, or there is no
    more to say than of every command.
    """

    function: Command
    csv: bool
    attention: str | None = None
    refused: str | None = None

    @property
    def gives(self) -> Any:
        """The type of its value."""
        out = resolved(self.function.__annotations__["return"], self.function.__module__)
        return get_args(out)[0]


def command(
    group: typer.Typer | None = None,
    name: str | None = None,
    *,
    asks: Sequence[str] = (),
    csv: bool = False,
    why: bool = False,
    several: bool = False,
    attention: str | None = None,
    refused: str | None = None,
    stopped: str | None = None,
) -> Callable[[Command], Callable[..., None]]:
    """Make a command of a function that gives an `Out`.

    Args:
        group: the family it belongs to; None for a command of its own, which families.py names.
        name: its word in the family.
        asks: names of the shared options it takes (camsign.cli.asked); they make its `asked`.
        csv: it gives rows.
        why: it takes --why, as those with shared options do.
        several: it answers for several logbooks too, one after the other.
        attention: what its exit code 1 says.
        refused: what its exit code 3 says.
        stopped: what stands when Ctrl+C stops it, and how to go on.
    """

    def decorate(function: Command) -> Callable[..., None]:
        made = Made(function, csv, attention, refused)
        takes = [n for n in inspect.signature(function).parameters if n in _GIVEN]

        @wraps(function)
        def run(context: typer.Context, **words: Any) -> None:
            under_way(stopped)
            asked: Asked = context.obj
            to_json, to_csv = words.pop("as_json"), words.pop("as_csv", False)
            asked.form = "json" if to_json else "csv" if to_csv else "table"
            asked.why = bool(words.pop("why", False))
            bounds = {name: words.pop(name) for name in asks}
            call = partial(_called, function, takes, context, words)
            if several and len(asked.logbooks) > 1:
                _leave_several(asked, _outs(asked, bounds, call))
            else:
                _leave(made, call(bounds), asked)

        run.__signature__ = _signature(function, asks, csv, why)  # type: ignore[attr-defined]
        run.__annotations__ = {}
        run.made = made  # type: ignore[attr-defined]
        return group.command(name)(run) if group else run

    return decorate


def _signature(function: Command, asks: Sequence[str], csv: bool, why: bool) -> inspect.Signature:
    """Give typer all words: the function's own, the shared ones, and the forms."""
    own = inspect.signature(function).parameters
    params: list[tuple[str, Any, Any]] = [("context", typer.Context, inspect.Parameter.empty)]
    arguments = [n for n in asks if OPTIONS[n].first]
    params += [(n, OPTIONS[n].kind, OPTIONS[n].default) for n in arguments]
    words = [(n, p) for n, p in own.items() if n not in _GIVEN]
    params += [(n, resolved(p.annotation, function.__module__), p.default) for n, p in words]
    params += [(n, OPTIONS[n].kind, OPTIONS[n].default) for n in asks if n not in arguments]
    if asks or why or "why" in own:
        params.append(("why", Why, False))
    params += [("as_json", Json, False)] + ([("as_csv", Csv, False)] if csv else [])
    kind = inspect.Parameter.KEYWORD_ONLY
    return inspect.Signature(
        [inspect.Parameter(n, kind, default=d, annotation=a) for n, a, d in params]
    )


def _called(
    function: Command, takes: Sequence[str], context: typer.Context, words: Any, bounds: Bounds
) -> Out[Any]:
    """Call the function with what it takes; the logbook is open meanwhile if it takes that."""
    quiet, why = context.obj.form != "table", context.obj.why
    given: dict[str, Any] = {"context": context, "quiet": quiet, "bounds": bounds, "why": why}
    with ExitStack() as stack:
        if "book" in takes:
            given["book"] = folder(context)
        if "session" in takes:
            given["session"] = stack.enter_context(logbook(context))
        if "asked" in takes:
            given["asked"] = scope(given["session"], bounds)
        if "progress" in takes:
            given["progress"] = stack.enter_context(bar(quiet))
        out: Out[Any] = function(**{n: given[n] for n in takes}, **words)
        if "session" in takes and isinstance(out.value, Answer):
            out = replace(out, warned=[*out.warned, *_uncounted(given["session"])])
    stop_if_pressed()
    return out


def _uncounted(session: Session) -> list[str]:
    from camsign.answers.nowhere import counted_nowhere
    from camsign.answers.unsorted import untagged_season

    return [*counted_nowhere(session), *filter(None, [untagged_season(session)])]


def _leave(made: Made, out: Out[Any], asked: Asked) -> None:
    """Print in the wanted form, then leave with the code."""
    if asked.form == "json":
        as_json(out.value)
    elif asked.form == "csv":
        as_csv(out.value if out.rows is None else out.rows, rows_of(made.gives))
        if isinstance(out.value, Answer):
            note(f"camsign: {out.value.said}")
    else:
        tell(_framed(out, asked.why), asked.people)
    note(*(f"camsign: {line}" for line in out.warned))
    if out.code:
        raise typer.Exit(out.code)


def _outs(
    asked: Asked, bounds: Bounds, call: Callable[[Bounds], Out[Any]]
) -> Iterator[tuple[str, Out[Any] | UsageError]]:
    """Give what each logbook answers, or why it cannot; a buck is found by his links too."""
    from camsign.answers.properties import known, named

    folders = named([find(path, Path.cwd()) for path in asked.logbooks])
    words = [bounds["buck"]] if bounds.get("buck") else bounds.get("bucks") or []
    who = known(folders) if words else None
    for name, one in folders.items():
        asked.logbook = one.root
        here = dict(bounds)
        if who is not None:
            meant = [who.word(name, word) for word in words]
            here |= {"buck": meant[0]} if bounds.get("buck") else {"bucks": meant}
        try:
            yield name, call(here)
        except UsageError as e:
            yield name, e
        finally:
            asked.logbook = None


def _leave_several(asked: Asked, answers: Iterable[tuple[str, Out[Any] | UsageError]]) -> None:
    """Print what several logbooks answered, each under its name, then leave with the worst code."""
    found: list[tuple[str, Out[Any]]] = []
    lost: list[UsageError] = []
    for name, out in answers:
        if isinstance(out, UsageError):
            lost.append(out)
            note(f"camsign: {name}: {out}")
            continue
        found.append((name, out))
        if asked.form == "table":
            tell([name, *_framed(out, asked.why), ""], asked.people)
        note(*(f"camsign: {name}: {line}" for line in out.warned))
    if not found:
        raise typer.Exit(lost[0].exit_code)
    if asked.form == "json":
        given = [(name, json_of(out.value)) for name, out in found]
        as_json([{"property": name} | (one if isinstance(one, dict) else {"rows": one})
                 for name, one in given])  # fmt: skip
    elif asked.form == "csv":
        tables = [(name, out.value) for name, out in found if isinstance(out.value, Answer)]
        rows = [{"property": name} | row for name, one in tables
                for row in one.to_records(flat=True)]  # fmt: skip
        put_csv(rows, ["property", *dict.fromkeys(c for _, one in tables for c in one.columns())])
    if code := max(out.code for _, out in found):
        raise typer.Exit(code)


def _behind_colon(said: str) -> str:
    """Begin a sentence small, unless with a name."""
    return lower_first(said) if said.startswith(("A buck ", "Can't ", "Probably ")) else said


def _framed(out: Out[Any], why: bool) -> Iterable[Block]:
    """Give an answer as people read it: said first, then the numbers, then why."""
    told = [out.told] if isinstance(out.told, str) else out.told
    answer = out.value
    if not isinstance(answer, Answer):
        yield from told
        return
    yield f"{out.of}: {_behind_colon(answer.said)}" if out.of else answer.said
    yield from told
    shown = answer.why if why else answer.why[:_REASONS]
    if shown:
        yield "Why"
        yield from (f"  {_sentence(line)}" for line in shown)
    if not why:
        yield "--why: the full reasons and the method"
        return
    yield from out.more
    yield f"How this was figured: {answer.method}."


def _sentence(line: str) -> str:
    """Write a reason as a sentence of its own."""
    return upper_first(line) + ("" if line.endswith((".", "?", "!")) else ".")


def code_of(left: Sized, taken: object) -> int:
    """Give the exit code of taking something in, by what was left out and whether any was taken."""
    return 0 if not left else ATTENTION if taken else REFUSED


def rows_of(kind: Any) -> Any:
    """Give the type of one row of a list type, None if it is no list."""
    return get_args(kind)[0] if get_origin(kind) in (list, tuple) else None
