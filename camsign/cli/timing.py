"""The question of the hour: when is a buck near an area?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.bounds import Area, Bounds, bounded, scope
from camsign.cli.figures import chance, clock, lengths, plainly, share, shown
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Json, put_table, say

if TYPE_CHECKING:
    from camsign.answers.chances import BackTest, Span
    from camsign.answers.when import When

_SPANS = 4
# Brier scores closer than this share of the average's say nothing.
_ALIKE = 0.02


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.command()(when)


@bounded()
def when(
    context: typer.Context,
    bounds: Bounds,
    buck: Annotated[str, typer.Argument(help="A buck's name or id.")],
    area: Area,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """When is this buck near this area, by the sun?"""
    from camsign.answers import when as answers

    with logbook(context) as session:
        units = session.settings.units
        answer = answers.when(session, scope(session, bounds, [buck], [area]))
    if not plainly(answer, as_json, as_csv):
        head = ("when", "camera", "daylight", "from sunrise", "from sunset", "from the edge")
        rows = [
            (
                v.local,
                v.camera,
                v.in_daylight,
                clock(v.minutes_from_sunrise),
                clock(v.minutes_from_sunset),
                lengths(units, v.distance_m),
            )
            for v in answer.visits
        ]
        shown(head, rows, answer)
        _tell(answer)


def _tell(answer: When) -> None:
    if answer.visits:
        say(f"By daylight: {share(answer.daylight)} of his visits.")
    if answer.last_seen:
        since = answer.days_since_last
        ago = f", {since} days before the watch ended" if since else ""
        say(f"Last seen {answer.last_seen:%Y-%m-%d %H:%M}{ago}.")
    if not answer.by_part:
        return
    say(f"Chance of a daylight visit on a day: {chance(answer.daylight_chance)} over these days.")
    parts = [(p.part, p.days, p.seen, chance(p.chance)) for p in answer.by_part]
    put_table(("part", "days watched", "with one", "chance on a day"), parts)
    spans = [(_hour(s), s.days, chance(s.chance)) for s in answer.best_spans[:_SPANS]]
    put_table(("best hours", "days with a visit", "chance on a day"), spans)
    if answer.back_test:
        say(*_tested(answer.back_test))


def _hour(span: Span) -> str:
    """Write an hour around sunrise or sunset."""
    first, last = span.from_minutes // 60, span.to_minutes // 60
    if last <= 0:
        return f"{-first} h before {span.anchor}" + (f" to {-last} h before" if last else " to it")
    return (
        f"{span.anchor} to {last} h after"
        if not first
        else f"{first} to {last} h after {span.anchor}"
    )


def _tested(test: BackTest) -> list[str]:
    """Say what forecasts with last week's knowledge would have been worth."""
    if test.forecast is None or test.happened is None or not test.days:
        return ["Back-test: too few days watched to try forecasts."]
    brier, plain = test.brier or 0.0, test.brier_of_mean or 0.0
    if abs(brier - plain) <= _ALIKE * plain:
        worth = "no better and no worse than"
    else:
        worth = "better than" if brier < plain else "worse than"
    lines = [
        f"Back-test, with what was known a week before: on {test.days} days the chance said was "
        f"{100 * test.forecast:.0f} % on average, and it happened on {100 * test.happened:.0f} %.",
        f"Its squared error of {brier:.3f} is {worth} the {plain:.3f} of always saying the share "
        "of days so far.",
    ]
    return lines + [
        f"  said {100 * one.forecast:.0f} %: happened {share(one.happened)}"
        for one in test.calibration
    ]
