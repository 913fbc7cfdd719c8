"""Habits: rubs whose marks recur, and the buck whose they may be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import typer

from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing, say
from camsign.cli.things import Told, says
from camsign.logbook.things import HABIT

if TYPE_CHECKING:
    from camsign.logbook.session import Session

habit_app = typer.Typer(
    help="Handwriting: rubs whose marks recur, and whose they may be.", no_args_is_help=True
)


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(habit_app, name="habit")


@says(habit_app, HABIT, "link")
def _link(session: Session, habit: str, rubs: list[str]) -> Told:
    from camsign.answers.result import counted
    from camsign.sign.habits import link_rubs

    done = link_rubs(session, rubs, habit)
    return done, f"{done.name}: {counted(len(done.signs), 'rub')} ({done.habit})."


@says(habit_app, HABIT, "unlink")
def _unlink(session: Session, rubs: list[str]) -> Told:
    from camsign.answers.result import counted
    from camsign.sign.habits import unlink_rubs

    gone = unlink_rubs(session, rubs)
    return {"signs": gone}, f"Taken out of their habits: {counted(len(gone), 'rub')}."


@says(habit_app, HABIT, "give")
def _give(session: Session, habit: str, buck: str | None = None) -> Told:
    from camsign.sign.habits import give_habit

    done = give_habit(session, habit, buck)
    return (
        done,
        f"{done.name} is {done.buck}'s." if done.buck else f"No buck is known for {done.name}.",
    )


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
