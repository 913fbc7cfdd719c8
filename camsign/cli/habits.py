"""Habits: rubs whose marks recur, and the buck whose they may be."""

from __future__ import annotations

from typing import Annotated

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing, put_json, say

habit_app = typer.Typer(
    help="Handwriting: rubs whose marks recur, and whose they may be.", no_args_is_help=True
)
Name = Annotated[str, typer.Argument(help="The habit's name or id.")]
Rubs = Annotated[list[str], typer.Argument(help="Rubs, by their ids from `camsign sign list`.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(habit_app, name="habit")


@habit_app.command("link")
def link(context: typer.Context, habit: Name, rubs: Rubs, as_json: Json = False) -> None:
    """Say that rubs show one habit; a new name begins one."""
    from camsign.answers.result import counted
    from camsign.sign import habits as rooms

    with logbook(context) as session:
        done = rooms.link_rubs(session, rubs, habit)
    if as_json:
        put_json(done)
        return
    say(f"{done.name}: {counted(len(done.signs), 'rub')} ({done.habit}).")


@habit_app.command("unlink")
def unlink(context: typer.Context, rubs: Rubs, as_json: Json = False) -> None:
    """Say that rubs show no habit after all."""
    from camsign.answers.result import counted
    from camsign.sign import habits as rooms

    with logbook(context) as session:
        gone = rooms.unlink_rubs(session, rubs)
    if as_json:
        put_json({"signs": gone})
        return
    say(f"Taken out of their habits: {counted(len(gone), 'rub')}.")


@habit_app.command("give")
def give(
    context: typer.Context,
    habit: Name,
    buck: Annotated[str | None, typer.Argument(help="Whose it is; none: nobody known.")] = None,
    as_json: Json = False,
) -> None:
    """Say whose habit it is; `camsign makers` then weighs it for him."""
    from camsign.sign import habits as rooms

    with logbook(context) as session:
        done = rooms.give_habit(session, habit, buck)
    if as_json:
        put_json(done)
        return
    say(f"{done.name} is {done.buck}'s." if done.buck else f"Whose {done.name} is is not known.")


@habit_app.command("list")
def list_habits(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Habits by name, with their rubs and whose they are."""
    from camsign.sign import habits as rooms

    with logbook(context) as session:
        rows = rooms.habits(session)
    wanted = form(as_json, as_csv)
    if wanted is not Form.TABLE:
        listing(rows, {"habit": "", "name": "", "buck": "", "signs": ""}, wanted)
        return
    cells = [{"name": h.name, "buck": h.buck, "rubs": len(h.signs), "id": h.habit} for h in rows]
    columns = {"name": "habit", "buck": "buck", "rubs": "rubs", "id": "id"}
    listing(cells, columns, wanted, "no habit yet")


@habit_app.command("propose")
def propose(context: typer.Context, as_json: Json = False, as_csv: Csv = False) -> None:
    """Marks that recur on rubs more often than by chance; nothing is linked by this."""
    from camsign.sign import habits as rooms

    with logbook(context) as session:
        rows = rooms.propose_habits(session)
    wanted = form(as_json, as_csv)
    if wanted is not Form.TABLE:
        listing(rows, {"marks": "", "signs": "", "expected": "", "p": ""}, wanted)
        return
    for row in rows:
        say(
            f"{', '.join(row.marks)}: on {len(row.signs)} rubs, where chance would give "
            f"{row.expected:.1f} (p = {row.p:.2g}): {' '.join(row.signs)}"
        )
    if not rows:
        say("no marks recur on three or more rubs beyond chance")
