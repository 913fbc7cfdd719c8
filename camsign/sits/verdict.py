"""Which stand tonight, as one sentence: the stand, the wind, the chance; then what is as good."""

from __future__ import annotations

from collections.abc import Sequence

from camsign.sits.evenings import Air
from camsign.sits.habits import Odds
from camsign.sits.rows import StandRow, chances
from camsign.sits.words import odds, scent_words
from camsign.units import UnitSystem, compass_word, format_length, upper_first

RISK = {"clean": 0, None: 1, "risky": 2, "blown": 3}


def headline(top: StandRow, wind: str, who: str) -> str:
    """The sentence that names the stand, the wind and the chance."""
    likely = "" if who == top.buck else f", most likely {top.buck}"
    chance = chances(top.any_chance.value or 0.0)
    return f"Sit {top.stand} {wind}: {chance} of {who} in range{likely}."


def who_of(found: Sequence[Odds], named: bool) -> str:
    """Whose chance it is: the one buck's that is known, else any mature one's, or any `named`."""
    names = {one.buck for one in found}
    anyone = "a buck you named" if named else "a mature buck"
    return names.pop() if len(names) == 1 else anyone


def wind_of(airs: Sequence[Air]) -> str:
    """Say the wind from the first hour of a sit to its last: `on a NW wind`."""
    toward = [air.scent.toward_deg for air in airs if air.scent.toward_deg is not None]
    if not toward:
        return "in still air"
    first, last = (compass_word((deg + 180) % 360) for deg in (toward[0], toward[-1]))
    if first == last:
        return f"on {'an' if first[0] == 'E' else 'a'} {first} wind"
    return f"as the wind turns from {first} to {last}"


def rivals_of(top: StandRow, rows: Sequence[StandRow]) -> str:
    """Say which stands are as good, or have better odds and what puts them second."""
    tied = [row for row in rows if row.stand in top.tied_with]
    better = [row for row in tied if _drawback(row, top) and _higher(row, top)]
    alike = [row for row in tied if row not in better]
    close = f" Too close to call with {_either(alike, top)}." if alike else ""
    return f"{close}{_second(better, top)}"


def clean_words(top: StandRow) -> str:
    """Say whether the scent at the stand, and on the walk in, gives one away."""
    scent = scent_words(top.scent, top.scent_chance)
    walk = scent_words(top.way_in_scent, top.way_in_scent_chance)
    if top.way_in is None:
        return f"Your scent is {scent} at the stand; your way in isn't drawn."
    if scent == walk:
        return f"Your scent is {scent} at the stand and on the walk in."
    return f"Your scent is {scent} at the stand, {walk or 'hard to call'} on the walk in."


def close_words(row: StandRow, units: UnitSystem) -> str | None:
    """Say of a stand or a walk in close to a bed what wind has no part in; None: none is close."""
    if row.close_area is None or row.close_m is None:
        return None
    far = f"{format_length(row.close_m, units)} from the edge of" if row.close_m else "inside"
    where = "the walk in passes" if row.close_walking else f"{row.stand} is"
    cure = "take another way in" if row.close_walking else "sit farther off"
    return (
        f"{where} {far} {row.close_area}: he may hear or see you come; go in early and quietly, or "
        f"{cure}"
    )


def close_told(row: StandRow, units: UnitSystem) -> str:
    """Give that as a sentence behind others, empty where none is close."""
    said = close_words(row, units)
    return f" {upper_first(said)}." if said else ""


def _higher(row: StandRow, top: StandRow) -> bool:
    """Whether a stand's odds are told as higher."""
    mine, best = row.any_chance.value or 0.0, top.any_chance.value or 0.0
    return mine > best and chances(mine) != chances(best)


def _drawback(row: StandRow, top: StandRow) -> str | None:
    """What alone puts a stand behind another one that is as good."""
    if RISK[row.way_in_scent] != RISK[top.way_in_scent]:
        worse = RISK[row.way_in_scent] > RISK[top.way_in_scent]
        walk = f"the walk in is {row.way_in_scent}" if row.way_in else "no way in is drawn"
        return walk if worse else None
    return f"the scent is {row.scent}" if RISK[row.scent] > RISK[top.scent] else None


def _second(rows: Sequence[StandRow], top: StandRow) -> str:
    """Why stands with better odds come second, those with one drawback together."""
    found: dict[str, list[StandRow]] = {}
    for row in rows:
        found.setdefault(str(_drawback(row, top)), []).append(row)
    said = ""
    for drawback, with_it in found.items():
        names = " and ".join(row.stand for row in with_it)
        each = dict.fromkeys(odds(row.any_chance.value).removeprefix("about ") for row in with_it)
        has = "has a bit better odds" if len(with_it) == 1 else "have a bit better odds"
        said += f" {names} {has} ({', '.join(each)}), but {drawback}."
    return said


def _either(tied: Sequence[StandRow], top: StandRow) -> str:
    """The stands that are as good, each with what speaks against it."""
    return " or ".join(
        f"{row.stand} (walk in: {row.way_in_scent})"
        if row.way_in is not None and RISK[row.way_in_scent] > RISK[top.way_in_scent]
        else row.stand
        for row in tied
    )
