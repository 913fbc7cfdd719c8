"""Habits: rubs whose marks recur, and the buck whose they may be."""

from __future__ import annotations

from dataclasses import dataclass

import typer

from camsign.cli.command import Out, command
from camsign.cli.show import listed
from camsign.cli.things import says
from camsign.logbook.session import Session
from camsign.logbook.things import HABIT
from camsign.sign import habits as rooms
from camsign.sign.habits import Habit, HabitProposal, give_habit, link_rubs, unlink_rubs
from camsign.units import counted


@dataclass(frozen=True, slots=True)
class Unlinked:
    """The rubs that show no habit any more."""

    signs: list[str]


habit_app = typer.Typer(help="Rubs that look like one buck's work.", no_args_is_help=True)


@says(habit_app, HABIT, "link")
def _link(session: Session, habit: str, rubs: list[str]) -> Out[Habit]:
    done = link_rubs(session, rubs, habit)
    return Out(done, f"{done.name}: {counted(len(done.signs), 'rub')} ({done.habit}).")


@says(habit_app, HABIT, "unlink")
def _unlink(session: Session, rubs: list[str]) -> Out[Unlinked]:
    gone = unlink_rubs(session, rubs)
    return Out(Unlinked(gone), f"Taken out of their habits: {counted(len(gone), 'rub')}.")


@says(habit_app, HABIT, "give")
def _give(session: Session, habit: str, buck: str | None = None) -> Out[Habit]:
    done = give_habit(session, habit, buck)
    none = f"No buck is known for {done.name}."
    return Out(done, f"{done.name} is {done.buck}'s." if done.buck else none)


@command(habit_app, "list", csv=True)
def list_habits(session: Session) -> Out[list[Habit]]:
    """Habits by name, with their rubs and whose they are."""
    rows = rooms.habits(session)
    columns = {"name": "habit", "buck": "buck", "signs": "rubs", "habit": "id"}
    return Out(rows, listed(rows, columns, "no habit yet", signs=lambda h: len(h.signs)))


@command(habit_app, "propose", csv=True)
def propose(session: Session) -> Out[list[HabitProposal]]:
    """Marks that show up on many rubs. Nothing is linked by this."""
    rows = rooms.propose_habits(session)
    told = [
        f"{', '.join(row.marks)}: on {len(row.signs)} rubs, where chance would give "
        f"{row.expected:.1f} (p = {row.p:.2g}): {' '.join(row.signs)}"
        for row in rows
    ]
    return Out(rows, told or "No mark shows up on three rubs or more.")
