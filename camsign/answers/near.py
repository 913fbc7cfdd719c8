"""Which detections lie near which sign, in distance and in time?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any, ClassVar

import pandas as pd

from camsign.answers.bucks import bucks_of
from camsign.answers.reach import reach_of, watch_by_name, watching_of
from camsign.answers.result import (
    ABSENCE,
    SPARE,
    Answer,
    Watch,
    listed,
    nothing_watched,
    plain,
    reasons,
)
from camsign.answers.scope import Scope, check_kept
from camsign.answers.unsorted import but_unsorted_at, waiting_at
from camsign.errors import UsageError
from camsign.logbook.database import run_sql
from camsign.logbook.session import Session
from camsign.units import counted, format_length, lower_first

METHOD = (
    "detections of animals joined to sign by the geodesic distance from camera to sign (Karney "
    "2013) and by days outside the sign's made window"
)

# Up to so many rows they come by time, frame and sign; sorting more would cost more than the join.
ORDERED = 200_000
_DEER = {"male": "a buck without a name", "female": "a doe"}
# A frame that shows several animals has as many rows.
_IN_ORDER = ["utc", "frame", "sign", "buck_id", "species", "sex"]


def nameless(species: str | None, sex: str | None) -> str:
    """Say who is in a picture where nobody named him, by as much as was tagged."""
    kind = species or "animal"
    known = _DEER.get(sex or "") if kind == "deer" else None
    return known or f"{'an' if kind[0] in 'aeiou' else 'a'} {kind}"


@dataclass(frozen=True, slots=True)
class NearRow:
    """One picture of an animal and one sign near it; the columns of the table, for its readers.

    `buck`, `buck_id`: None if nobody named him; `utc` is aware; `bearing_deg`: from the camera to
    the sign; `days`: outside the made window, 0 inside; `species`, `sex` as tagged.
    """

    frame: str
    buck: str | None
    buck_id: str | None
    utc: datetime
    sign: str
    kind: str
    distance_m: float
    bearing_deg: float
    days: int
    species: str | None
    sex: str | None


@dataclass(frozen=True, slots=True, eq=False)
class Near(Answer):
    """The joined rows as a table, since there may be millions of them; names are categories.

    Up to 200,000 rows come by time, frame and sign, more in no order.

    Columns: `frame` (16 hex digits), `buck`, `buck_id` (None if unidentified), `utc` (aware),
    `sign`, `kind`, `distance_m`, `bearing_deg` (from camera to sign), `days` (0 inside the made
    window), `species`, `sex` as tagged. `watch` by camera if areas narrow the question or nothing
    was found, else empty. `whose`: the bucks asked for by name. `signless`: why there was no sign
    to join.
    """

    ROW: ClassVar[type] = NearRow

    table: pd.DataFrame
    watch: dict[str, Watch]
    method: str
    why: tuple[str, ...]
    whose: tuple[str, ...] | None = field(default=None, metadata=SPARE)
    signless: str | None = field(default=None, metadata=SPARE)

    def to_records(self, flat: bool = False) -> list[dict[str, Any]]:
        """Give the rows as dicts; `flat` changes nothing, for every cell is single."""
        columns = [self.table[name].astype(object) for name in self.table.columns]
        cells = [column.where(column.notna(), None).tolist() for column in columns]
        names = list(self.table.columns)
        return [dict(zip(names, row, strict=True)) for row in zip(*cells, strict=True)]

    @property
    def said(self) -> str:
        """Say in a sentence whose pictures were near the most sign."""
        if self.table.empty:
            return self._nothing()
        signs = self.table.groupby("buck", observed=True)["sign"].nunique().astype(int)
        many = counted(self.table["sign"].nunique(), "piece") + " of sign"
        if signs.empty:
            return (
                f"Deer were pictured near {many} while it was made, no buck among them with a name."
            )
        his = "Being near a rub doesn't make it his."
        if self.whose is not None:  # of others nothing was read
            each = [f"{who} was pictured near {counted(n, 'piece')}" for who, n in signs.items()]
            return f"{listed(each)} of sign. {his}"
        best = counted(int(signs.max()), "piece") + " of sign"
        return (
            f"{signs.idxmax()} was near {best}, the most of any buck; deer were pictured near "
            f"{many} in all. {his}"
        )

    def _nothing(self) -> str:
        watch, who = self.watch, listed(self.whose) if self.whose else "anything"
        if self.signless is not None:
            return f"Can't tell: {self.signless}."
        if not any(one.nights_watched for one in watch.values()):
            return f"Can't tell: {lower_first(nothing_watched(watch.values()))}"
        if waits := waiting_at(watch):
            return f"Can't tell yet who was near your sign: {waits}."
        none = f"No tagged picture of {who} near sign while it was made"
        return f"{none}{but_unsorted_at(watch)}; {ABSENCE}."

    def to_json(self) -> dict[str, Any]:
        """Give the rows, with times as text, and what stands beside them."""
        beside = {k: plain(getattr(self, k)) for k in ("watch", "method", "why")}
        beside |= {"whose": list(self.whose)} if self.whose else {}
        beside |= {"signless": self.signless} if self.signless else {}
        return {"said": self.said, "rows": plain(self.to_records())} | beside

    def columns(self) -> tuple[str, ...]:  # type: ignore[override]
        """Name the columns of the table."""
        return tuple(self.table.columns)

    def to_frame(self, tz: str = "UTC") -> pd.DataFrame:
        """Give the table; its `attrs` hold `method`, `why` and `watch`. Its one time is in UTC."""
        frame = self.table.copy(deep=False)
        if frame.empty:  # DuckDB gives texts without a row as objects
            frame = frame.astype({"frame": "str"})
        frame.attrs = {k: plain(getattr(self, k)) for k in ("method", "why", "watch")}
        return frame


def near(
    session: Session,
    scope: Scope,
    kinds: Sequence[str] | None = None,
    within_m: float | None = None,
    days: int = 0,
) -> Near:
    """Join detections to sign.

    Args:
        scope: whose detections, when; of areas, camera and sign must both be within reach.
        kinds: kinds of sign, None for all.
        within_m: greatest distance from camera to sign [m], None for the scope's reach.
        days: how many days outside the made window are still joined.

    Raises:
        UsageError: a distance beyond the kept ones, days below 0, or a kind that no sign has.
    """
    within = scope.reach_m if within_m is None else within_m
    _check(session, kinds, within, days)
    bucks = bucks_of(session, scope)
    table = run_sql(
        session.con,
        __file__,
        "near.sql",
        kinds=list(kinds) if kinds is not None else None,
        within=within,
        days=days,
        tagged=list(bucks.number),
        ids=[bucks.ids[i] for i in bucks.number.values()],
        names=[bucks.names[i] for i in bucks.number.values()],
        every=scope.buck_ids is None,
        **scope.sql(),
    ).df()
    if len(table) <= ORDERED:
        table = table.sort_values(_IN_ORDER, ignore_index=True)
    table["utc"] = table["utc"].dt.tz_localize("UTC")
    watch: dict[str, Watch] = {}
    if scope.area_ids is not None or table.empty:
        watch = _watch(session, scope, within)
    whose = None if scope.buck_ids is None else bucks.names
    why = _why(session, scope, watch, within, days)
    return Near(table, watch, METHOD, why, whose, _signless(session))


def _signless(session: Session) -> str | None:
    """Say that there is no sign, or none of those days and places (`near_windows`); else None."""
    counts = "SELECT (SELECT count(*) FROM near_windows), (SELECT count(*) FROM made_windows)"
    asked, every = session.con.execute(counts).fetchone() or (0, 0)
    if asked:
        return None
    if every:
        return "none of your sign fits the days and places you asked about"
    return "no sign logged yet. Add a rub or scrape on the Map, or: camsign sign add"


def _check(session: Session, kinds: Sequence[str] | None, within: float, days: int) -> None:
    check_kept(session.settings, "distance", within)
    if days < 0:
        raise UsageError(f"{days} days before or after the sign was made", "give 0 or more")
    rows = session.con.execute("SELECT DISTINCT kind FROM made_windows").fetchall()
    there = {kind for (kind,) in rows}
    for kind in kinds or ():
        if there and kind not in there:
            raise UsageError(f"no sign is a {kind!r}", f"there are {', '.join(sorted(there))}")


def _watch(session: Session, scope: Scope, within: float) -> dict[str, Watch]:
    """Give the watch of the cameras near the sign that was just joined (`near_windows`)."""
    rows = session.con.execute(
        "SELECT DISTINCT deployment FROM sign_pairs JOIN near_windows USING (sign)"
        " WHERE distance_m <= ?",
        [within],
    ).fetchall()
    close = {deployment for (deployment,) in rows}
    reach = reach_of(session, scope, "camera")
    pairs = tuple(one for one in reach.pairs if reach.deployments[one[1]] in close)
    reach = replace(reach, pairs=pairs)
    found = watch_by_name(reach, watching_of(session, scope, reach))
    return {camera: one for camera, one in found.items() if one.cameras}


def _why(
    session: Session, scope: Scope, watch: dict[str, Watch], within: float, days: int
) -> tuple[str, ...]:
    row = session.con.execute(
        "SELECT count(*) FROM detections WHERE doubt IS NOT NULL AND day BETWEEN ? AND ?",
        [scope.first, scope.last],
    ).fetchone()
    doubtful = row[0] if row else 0
    near = format_length(within, session.settings.units)
    spare = f", or up to {days} days before or after" if days else ""
    return reasons(
        scope.asked(),
        f"counts pictures within {near} of sign, on days it may have been made{spare}",
        doubtful and f"left out: {counted(doubtful, 'sighting')} whose time is in doubt",
        [f"{camera}: {one.in_words()}" for camera, one in watch.items()],
    )
