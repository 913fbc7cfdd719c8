"""The question of the hour: when is a buck near an area?"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.bounds import Area, Bounds, bounded, scope
from camsign.cli.figures import chance, clock, in_days, lengths, plainly, share, shown
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
        say(*_answered(answer))
        head = ("when", "camera", "light", "from sunrise", "from sunset", "from the edge")
        rows = [
            (
                v.local,
                v.camera,
                v.light,
                clock(v.minutes_from_sunrise),
                clock(v.minutes_from_sunset),
                lengths(units, v.distance_m),
            )
            for v in answer.visits
        ]
        shown(head, rows, answer)
        _tell(answer)


def _answered(answer: When) -> list[str]:
    """Say the answer first: how likely a picture of him in shooting light is, and the best hour."""
    odds = answer.shooting_light_chance
    where = f"{answer.buck} at {answer.area}"
    if odds.value is None:
        return [f"Can't tell yet when {where}: no day covered and sorted in these days."]
    lines = [f"You'd get a picture of {where} in shooting light {in_days(odds)}."]
    if answer.best_spans and answer.best_spans[0].days:
        best = answer.best_spans[0]
        lines.append(f"Best hour: {_hour(best)}, {in_days(best.chance)}.")
    return lines


def _tell(answer: When) -> None:
    if answer.visits:
        say(
            f"{answer.day} visits by day, {answer.gray} in gray light, {answer.dark} in the dark; "
            f"in shooting light: {share(answer.shooting_light)}."
        )
    if answer.last_seen:
        since = answer.days_since_last
        ago = f", {since} days before the watch ended" if since else ""
        say(f"Last seen {answer.last_seen:%Y-%m-%d %H:%M}{ago}.")
    if not answer.by_part:
        return
    for word, parts in (("phase", answer.by_part), ("month", answer.by_month)):
        if parts != answer.by_month or word == "month":
            rows = [(p.part, p.days, p.seen, chance(p.chance)) for p in parts if p.days]
            put_table((word, "days covered", "with a picture", "chance on a day"), rows)
    spans = [(_hour(s), s.days, chance(s.chance)) for s in answer.best_spans[:_SPANS]]
    put_table(("best hours", "days with a visit", "chance on a day"), spans)
    if answer.back_test:
        say(*_tested(answer.back_test))


def _hour(span: Span) -> str:
    """Write an hour around sunrise or sunset."""
    first, last = span.from_minutes, span.to_minutes
    return f"{_minutes(first, span.anchor)} to {_minutes(last, span.anchor)}"


def _minutes(minutes: int, anchor: str) -> str:
    if not minutes:
        return anchor
    hours, rest = divmod(abs(minutes), 60)
    said = " ".join(x for x in (f"{hours} h" if hours else "", f"{rest} min" if rest else "") if x)
    return f"{said} {'before' if minutes < 0 else 'after'} {anchor}"


def _tested(test: BackTest) -> list[str]:
    """Say what forecasts with last week's knowledge would have been worth."""
    if test.forecast is None or test.happened is None or not test.days:
        return ["Not enough days covered to check forecasts."]
    brier, plain = test.brier or 0.0, test.brier_of_mean or 0.0
    if abs(brier - plain) <= _ALIKE * plain or brier > plain:
        worth = "No better than his average so far."
    else:
        worth = "Better than his average so far."
    lines = [
        f"Checked against {test.days} days with what was known a week before: we'd have said "
        f"{100 * test.forecast:.0f} %; it was {100 * test.happened:.0f} %. {worth}",
    ]
    return lines + [
        f"  said {100 * one.forecast:.0f} %: happened {share(one.happened)}"
        for one in test.calibration
    ]
