"""One sign: looked at again, shown whole, joined with its copy, moved, removed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.bounds import length
from camsign.cli.figures import bearing, lengths
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing, put_json, put_table, say
from camsign.cli.signs import sign_app
from camsign.cli.things import Told, says
from camsign.logbook.things import SIGN

if TYPE_CHECKING:
    from camsign.logbook.session import Session
    from camsign.sign.one_sign import SignShown
    from camsign.sign.size import Evidence
    from camsign.units import UnitSystem

Sign = Annotated[str, typer.Argument(help="The sign's id, from `camsign sign list`.")]


def register(_: typer.Typer) -> None:
    """Add this family's commands to those of sign."""
    sign_app.command("show")(show_sign)
    sign_app.command("alike")(alike_signs)


@says(sign_app, SIGN, "again")
def _again(session: Session, **said: Any) -> Told:
    from camsign.derive.opening import catch_up
    from camsign.sign.one_sign import narrowed
    from camsign.sign.said import note_look

    done = note_look(session, **said)
    catch_up(session)  # other looks at it may narrow when it was made
    done = narrowed(session, done)
    return done, [f"{done.kind} {done.sign}, looked at on {done.seen_on}.", done.read_as]


def show_sign(context: typer.Context, sign: Sign, as_json: Json = False) -> None:
    """One sign with every look at it, and what it says of its maker's size."""
    from camsign.sign.one_sign import sign_shown

    with logbook(context) as session:
        shown, units = sign_shown(session, sign), session.settings.units
    if as_json:
        put_json(shown)
        return
    _show(shown, units)


def alike_signs(
    context: typer.Context,
    within: Annotated[str, typer.Option(metavar="LENGTH", help="At most so far apart.")] = "5m",
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Signs of a kind so close together that they may be one; `sign same` joins two."""
    from camsign.sign.duplicate_signs import alike

    with logbook(context) as session:
        units = session.settings.units
        rows = alike(session, length(session, within))
    columns = {"sign": "sign", "other": "and", "kind": "kind", "distance_m": "apart"}
    columns |= {"seen_on": "seen", "other_seen_on": "and"}
    wanted, none = form(as_json, as_csv), "no two signs of a kind lie so near"
    if wanted is not Form.TABLE:
        listing(rows, columns, wanted)
        return
    cells = [asdict(row) | {"distance_m": lengths(units, row.distance_m)} for row in rows]
    listing(cells, columns, wanted, none)


@says(sign_app, SIGN, "same")
def _same(session: Session, sign: str, other: str) -> Told:
    from camsign.derive.opening import catch_up
    from camsign.sign.one_sign import sign_shown
    from camsign.sign.record import same_sign

    kept = same_sign(session, sign, other)
    catch_up(session)
    shown = sign_shown(session, kept)
    say_all = partial(_show, shown, session.settings.units, f"{sign} is {kept} now.")
    return shown, say_all


@says(sign_app, SIGN, "move")
def _move(session: Session, sign: str, at: tuple[float, float]) -> Told:
    from camsign.sign.record import move_sign

    moved = move_sign(session, sign, at)
    return {
        "sign": moved,
        "lat": at[0],
        "lon": at[1],
    }, f"{moved} is at {at[0]:.5f},{at[1]:.5f} now."


@says(sign_app, SIGN, "remove")
def _remove(session: Session, sign: str) -> Told:
    from camsign.sign.record import remove_sign

    gone = remove_sign(session, sign)
    return {"sign": gone}, f"Removed {gone}."


def _show(shown: SignShown, units: UnitSystem, *before: str) -> None:
    say(*before)
    tree = f" on {shown.species}" if shown.species else ""
    whose = f", a {shown.bed_of}'s" if shown.bed_of in ("buck", "doe") else ""
    say(f"{shown.kind} {shown.sign}{whose}{tree} at {shown.lat:.5f},{shown.lon:.5f}")
    if shown.note:
        say(f"note: {shown.note}")
    head = ("seen", "look", "travel", "taken as", "made from", "to", "because", "measures", "note")
    rows = [
        (k.seen_on, k.state, bearing(k.travel_deg), k.taken_as, k.made_from, k.made_to, k.basis,
         _measured(k.measures, units), k.note)
        for k in shown.looks
    ]  # fmt: skip
    put_table(head, rows)
    if shown.traditional:
        say(f"Made in {shown.seasons} seasons: traditional.")
    if shown.habit:
        whose = f"{shown.buck}'s" if shown.buck else "whose is not known"
        say(f"It shows the habit {shown.habit}, {whose}.")
    for evidence in shown.evidence:
        say(_evidence(evidence))


def _measured(measures: Mapping[str, Any], units: UnitSystem) -> str:
    return ", ".join(_measure(name, value, units) for name, value in measures.items())


def _measure(name: str, value: Any, units: UnitSystem) -> str:
    """Write one measure by its kept name, which says its unit: `top_m` 0.99 as `top 39 in`."""
    from camsign.units import format_bearing, format_length

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
        return f"{evidence.words}, {evidence.assumes} (common practice, no source)"
    return (
        f"{evidence.words}: on {evidence.if_mature:.0%} of mature bucks' rubs, on "
        f"{evidence.if_young:.0%} of younger ones' (common practice, no source)"
    )
