"""Habits: rubs whose marks recur, and the buck whose they may be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

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


def _unlink(session: Session, rubs: list[str]) -> Unlinked:
    return Unlinked(unlink_rubs(session, rubs))


def _given(done: Habit, *_: Any) -> str:
    return f"{done.name} is {done.buck}'s." if done.buck else f"No buck is known for {done.name}."


says(habit_app, HABIT, "link", link_rubs,
     lambda it, *_: f"{it.name}: {counted(len(it.signs), 'rub')} ({it.habit}).")  # fmt: skip
says(habit_app, HABIT, "unlink", _unlink,
     lambda done, *_: f"Taken out of their habits: {counted(len(done.signs), 'rub')}.")  # fmt: skip
says(habit_app, HABIT, "give", give_habit, _given)


@command(habit_app, "list", csv=True)
def list_habits(session: Session) -> Out[list[Habit]]:
    """Habits by name, with their rubs and whose they are."""
    rows = rooms.habits(session)
    return Out(rows, listed(rows, {
        "habit": "name", "buck": "buck", "rubs": lambda h: len(h.signs), "id": "habit",
    }, "no habit yet"))  # fmt: skip


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
