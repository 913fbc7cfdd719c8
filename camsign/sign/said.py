"""Sign as people say it: words for a look, turned into what the sign log keeps."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from camsign.errors import UsageError
from camsign.logbook.session import Session
from camsign.sign.aging import ABSENT
from camsign.sign.heading import SaidHeading, parse_heading
from camsign.sign.kinds import parse_measures, sign_kind
from camsign.sign.record import SaidSighting, SignSaid, add_sign, look_again, standing_sign
from camsign.units import Bearing


def note_sign(
    session: Session,
    kind: str,
    at: tuple[float, float],
    on: date,
    species: str | None = None,
    note: str | None = None,
    bed_of: str | None = None,
    **look: Any,
) -> SignSaid:
    """Note a sign as people say it: `look` as for `seen_of`, the rest as for `add_sign`."""
    word = sign_kind(kind)
    return add_sign(session, word, at, seen_of(session, word, on, **look), species, note, bed_of)


def note_look(
    session: Session, sign: str, on: date, bed_of: str | None = None, **look: Any
) -> SignSaid:
    """Note another look as people say it: `look` as for `seen_of`, else as for `look_again`."""
    kind = standing_sign(session, sign)[1]
    return look_again(session, sign, seen_of(session, kind, on, **look), bed_of)


def seen_of(
    session: Session,
    kind: str,
    on: date,
    travel: str | None = None,
    bare: Bearing | None = None,
    state: str | None = None,
    measures: Sequence[str] = (),
    seen_note: str | None = None,
    absent: bool = False,
) -> SaidSighting:
    """Give what was seen on a day: `travel` such as NE or `bare SW`, `measures` such as top=38in.

    Raises:
        UsageError: it says two things of one, or a measure is none.
    """
    if travel and bare:
        raise UsageError("a rub's travel and its bare side say the same", "give one of them")
    if absent and (state or travel or bare or measures):
        raise UsageError("what was not there has no look, bearing or measures", "leave them out")
    heading = SaidHeading(bare, bare=True) if bare else parse_heading(travel) if travel else None
    said = dict(text.partition("=")[::2] for text in measures)
    if nameless := next((name for name, value in said.items() if not name or not value), None):
        raise UsageError(f"the measure {nameless!r} has no value", "write it as top=38in")
    taken = parse_measures(kind, said, session.settings)
    look = ABSENT if absent else state
    return SaidSighting(on, look, heading, measures=taken, note=seen_note)
