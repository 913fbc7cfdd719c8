"""Cards that stand in the logbook."""

from __future__ import annotations

from typing import Annotated

import typer

cards_app = typer.Typer(help="Cards taken in.", no_args_is_help=True)
Card = Annotated[str, typer.Argument(help="A card's id, or its beginning.")]


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(cards_app, name="cards")
