"""Chances as people say them: about 1 day in 5, hardly ever, nearly always."""

from __future__ import annotations

from camsign.units import counted


def odds(value: float | None, low: float | None, high: float | None) -> str:
    """Write a chance on a day as people say it, with its interval, and the percent behind it."""
    if value is None:
        return "can't tell how often"
    percent = f"{value:.0%}" if value >= 0.02 else f"{value:.1%}"
    few, many = (one_in(x) for x in (low or 0.0, 1.0 if high is None else high))
    return f"{about(value, 'day')} (anywhere from {few} to {many}; {percent})"


def about(chance: float, of: str = "") -> str:
    """Write a chance: "about 1 in 5", or "about 1 day in 5"."""
    words = one_in(chance, of)
    return f"about {words}" if words[0].isdigit() else words


def one_in(chance: float, of: str = "") -> str:
    """Write a chance as people say it: "1 in 5", in tenths where that is too coarse."""
    if chance < 0.005:
        return "hardly ever"
    hits, tries = _fraction(chance)
    if hits == tries:
        return "nearly always"
    return f"{counted(hits, of)} in {tries}" if of else f"{hits} in {tries}"


def whole_tries(tries: float) -> int:
    """Round how many tries one success takes: nobody knows a chance to 1 in 62."""
    step = 1 if tries < 20.5 else 5 if tries < 52.5 else 10 if tries < 105 else 50
    return step * round(tries / step)


# Nobody says 2 in 7: a chance this near to 1 in so many, 2 in 3 or 3 in 4 is told so.
_NEAR = 0.03


def _fraction(chance: float) -> tuple[int, int]:
    least = max(int(1 / max(chance, 1e-3)), 2)
    tries = whole_tries(min((least, least + 1), key=lambda n: abs(1 / n - chance)))
    for hits, of in ((1, tries), (2, 3), (3, 4)):
        if abs(hits / of - chance) < _NEAR:
            return hits, of
    if abs(chance - 0.95) < _NEAR - 0.005:  # 9 in 10 and the 1 in 20 left would not make a whole
        return 19, 20
    tenths = round(10 * chance)
    return (1, 2) if tenths == 5 else (tenths, 10)
