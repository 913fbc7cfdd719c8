"""The sign log."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camsign.cli.asked import length
from camsign.cli.command import Out, code_of, command
from camsign.cli.reading import MOST_TOLD, Anywhere, Columns, Day, choices, columns_of
from camsign.cli.show import Block, Table, bearing, first_of, heading, lengths, listed
from camsign.cli.show import at as placed
from camsign.cli.things import says
from camsign.derive.opening import refresh
from camsign.formats.gpx import write_gpx
from camsign.logbook.session import Session
from camsign.logbook.things import SIGN
from camsign.sign import record
from camsign.sign.kinds import BUCK_BED_M, looks_like_bucks, measure_words
from camsign.sign.lines import SURE, LineRow, line_tracks, sign_lines
from camsign.sign.one_sign import SignShown, narrowed, sign_shown
from camsign.sign.record import (
    SignRow,
    SignSaid,
    move_sign,
    note_look,
    note_sign,
    remove_sign,
    same_sign,
    seen_of,
)
from camsign.sign.size import Evidence
from camsign.units import UnitSystem, format_length

if TYPE_CHECKING:
    from camsign.flows.fieldwork.sign_tables import SignTaken
    from camsign.sign.duplicate_signs import Alike


Season = Annotated[int | None, typer.Option(help="Only made in this season.")]
sign_app = typer.Typer(help="Rubs, scrapes, beds and other sign.", no_args_is_help=True)


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


def _noted(done: SignSaid, session: Session, said: Mapping[str, Any]) -> list[str]:
    from camsign.sign.duplicate_signs import already_there

    lines = [f"{done.kind} {done.sign} at {placed(done.lat, done.lon)}, seen {done.seen_on}."]
    lines += [done.read_as] if done.read_as else []
    if other := already_there(session, done.kind, (done.lat, done.lon)):
        lines.append(f"You have a {done.kind} there already ({other}). The same one? "
                     f"camsign sign same {done.sign} {other} makes them one.")  # fmt: skip
    if done.kind == "bed" and not said.get("bed_of"):
        look = seen_of(session, "bed", done.seen_on, measures=said.get("measures", ()))
        lines += ask_whose(done.sign, look.measures, session.settings.units)
    return lines


says(sign_app, SIGN, "add", note_sign, _noted)


def ask_whose(sign: str, measures: Mapping[str, Any], units: UnitSystem) -> list[str]:
    """Ask whose bed it is, and say what its length suggests."""
    lines = [f"Buck or doe? If you can tell: camsign sign again {sign} --on DAY --of buck"]
    if looks_like_bucks("bed", None, measures):
        long = format_length(BUCK_BED_M, units, small=True)
        lines.insert(0, f"{long} or longer: likely a buck's bed (hunters' rule of thumb).")
    return lines


@command(sign_app, "import", attention="a row was refused", refused="every row was refused")
def import_sign(
    session: Session,
    file: Annotated[Path, typer.Argument(help="A CSV table, or GPX, KML or GeoJSON points.")],
    on: Day = None,
    column: Columns = None,
    anywhere: Anywhere = False,
) -> Out[SignTaken]:
    """Load sign from a file. The same file again adds nothing."""
    from camsign.flows.fieldwork.sign_tables import import_sign as take_in

    how = choices(on, anywhere)
    taken = take_in(session, file, columns_of(column), how.on, how.anywhere)
    told = f"Sign: {taken.new} new, {taken.changed} changed, {taken.known} known already."
    code = code_of(taken.refused, taken.new or taken.changed or taken.known)
    left = first_of([*taken.refused, *taken.notes], MOST_TOLD)
    return Out(taken, told, warned=left, code=code)


@command(sign_app, "list", csv=True)
def list_sign(
    session: Session,
    kind: Annotated[str | None, typer.Option(help="Only this kind.")] = None,
    season: Season = None,
    species: Annotated[str | None, typer.Option(help="Only on such a tree.")] = None,
) -> Out[list[SignRow]]:
    """List sign: when it was seen, and when made."""
    rows = record.signs(session, kind, season, species)
    told = listed(rows, {
        "sign": "sign", "kind": "kind", "seen": "seen_on", "made from": "made_from",
        "to": "made_to", "travel": lambda row: bearing(row.travel_deg), "tree": "species",
        "look": "state",
    }, "no sign yet")  # fmt: skip
    return Out(rows, told, rows=record.as_records(rows))


@command(sign_app, "lines", csv=True)
def lines(
    session: Session,
    season: Season = None,
    gpx: Annotated[
        Path | None, typer.Option(metavar="FILE.gpx", help="Write the lines as tracks to walk.")
    ] = None,
    doubtful: Annotated[
        bool, typer.Option("--doubtful", help="Also lines no longer than chance gives.")
    ] = False,
) -> Out[list[LineRow]]:
    """Rub lines: where he comes from, where he goes."""
    found = sign_lines(session, season, doubtful=True)
    rows = [row for row in found if doubtful or row.by_chance <= SURE]
    if gpx:
        with gpx.open("w", encoding="utf-8") as stream:
            write_gpx([], line_tracks(rows), stream)
    return Out(rows, _lines(rows, len(found), session.settings.units))


def _lines(rows: list[LineRow], found: int, units: UnitSystem) -> Iterator[Block]:
    yield from listed(rows, {
        "line": "line", "rubs": "rubs", "heading (95%)": lambda row: heading(row.heading_deg),
        "odds it's luck": lambda row: f"{round(20 * row.by_chance)} in 20",
        "length": lambda row: lengths(units, row.length_m),
        "rubs facing back": "against", "between": "by_name",
        "from": lambda row: placed(*row.came_from), "to": lambda row: placed(*row.goes_to),
    }, "no lines of rubs")  # fmt: skip
    if len(rows) < found:
        yield f"{found - len(rows)} more may be luck: --doubtful shows them too."


def _again(session: Session, **said: Any) -> SignSaid:
    done = note_look(session, **said)
    refresh(session)  # other looks at it may narrow when it was made
    return narrowed(session, done)


def _same(session: Session, sign: str, other: str) -> SignShown:
    kept = same_sign(session, sign, other)
    refresh(session)
    return sign_shown(session, kept)


def _move(session: Session, sign: str, at: tuple[float, float]) -> SignMoved:
    return SignMoved(move_sign(session, sign, at), *at)


def _remove(session: Session, sign: str) -> SignGone:
    return SignGone(remove_sign(session, sign))


def _joined(shown: SignShown, session: Session, said: Mapping[str, Any]) -> list[Block]:
    return [f"{said['sign']} is {shown.sign} now.", *_shown(shown, session.settings.units)]


def _looked(done: SignSaid, session: Session, *_: Any) -> list[str]:
    other = next((
        look.travel_deg for look in sign_shown(session, done.sign).looks
        if look.seen_on == done.seen_on and look.sighting != done.sighting
        and None not in (look.travel_deg, done.travel_deg) and look.travel_deg != done.travel_deg
    ), None)  # fmt: skip
    lines = [f"{done.kind} {done.sign}, looked at on {done.seen_on}.", done.read_as]
    if other is not None:
        lines.append(f"You also have {bearing(other)} from that day, and both count. Is one wrong? "
                     f"camsign undo takes this one back; or camsign sign remove {done.sign}, "
                     "then add it again.")  # fmt: skip
    return lines


says(sign_app, SIGN, "again", _again, _looked)


@command(sign_app, "show")
def show_sign(
    session: Session,
    sign: Annotated[str, typer.Argument(help="The sign's id, from `camsign sign list`.")],
) -> Out[SignShown]:
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
    head = ("sign", "and", "kind", "apart", "seen", "and")
    cells = [(one.sign, one.other, one.kind, format_length(one.distance_m, units), one.seen_on,
              one.other_seen_on) for one in rows]  # fmt: skip
    return Out(rows, [Table(head, cells)] if rows else "no likely doubles")


says(sign_app, SIGN, "same", _same, _joined)
says(sign_app, SIGN, "move", _move,
     lambda done, *_: f"{done.sign} is at {placed(done.lat, done.lon)} now.")  # fmt: skip
says(sign_app, SIGN, "remove", _remove, lambda done, *_: f"Removed {done.sign}.")


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
    yield from listed(shown.looks, {
        "seen": "seen_on", "look": "state", "travel": lambda k: bearing(k.travel_deg),
        "you wrote": "taken_as", "made from": "made_from", "to": "made_to", "how we know": "basis",
        "measures": lambda k: ", ".join(measure_words(*one, units) for one in k.measures.items()),
        "note": "note",
    })  # fmt: skip
    if shown.traditional:
        yield (f"Made in {shown.seasons} seasons: traditional.")
    if shown.habit:
        whose = f"{shown.buck}'s" if shown.buck else "whose is not known"
        yield (f"It shows the habit {shown.habit}, {whose}.")
    yield from map(_evidence, shown.evidence)
