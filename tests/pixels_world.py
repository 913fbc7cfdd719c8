"""Logbooks with glances for the tests of what pixels say: rendered frames, no picture files."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime

import cv2
import numpy as np
from derive_world import frame_id
from scenes import Shot, season

from camsign.logbook import folder
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.far import Progress
from camsign.logbook.parquet import RowFile
from camsign.logbook.receipts import FILE, Receipt
from camsign.logbook.records import FrameFacts, Look
from camsign.logbook.session import Session
from camsign.pixels.changes import Change, Glanced, changes
from camsign.pixels.decode import Reduced
from camsign.pixels.glance import pack
from camsign.pixels.look import look
from camsign.pixels.news_cache import take
from camsign.pixels.scores import THRESHOLDS, empty_score
from camsign.pixels.scoring import carry_out, plan


def score_frames(session: Session, progress: Progress | None = None) -> int:
    """Bring all scores up to date in one session; how many frames were compared anew."""
    done = carry_out(plan(session), progress)
    take(session)
    return done


def glance_of(shot: Shot) -> bytes:
    return pack(
        shot.pixels if shot.light == "colour" else cv2.cvtColor(shot.pixels, cv2.COLOR_BGR2GRAY)
    )


def rows_of(shots: Sequence[Shot], nothing: Collection[int] = ()) -> list[Change]:
    """What `changes` says of each shot of one deployment, light by light; which shots, by number,
    had been tagged as nothing."""
    out: dict[int, Change] = {}
    for light in ("colour", "infrared"):
        idx = [i for i, s in enumerate(shots) if s.light == light]
        begin = shots[0].at
        frames = [
            Glanced(
                str(i), (s.at - begin).total_seconds(), str(s.burst), glance, nothing=i in nothing
            )
            for i, s, glance in ((i, shots[i], glance_of(shots[i])) for i in idx)
        ]
        out |= dict(zip(idx, changes(frames), strict=True))
    return [out[i] for i in range(len(shots))]


def fates(lights: Sequence[str], found: Sequence[Change]) -> list[str]:
    """What becomes of each frame of one card, as the table empty_scores says it: shown, held for
    itself, on the sheet with the whole card, or aside."""
    empty = [empty_score(r.news, THRESHOLDS[li]) > 0.5 for li, r in zip(lights, found, strict=True)]
    goes = [e and not r.comes_back for e, r in zip(empty, found, strict=True)]
    out = []
    for light, e, go in zip(lights, empty, goes, strict=True):
        mine = [g for li, g in zip(lights, goes, strict=True) if li == light]
        alone = "aside" if 4 * sum(mine) <= 3 * len(mine) else "sheet"
        out.append("shown" if not e else alone if go else "held")
    return out


def put_shots(
    book: folder.Folder,
    card: str,
    camera: str,
    shots: Sequence[Shot],
    taken_in: str = "2031-01-01T12:00:00Z",
) -> list[str]:
    """Place a card of rendered shots (looks with glances, no files); give its frames' ids."""
    names = [f"DCIM/100CAMS/IMG_{i:04d}.JPG" for i in range(1, len(shots) + 1)]
    shas = [frame_id(card, n) for n in names]
    facts = [
        FrameFacts(
            frame=sha[:16], sha256=sha, file=f"files/{name}", card_path=name, bytes=1000,
            kind="jpeg", shown=s.at.isoformat(timespec="seconds"), width=320, height=240,
        )
        for s, name, sha in zip(shots, names, shas, strict=True)
    ]  # fmt: skip
    looks = [
        look(sha[:16], Reduced(np.asarray(s.pixels, np.uint8), 320, 240))
        for s, sha in zip(shots, shas, strict=True)
    ]
    place = book.cards / f"card-{card}"
    place.mkdir()
    for record, rows, file in ((FrameFacts, facts, FRAMES), (Look, looks, LOOKS)):
        with RowFile(record) as out:
            out.add(rows)
            out.write(place / file, ["frame"])
    receipt = Receipt(
        card=card, camera=camera, known_by="said", folder=place.name,
        taken_in=taken_in, source="test", files=len(facts), new=len(facts), known=0,
    )  # fmt: skip
    (place / FILE).write_bytes(receipt.to_bytes())
    return [f.frame for f in facts]


def few(seed: int, triggers: int = 40, **about: object) -> list[Shot]:
    """A small deployment."""
    return list(season(seed, triggers=triggers, **about))  # type: ignore[arg-type]


def at(day: int, hour: int) -> datetime:
    return datetime(2030, 10, day, hour)
