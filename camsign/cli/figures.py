"""How the numbers of an answer are written for people, and the frame around every answer."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from camsign.cli.show import Form, form, note, put_csv, put_json, put_table, say

if TYPE_CHECKING:
    from camsign.answers.result import Answer, Figure
    from camsign.units import UnitSystem


def number(figure: Figure | None, places: int = 1) -> str:
    """Write a figure with its interval."""
    if figure is None or figure.value is None:
        return "–"
    value = f"{figure.value:.{places}f}"
    if figure.low is None and figure.high is None:
        return value
    low = "0" if figure.low is None else f"{figure.low:.{places}f}"
    high = "no limit" if figure.high is None else f"{figure.high:.{places}f}"
    return f"{value} ({low}–{high})"


def share(figure: Figure) -> str:
    """Write a share in percent, with its interval and how many it rests on."""
    if figure.value is None:
        return "–"
    many = "" if figure.n is None else f", n {figure.n}"
    return f"{100 * figure.value:.0f} % ({_percents(figure)}{many})"


def chance(figure: Figure) -> str:
    """Write a chance in percent with its interval."""
    if figure.value is None:
        return "–"
    alone = f"{100 * figure.value:.0f} %"
    return alone if figure.low is None else f"{alone} ({_percents(figure)})"


def in_days(figure: Figure) -> str:
    """Write a chance on a day as people say odds: "about 1 day in 6 (…), 17 %"."""
    from camsign.answers.result import odds

    return odds(figure.value, figure.low, figure.high)


def _percents(figure: Figure) -> str:
    return "–".join(f"{100 * (x or 0):.0f}" for x in (figure.low, figure.high))


def clock(minutes: float | None) -> str:
    """Write minutes before (−) or after (+) as hours and minutes."""
    if minutes is None:
        return "–"
    whole = round(abs(minutes))
    return f"{'−' if minutes < 0 else '+'}{whole // 60}:{whole % 60:02d}"


def bearing(deg: float | None) -> str:
    """Write a bearing, letters first."""
    from camsign.units import format_bearing

    return "–" if deg is None else format_bearing(deg)


def lengths(units: UnitSystem, metres: float | None) -> str:
    """Write a length in a logbook's units."""
    from camsign.units import format_length

    if metres is None:
        return "–"
    return format_length(metres, units)


def plainly(answer: Answer, as_json: bool, as_csv: bool) -> bool:
    """Show an answer to another program, if that is wanted."""
    wanted = form(as_json, as_csv)
    if wanted is Form.JSON:
        put_json(answer.to_json())
    elif wanted is Form.CSV:
        put_csv(answer.to_records(flat=True), answer.columns())
    return wanted is not Form.TABLE


def shown(head: tuple[str, ...], rows: list[tuple[Any, ...]], answer: Any) -> None:
    """Show an answer to people: its table, its reasons, and on stderr how it was computed."""
    if rows:
        put_table(head, rows)
    say(*answer.why)
    note(f"How computed: {answer.method}.")
