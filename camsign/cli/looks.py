"""One sign: looked at again, shown whole, joined with its copy, moved, removed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.bounds import length
from camsign.cli.figures import bearing, lengths
from camsign.cli.opened import logbook
from camsign.cli.show import Csv, Form, Json, form, listing, put_json, put_table, say
from camsign.cli.signs import (
    Bare,
    BedOf,
    Measures,
    Note,
    State,
    Travel,
    heading_of,
    pairs,
    sign_app,
)

if TYPE_CHECKING:
    from camsign.sign.one_sign import SignShown
    from camsign.sign.size import Evidence
    from camsign.units import UnitSystem

Sign = Annotated[str, typer.Argument(help="The sign's id, from `camsign sign list`.")]


def register(_: typer.Typer) -> None:
    """Add this family's commands to those of sign."""
    sign_app.command("again")(look_again)
    sign_app.command("show")(show_sign)
    sign_app.command("alike")(alike_signs)
    sign_app.command("same")(same_sign)
    sign_app.command("move")(move_sign)
    sign_app.command("remove")(remove_sign)


def look_again(
    context: typer.Context,
    sign: Sign,
    on: Annotated[str, typer.Option(metavar="DAY", help="When it was looked at.")],
    absent: Annotated[bool, typer.Option("--absent", help="It was not there.")] = False,
    travel: Travel = None,
    bare: Bare = None,
    state: State = None,
    measure: Measures = None,
    bed_of: BedOf = None,
    remark: Note = None,
    as_json: Json = False,
) -> None:
    """Note another look at a sign; absent on one day and there on the next, it was made between."""
    from camsign.errors import UsageError
    from camsign.sign import record
    from camsign.sign.ageing import ABSENT
    from camsign.sign.kinds import parse_measures
    from camsign.sign.one_sign import narrowed, sign_shown
    from camsign.units import parse_day

    heading = heading_of(travel, bare)
    if absent and (state or heading or measure):
        raise UsageError("what was not there has no look, bearing or measures", "leave them out")
    with logbook(context) as session:
        kind = sign_shown(session, sign).kind
        said = parse_measures(kind, pairs(measure or []), session.settings)
        look = ABSENT if absent else state
        seen = record.SaidSighting(parse_day(on), look, heading, measures=said, note=remark)
        done = record.look_again(session, sign, seen, bed_of)
    with logbook(context) as session:
        done = narrowed(session, done)
    if as_json:
        put_json(done)
        return
    say(f"{done.kind} {done.sign}, looked at on {done.seen_on}.", done.read_as)


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


def same_sign(
    context: typer.Context,
    sign: Sign,
    other: Annotated[str, typer.Argument(help="The sign that it is; this id stays.")],
    as_json: Json = False,
) -> None:
    """Say that two signs are one, such as a rub marked anew in another season."""
    from camsign.sign.one_sign import sign_shown
    from camsign.sign.record import same_sign as join

    with logbook(context) as session:
        kept = join(session, sign, other)
    with logbook(context) as session:
        shown, units = sign_shown(session, kept), session.settings.units
    if as_json:
        put_json(shown)
        return
    say(f"{sign} is {kept} now.")
    _show(shown, units)


def move_sign(
    context: typer.Context,
    sign: Sign,
    at: Annotated[str, typer.Option(metavar="LAT,LON", help="Where it is.")],
    as_json: Json = False,
) -> None:
    """Put a sign elsewhere."""
    from camsign.sign.record import move_sign as move
    from camsign.units import parse_lat_lon

    with logbook(context) as session:
        place = parse_lat_lon(at)
        moved = move(session, sign, place)
    if as_json:
        put_json({"sign": moved, "lat": place[0], "lon": place[1]})
        return
    say(f"{moved} stands at {place[0]:.5f},{place[1]:.5f} now.")


def remove_sign(context: typer.Context, sign: Sign, as_json: Json = False) -> None:
    """Take a sign out of every answer; `camsign undo` brings it back."""
    from camsign.sign.record import remove_sign as remove

    with logbook(context) as session:
        gone = remove(session, sign)
    if as_json:
        put_json({"sign": gone})
        return
    say(f"Removed {gone}.")


def _show(shown: SignShown, units: UnitSystem) -> None:
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
