"""One sign: looked at again, shown whole, joined with its copy, moved, removed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.asked import length
from camsign.cli.command import Out, command
from camsign.cli.show import Block, Table, bearing, listed
from camsign.cli.show import at as placed
from camsign.cli.signs import sign_app
from camsign.cli.things import says
from camsign.derive.opening import catch_up
from camsign.logbook.session import Session
from camsign.logbook.things import SIGN
from camsign.sign.one_sign import SignShown, narrowed, sign_shown
from camsign.sign.record import SignSaid, move_sign, remove_sign, same_sign
from camsign.sign.said import note_look
from camsign.sign.size import Evidence
from camsign.units import UnitSystem, format_bearing, format_length

if TYPE_CHECKING:
    from camsign.sign.duplicate_signs import Alike


__all__ = ["sign_app"]


@dataclass(frozen=True, slots=True)
class SignGone:
    """A sign that was taken out."""

    sign: str


@dataclass(frozen=True, slots=True)
class SignMoved:
    """A sign and where it is now [deg, WGS 84]."""

    sign: str
    lat: float
    lon: float


Sign = Annotated[str, typer.Argument(help="The sign's id, from `camsign sign list`.")]


@says(sign_app, SIGN, "again")
def _again(session: Session, **said: Any) -> Out[SignSaid]:
    done = note_look(session, **said)
    catch_up(session)  # other looks at it may narrow when it was made
    done = narrowed(session, done)
    return Out(done, [f"{done.kind} {done.sign}, looked at on {done.seen_on}.", done.read_as])


@command(sign_app, "show")
def show_sign(session: Session, sign: Sign) -> Out[SignShown]:
    """One sign: every look at it, and how big a buck made it."""
    shown = sign_shown(session, sign)
    return Out(shown, _shown(shown, session.settings.units))


@command(sign_app, "alike", csv=True)
def alike_signs(
    session: Session,
    within: Annotated[str, typer.Option(metavar="LENGTH", help="At most so far apart.")] = "5m",
) -> Out[list[Alike]]:
    """Sign so close together that it may be one. `sign same` joins two."""
    from camsign.sign.duplicate_signs import alike

    units, rows = session.settings.units, alike(session, length(session, within))
    columns = {"sign": "sign", "other": "and", "kind": "kind", "distance_m": "apart"}
    columns |= {"seen_on": "seen", "other_seen_on": "and"}
    none = "no likely doubles"
    apart = {"distance_m": lambda row: format_length(row.distance_m, units)}
    return Out(rows, listed(rows, columns, none, **apart))


@says(sign_app, SIGN, "same")
def _same(session: Session, sign: str, other: str) -> Out[SignShown]:
    kept = same_sign(session, sign, other)
    catch_up(session)
    shown = sign_shown(session, kept)
    return Out(shown, [f"{sign} is {kept} now.", *_shown(shown, session.settings.units)])


@says(sign_app, SIGN, "move")
def _move(session: Session, sign: str, at: tuple[float, float]) -> Out[SignMoved]:
    moved = move_sign(session, sign, at)
    return Out(SignMoved(moved, *at), f"{moved} is at {placed(*at)} now.")


@says(sign_app, SIGN, "remove")
def _remove(session: Session, sign: str) -> Out[SignGone]:
    gone = remove_sign(session, sign)
    return Out(SignGone(gone), f"Removed {gone}.")


def _measured(measures: Mapping[str, Any], units: UnitSystem) -> str:
    return ", ".join(_measure(name, value, units) for name, value in measures.items())


def _measure(name: str, value: Any, units: UnitSystem) -> str:
    """Write one measure by its kept name, which says its unit: `top_m` 0.99 as `top 39 in`."""
    if name.endswith("_m"):
        return f"{_plain(name, '_m')} {format_length(value, units, small=True)}"
    if name.endswith("_deg"):
        return f"{_plain(name, '_deg')} {format_bearing(value)}"
    return f"{_plain(name)} {_value(value)}"


def _plain(name: str, unit: str = "") -> str:
    return name.removesuffix(unit).replace("_", " ")


def _value(value: Any) -> str:
    if isinstance(value, list):
        return " ".join(value)
    return ("yes" if value else "no") if isinstance(value, bool) else f"{value:g}"


def _evidence(evidence: Evidence) -> str:
    if evidence.if_mature is None or evidence.if_young is None:
        return f"{evidence.words}, {evidence.assumes} (hunters' rule of thumb)"
    return (
        f"{evidence.words}: on {evidence.if_mature:.0%} of mature bucks' rubs, on "
        f"{evidence.if_young:.0%} of younger ones' (hunters' rule of thumb)"
    )


def _shown(shown: SignShown, units: UnitSystem) -> Iterator[Block]:
    tree = f" on {shown.species}" if shown.species else ""
    whose = f", a {shown.bed_of}'s" if shown.bed_of in ("buck", "doe") else ""
    yield f"{shown.kind} {shown.sign}{whose}{tree} at {placed(shown.lat, shown.lon)}"
    if shown.note:
        yield f"note: {shown.note}"
    head = (
        "seen",
        "look",
        "travel",
        "you wrote",
        "made from",
        "to",
        "how we know",
        "measures",
        "note",
    )
    rows = [
        (k.seen_on, k.state, bearing(k.travel_deg), k.taken_as, k.made_from, k.made_to, k.basis,
         _measured(k.measures, units), k.note)
        for k in shown.looks
    ]  # fmt: skip
    yield Table(head, rows)
    if shown.traditional:
        yield (f"Made in {shown.seasons} seasons: traditional.")
    if shown.habit:
        whose = f"{shown.buck}'s" if shown.buck else "whose is not known"
        yield (f"It shows the habit {shown.habit}, {whose}.")
    yield from map(_evidence, shown.evidence)
