"""What the logbook knows before a card comes in: its frames, cameras, serial numbers, answers.

Loaded in one brief opening, so that nothing is locked while a card is read. Of the frames only
those as large as a file on the cards: no other can be on them, and they are few in any logbook.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence, Set
from dataclasses import dataclass, field, replace
from typing import Any

from camsign.logbook import naming, receipts
from camsign.logbook.cardfacts import FRAMES
from camsign.logbook.database import PARQUET, in_memory, one_file, run_sql
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session

SAID = "said"
"""How `known_by` begins when a person said whose card it is."""


@dataclass(frozen=True, slots=True)
class Hanging:
    """A span in which a camera hung, as ISO 8601 text in UTC; `until` is "" while it still does."""

    camera: str
    since: str
    until: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What a person once answered: a card that says `signature` was `camera`'s."""

    signature: str
    camera: str
    card: str


@dataclass(frozen=True, slots=True)
class KnownFrame:
    """A frame that the logbook holds: whose it is, and its file inside the logbook."""

    camera: str
    file: str


@dataclass(frozen=True, slots=True)
class Known:
    """What the logbook knows. Cameras by their ID; `by_serial` and `models` name cameras.

    `before`: each writer's last line (its number and act), and the card that came in last (its id,
    folder and camera), for the next receipt.

    `frames`: by their 16 hex digits, only of the sizes asked for; `sizes`: theirs [bytes].
    """

    cameras: tuple[str, ...] = ()
    by_serial: Mapping[str, Set[str]] = field(default_factory=dict)
    models: Mapping[str, Set[str]] = field(default_factory=dict)
    hanging: tuple[Hanging, ...] = ()
    answers: tuple[Answer, ...] = ()
    frames: Mapping[str, KnownFrame] = field(default_factory=dict)
    sizes: Set[int] = frozenset()
    cards: Mapping[str, str] = field(default_factory=dict)
    before: Mapping[str, Any] = field(default_factory=dict)

    def spelled(self, said: str) -> str:
        """Give a camera's ID in the spelling that the logbook has for it, or as it was said."""
        same = (c for c in self.cameras if naming.key(c) == naming.key(said))
        return next(same, " ".join(said.split()))


def load(session: Session, sizes: Collection[int]) -> Known:
    """Read it from an open logbook. `Known.cards` maps a card's id to its folder.

    Args:
        session: the open logbook.
        sizes: of the files that may be known [bytes].
    """
    con = session.con
    by_serial, models = _units(session)
    cameras = run_sql(con, __file__, "cameras.sql").fetchall()
    hanging = run_sql(con, __file__, "hanging.sql").fetchall()
    cards = con.execute("SELECT card, folder, camera, known_by FROM cards_now").fetchall()
    known = run_sql(con, __file__, "known_frames.sql", sizes=list(sizes)).fetchall()
    return Known(
        cameras=tuple(c for (c,) in cameras),
        by_serial=by_serial,
        models=models,
        hanging=tuple(Hanging(*row) for row in hanging),
        answers=_answers(session, cards),
        frames={frame: KnownFrame(camera, file) for frame, camera, file, _ in known},
        sizes={size for *_, size in known},
        cards={card: folder for card, folder, _, _ in cards},
        before=_before(session),
    )


def _before(session: Session) -> dict[str, Any]:
    con = session.con
    said = con.execute(
        "SELECT writer, max(n), arg_max(act, n) FROM acts GROUP BY writer"
    ).fetchall()
    last = con.execute(
        "SELECT card, folder, camera FROM cards ORDER BY taken_in_utc DESC, folder DESC LIMIT 1"
    ).fetchone()
    found: dict[str, Any] = {"lines": {writer: [n, act] for writer, n, act in sorted(said)}}
    return found | ({"card": list(last)} if last else {})


def _units(session: Session) -> tuple[dict[str, set[str]], dict[str, set[str]]]:
    """Cameras by serial number, and models by camera: from cards as they stand and from words."""
    by_serial: dict[str, set[str]] = {}
    models: dict[str, set[str]] = {}
    for camera, what, value in run_sql(session.con, __file__, "units.sql").fetchall():
        if what == "serial":
            by_serial.setdefault(value, set()).add(camera)
        else:
            models.setdefault(camera, set()).add(value)
    return by_serial, models


def _answers(session: Session, cards: list[tuple[str, str, str, str]]) -> tuple[Answer, ...]:
    """Read what people answered from the receipts of the cards for which somebody was asked."""
    answers = []
    for card, folder, camera, known_by in cards:
        if not known_by.startswith(SAID):
            continue
        receipt = receipts.read_if_whole(session.folder.cards / folder / receipts.FILE)
        for signature in receipt.more.get("answered", []) if receipt else ():
            answers.append(Answer(str(signature), camera, card))
    return tuple(answers)


def learn(known: Known, folder: Folder, names: Sequence[str], sizes: Collection[int]) -> Known:
    """Add cards that just came to stand under these names; the logbook is not opened for it."""
    for name in names:
        receipt = receipts.read(folder.cards / name / receipts.FILE)
        camera, signatures = receipt.camera, receipt.more.get("answered", [])
        with in_memory() as con:
            rows = con.execute(
                f"SELECT frame, concat('cards/', ?, '/', file), bytes FROM {PARQUET}"
                " WHERE NOT known AND bytes IN (SELECT unnest(?::BIGINT[]))",
                [name, one_file(folder.cards / name / FRAMES), list(sizes)],
            ).fetchall()
        serials = {s: {*known.by_serial.get(s, ()), camera} for s in receipt.serials}
        known = replace(
            known,
            cameras=tuple(sorted({*known.cameras, camera})),
            by_serial={**known.by_serial, **serials},
            models={**known.models, camera: {*known.models.get(camera, ()), *receipt.models}},
            answers=(*known.answers, *(Answer(str(s), camera, receipt.card) for s in signatures)),
            frames={**known.frames, **{frame: KnownFrame(camera, at) for frame, at, _ in rows}},
            sizes={*known.sizes, *(size for *_, size in rows)},
            cards={**known.cards, receipt.card: name},
            before={**known.before, "card": [receipt.card, name, camera]},
        )
    return known
