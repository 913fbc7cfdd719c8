"""Cameras that were moved, for a whole logbook: found on glances, kept in the cache.

As with scores the logbook is open only briefly: `plan_moves` (open), `find_moves` (closed), then
`moved_cameras` (open) reads what was found. What one deployment gives in one light is a small file,
named by what went in, so that only what is new is computed and a cache that is gone is made again.
"""

from __future__ import annotations

import json
import secrets
from collections.abc import Callable, Sequence
from concurrent.futures import Executor
from contextlib import closing
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import partial
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING, Any

from camsign import systems
from camsign.logbook.cardfacts import LOOKS
from camsign.logbook.database import PARQUET, one_file, sparing_memory, sql_beside
from camsign.logbook.folder import Folder
from camsign.logbook.moments import local
from camsign.logbook.versions import version_of
from camsign.pixels.changes import Glanced
from camsign.pixels.viewmoves import ViewMove, moves_among
from camsign.pixels.workers import in_order

if TYPE_CHECKING:
    from camsign.logbook.session import Session

LOOKS_FOR = "camsign.pixels.viewmoves"
"""What finds moves: what another version of it found is looked for anew."""

_AHEAD = 64  # tasks of another executor


@dataclass(frozen=True, slots=True)
class MovedCamera:
    """A camera's view was another one from some time on.

    It happened after `after`, the last picture of the old view, and before `before`, the first of
    the new one; local times with offset. kind, right, down, turn_deg: as in
    `camsign.pixels.viewmoves.ViewMove`.
    """

    camera: str
    deployment: str | None
    after: datetime
    before: datetime
    kind: str
    right: float
    down: float
    turn_deg: float

    @property
    def words(self) -> str:
        """When and by how much, for people."""
        span = f"{self.after:%Y-%m-%d %H:%M} and {self.before:%Y-%m-%d %H:%M}"
        what = "was covered or turned away" if self.kind == "covered" else "got bumped"
        return f"{what} between {span}: {self.amount}"

    @property
    def amount(self) -> str:
        """By how much, in words and in shares of the picture."""
        if self.kind == "covered":
            return "nothing of its old view is left"
        parts = [
            _share(self.right, "to the right", "to the left"),
            _share(self.down, "down", "up"),
            f"turned {abs(self.turn_deg):.0f}° {'clockwise' if self.turn_deg > 0 else 'back'}"
            if self.kind == "turned"
            else "",
        ]
        return "what it sees moved " + ", ".join(p for p in parts if p)


def _share(share: float, ahead: str, back: str) -> str:
    return f"{abs(share):.0%} {ahead if share > 0 else back}" if abs(share) >= 0.005 else ""


@dataclass(frozen=True, slots=True)
class MovePlan:
    """Where to look: by name, the frames in order and the folders of their cards."""

    wanted: tuple[tuple[str, tuple[str, ...], tuple[Path, ...]], ...]
    store: Path


def store_of(folder: Folder) -> Path:
    """Give the cache folder of what was found."""
    return folder.cache / "moves"


def plan_moves(session: Session, cameras: Sequence[str] | None = None) -> MovePlan:
    """Find where moves have not been looked for yet; nothing is written."""
    store = store_of(session.folder)
    there = {p.stem for p in store.glob("*.json")} if store.is_dir() else set()
    _lay_samples(session, cameras)
    rows = session.con.execute(
        "SELECT made, list(frame ORDER BY seconds, frame), list(DISTINCT folder ORDER BY folder) "
        "FROM samples GROUP BY made ORDER BY made"
    ).fetchall()
    cards = session.folder.cards
    return MovePlan(
        tuple(
            (made, tuple(frames), tuple(cards / name for name in folders))
            for made, frames, folders in rows
            if made not in there
        ),
        store,
    )


def find_moves(
    planned: MovePlan,
    each: Callable[[], None] | None = None,
    executor: Executor | None = None,
) -> int:
    """Look for moves and keep what is found; the logbook need not be open.

    Args:
        planned: where.
        each: is called before each deployment and light; what it raises ends the work.
        executor: looks, one deployment and light a task; by default they are gone through here.

    Returns:
        How many deployments and lights were looked through.

    Raises:
        OSError: the cache cannot be written.
    """
    tasks = [partial(_found, frames, cards) for _, frames, cards in planned.wanted]
    results = in_order(executor, tasks, _AHEAD) if executor else (task() for task in tasks)
    with closing(results):
        for made, frames, _ in planned.wanted:
            if each is not None:
                each()
            found = next(results)
            planned.store.mkdir(parents=True, exist_ok=True)
            lines = [asdict(m) | {"last": frames[m.last], "first": frames[m.first]} for m in found]
            temp = planned.store / f".{made}-{secrets.token_hex(4)}"
            temp.write_text(json.dumps(lines), encoding="utf-8")
            systems.replace(temp, planned.store / f"{made}.json")
    return len(planned.wanted)


def _found(frames: Sequence[str], cards: Sequence[Path]) -> list[ViewMove]:
    looks = [one_file(card / LOOKS) for card in cards if (card / LOOKS).is_file()]
    with sparing_memory() as con:
        found = con.execute(
            f"SELECT frame, glance, numbers FROM {PARQUET} "
            "WHERE frame IN (SELECT unnest(?::VARCHAR[]))",
            [looks, list(frames)],
        ).fetchall()
    by_frame = {frame: (glance, numbers) for frame, glance, numbers in found}
    return moves_among([Glanced(f, 0.0, f, *by_frame.get(f, (b"", "{}"))) for f in frames])


def moved_cameras(session: Session, camera: str | None = None) -> list[MovedCamera]:
    """Give the moves that were found, by camera and time; only one camera's if it is named.

    What color and infrared pictures both show is given once, in the narrower span of time.
    """
    store = store_of(session.folder)
    if not any(_kept(path) for path in sorted(store.glob("*.json"))):
        return []  # the frames need not be gone through
    _lay_samples(session, None if camera is None else [camera])
    rows = session.con.execute(
        "SELECT DISTINCT camera, deployment, place, shape, light, made FROM samples ORDER BY ALL"
    ).fetchall()
    when = dict(session.con.execute("SELECT frame, utc FROM samples").fetchall())
    out: list[MovedCamera] = []
    tz = session.settings.tz
    for (name, deployment, _, _), lights in groupby(rows, key=lambda row: row[:4]):
        found: list[MovedCamera] = []
        for *_, made in lights:
            for move in _kept(store / f"{made}.json"):
                after, before = (local(when[move.pop(k)], tz) for k in ("last", "first"))
                found.append(MovedCamera(name, deployment, after, before, **move))
        out += _once(found)
    return sorted(out, key=lambda m: (m.camera, m.before))


def _kept(path: Path) -> list[dict[str, Any]]:
    try:
        found: list[dict[str, Any]] = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):  # not looked for yet
        return []
    return found


def _once(found: Sequence[MovedCamera]) -> list[MovedCamera]:
    """Join moves whose spans overlap; color comes first and gives the amount."""
    out: list[MovedCamera] = []
    for move in found:
        for i, other in enumerate(out):
            after, before = max(move.after, other.after), min(move.before, other.before)
            if after < before:
                known = move if other.kind == "covered" else other
                out[i] = replace(known, after=after, before=before)
                break
        else:
            out.append(move)
    return out


def _lay_samples(session: Session, cameras: Sequence[str] | None) -> None:
    sql = sql_beside(__file__, "samples.sql")
    given = {
        "cameras": None if cameras is None else list(cameras),
        "version": version_of(LOOKS_FOR),
    }
    session.con.execute(sql, given)
