"""Options that several commands share: of which frames, and how a file is to be read."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from camsign.errors import UsageError
from camsign.units import DayOrInstant, parse_day, parse_when

if TYPE_CHECKING:
    from camsign.flows.fieldwork.sign_tables import Choices

MOST_TOLD = 40

Day = Annotated[
    str | None, typer.Option("--on", metavar="DAY", help="The day, for rows without one.")
]
Anywhere = Annotated[
    bool, typer.Option("--anywhere", help="Accept it even if it's over 600 miles (1,000 km) away.")
]
Columns = Annotated[
    list[str] | None,
    typer.Option(metavar="THEIRS=OURS", help="What a table's column means: Y=lat."),
]
Frames = Annotated[list[str] | None, typer.Argument(help="Frames by 12 or more hex digits.")]
Camera = Annotated[str | None, typer.Option(help="Only this camera's.")]
First = Annotated[str | None, typer.Option("--from", metavar="WHEN", help="Not before this.")]
Last = Annotated[str | None, typer.Option("--to", metavar="WHEN", help="Not after this.")]


def span(first: str | None, last: str | None) -> tuple[DayOrInstant | None, DayOrInstant | None]:
    """Read the ends of a span of time, open where none is given.

    Raises:
        UsageError: one is no time, or they run backward.
    """
    start, stop = (parse_when(text) if text else None for text in (first, last))
    if start and stop and stop.moment < start.moment:
        raise UsageError(f"the days run backward, from {first} to {last}", "swap --from and --to")
    return start, stop


def choices(
    on: str | None,
    anywhere: bool = False,
    photo_direction: bool = False,
    photo_kind: str | None = None,
) -> Choices:
    """Give the options as one. Raises UsageError if the day is none."""
    from camsign.flows.fieldwork.sign_tables import Choices

    return Choices(parse_day(on) if on else None, anywhere, photo_direction, photo_kind)


def columns_of(given: list[str] | None) -> dict[str, str]:
    """Give what columns mean, from THEIRS=OURS. Raises UsageError if one is not so written."""
    found = {}
    for text in given or []:
        theirs, _, ours = text.rpartition("=")
        if not theirs.strip() or not ours.strip():
            raise UsageError(f"the column {text!r} says nothing", "write it as Y=lat")
        found[theirs.strip()] = ours.strip()
    return found
