"""The first words of the command line, in families in the order of the work.

A command is loaded when it is called, not before: it may import what it needs at its top, and a
quick one waits for no other. Help reads what each says from its module's text.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Any

import typer
from typer.core import TyperCommand, TyperGroup
from typer.main import get_group

_MOST = 200  # letters: the whole first sentence
# Each word's module under camsign.cli, and the command or family in it.
FAMILIES = {
    "Start": {
        "init": "starting.init",
        "browse": "browse.browse",
        "demo": "demonstration.demo",
    },
    "Cameras and cards": {
        "hang": "hanging.hang_app",
        "takedown": "hanging.takedown",
        "outage": "hanging.outage",
        "deployments": "hanging.deployments",
        "ingest": "intake.ingest",
        "cards": "cards.cards_app",
        "clock": "clocks.clock_app",
    },
    "Pictures and bucks": {
        "frames": "frames.frames",
        "look": "pixels.look",
        "tag": "tagging.tag",
        "untag": "tagging.untag",
        "buck": "bucks.buck_app",
    },
    "Sign and the ground": {
        "import": "handheld.take_files",
        "sign": "signs.sign_app",
        "habit": "habits.habit_app",
        "area": "areas.area_app",
        "place": "areas.place_app",
        "ground": "land.ground_app",
        "wind": "land.wind_app",
        "underlay": "underlays.underlay_app",
    },
    "Answers": {
        "bedding": "bedding.bedding",
        "where": "where.where",
        "visits": "visits.visits",
        "when": "when.when",
        "rivals": "rivals.rivals",
        "makers": "makers.makers",
        "near": "near.near",
        "compare": "compare.compare",
        "lately": "lately.lately",
    },
    "Where to sit": {
        "tonight": "tonight.tonight",
        "sit": "sits.sit_app",
        "review": "sits.review",
        "hang-next": "sits.hang_next",
    },
    "To keep, print, hand on": {
        "map": "drawing.draw",
        "chart": "drawing.chart",
        "report": "drawing.report",
        "form": "drawing.form",
        "export": "handing.export_app",
    },
    "The logbook itself": {
        "undo": "starting.undo",
        "history": "starting.history",
        "verify": "upkeep.verify",
        "backup": "upkeep.backup",
        "thin": "upkeep.thin",
        "merge": "upkeep.merge",
        "rebuild": "starting.rebuild",
    },
    "Questions of your own": {
        "sql": "sql.sql",
        "lake": "lake.lake_app",
    },
}
WORDS = {word: where for members in FAMILIES.values() for word, where in members.items()}


class Families(TyperGroup):
    """All commands, by their first word."""

    def __init__(self, **given: Any) -> None:
        super().__init__(**given)
        self.commands = dict.fromkeys(WORDS)  # type: ignore[assignment]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Load a command or family by its word; None if there is none."""
        return _loaded(cmd_name) if cmd_name in WORDS else None

    def make_context(self, *given: Any, **more: Any) -> Any:
        """Read the words before a command; what does not fit is said in plain words."""
        with _plainly():
            return super().make_context(*given, **more)

    def invoke(self, ctx: Any) -> Any:
        """Run a command, or say in plain words what it still needs."""
        with _plainly():
            return super().invoke(ctx)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """Write each family under its title, every command with its whole sentence."""
        wide = max(map(len, WORDS))
        for title, members in FAMILIES.items():
            alone = [TyperCommand(word.ljust(wide), help=help_of(word)) for word in members]
            with formatter.section(title):
                formatter.write_dl([(one.name, one.get_short_help_str(_MOST)) for one in alone])


@contextmanager
def _plainly() -> Iterator[None]:
    try:
        yield
    except typer.TyperException as e:
        from camsign.cli.misused import in_plain_words

        told = in_plain_words(e)
        if told is None:
            raise
        raise told from e


@cache
def _loaded(word: str) -> Any:
    module, name = WORDS[word].split(".")
    found = getattr(import_module(f"camsign.cli.{module}"), name)
    alone = typer.Typer(rich_markup_mode=None)
    if isinstance(found, typer.Typer):
        alone.add_typer(found, name=word)
    else:
        alone.command(word)(found)
    alone.callback()(lambda: None)  # so that it is a group, and gives the command as one of many
    return get_group(alone).commands[word]


def help_of(word: str) -> str:
    """Give the help of a command or family, read from its module's text."""
    module, name = WORDS[word].split(".")
    tree = ast.parse(Path(__file__).with_name(f"{module}.py").read_text(encoding="utf-8"))
    for node in tree.body:
        if isinstance(node, ast.FunctionDef) and node.name == name:
            return ast.get_docstring(node) or ""
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == name:
            (said,) = (k.value for k in getattr(node.value, "keywords", ()) if k.arg == "help")
            return str(ast.literal_eval(said))
    raise LookupError(word)
