"""What rests on a card being one camera's: whose serial number it bears, and fixes of clocks."""

from __future__ import annotations

from collections.abc import Sequence

from camsign.errors import quoted
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session


def fixes_resting(session: Session, cards: Sequence[str]) -> dict[str, tuple[str, ...]]:
    """Give, by camera, the fixes of its clock by which pictures of these cards go and that were
    saved since the cards have been its own: they may be worked out with these pictures."""
    rows = run_sql(session.con, __file__, "fixes_resting.sql", cards=list(cards)).fetchall()
    return {camera: tuple(fixes) for camera, fixes in rows}


def fixes_in_words(resting: dict[str, tuple[str, ...]]) -> list[str]:
    """Say of fixes, of `fixes_resting`, that they may be wrong now, and how to take them back."""
    told = []
    for camera, fixes in resting.items():
        away = ", ".join(f"camsign clock remove {fix}" for fix in fixes)
        told.append(
            f"{camera}'s clock was fixed while these pictures were {camera}'s. If they never were, "
            f"take that back: {away}; then check it again: camsign clock audit {quoted(camera)}"
        )
    return told


def rests_on(session: Session, act: str) -> list[str]:
    """Say which clock fixes may be wrong once an act that moved cards is undone."""
    moved = session.con.execute(
        "SELECT id FROM field_edits WHERE act = ? AND thing = 'card' AND field = 'camera'", [act]
    ).fetchall()
    return fixes_in_words(fixes_resting(session, [card for (card,) in moved]))


def serials_elsewhere(session: Session, card: str, camera: str) -> list[str]:
    """Say which serial numbers of a card are on other cards of other cameras, none of `camera`."""
    rows = session.con.execute(
        "WITH numbered AS (SELECT card, camera, unnest(serials) AS serial FROM cards_now)"
        " SELECT o.serial, list(DISTINCT o.camera ORDER BY o.camera) AS cameras FROM numbered o"
        " WHERE o.card <> $card AND o.serial IN (SELECT serial FROM numbered WHERE card = $card)"
        " GROUP BY o.serial HAVING NOT list_contains(cameras, $camera) ORDER BY o.serial",
        {"card": card, "camera": camera},
    ).fetchall()
    return [
        f"Serial number {serial} is on other cards of {' and '.join(cameras)}, none of {camera}: "
        "if that was a slip, camsign undo takes it back."
        for serial, cameras in rows
    ]
