"""A logbook that is opened briefly for each act or question."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from datetime import date
from typing import Any, Concatenate, ParamSpec, TypedDict, TypeVar

import pandas as pd

from camsign.answers.result import Answer, frame_of
from camsign.answers.scope import Scope, scope_of
from camsign.derive.opening import open_logbook
from camsign.logbook.folder import Folder
from camsign.logbook.session import Session

P = ParamSpec("P")
T = TypeVar("T")


class Bounds(TypedDict, total=False):
    """What narrows a question.

    `season`: a hunting year, by the year in which it starts; the latest with detections without it
    and without days. `first`, `last`: local days, both within. `phase`: of the season, by its name
    in logbook.toml. `reach_m`: how far from an area's edge a camera or sign counts [m]. `gap_s`:
    detections farther apart are two visits [s]. `mature_age`: from which age on [years].
    """

    season: int | None
    first: date | None
    last: date | None
    phase: str | None
    reach_m: float | None
    gap_s: float | None
    mature_age: float | None


class Opened:
    """A logbook's folder; `session()` opens it."""

    def __init__(self, folder: Folder) -> None:
        self.folder = folder

    def session(self) -> AbstractContextManager[Session]:
        """Open it briefly, brought up to date; nothing else can use it meanwhile."""
        return open_logbook(self.folder)

    def _do(
        self, verb: Callable[Concatenate[Session, P], T], *words: P.args, **more: P.kwargs
    ) -> T:
        with self.session() as s:
            return verb(s, *words, **more)

    def _ask(
        self,
        question: Callable[Concatenate[Session, Scope, P], Answer],
        buck: str | None,
        areas: str | Sequence[str] | None,
        bounds: Bounds,
        *words: P.args,
        **more: P.kwargs,
    ) -> pd.DataFrame:
        with self.session() as s:
            answer = question(s, scope(s, buck, areas, bounds), *words, **more)
            return answer.to_frame(s.settings.tz)

    def _list(
        self,
        kind: type,
        rows: Callable[Concatenate[Session, P], Sequence[Any]],
        *words: P.args,
        **more: P.kwargs,
    ) -> pd.DataFrame:
        with self.session() as s:
            return frame_of(rows(s, *words, **more), kind, s.settings.tz)


def scope(
    session: Session, buck: str | None, areas: str | Sequence[str] | None, bounds: Bounds
) -> Scope:
    """Give the scope of a question from a person's words."""
    if isinstance(areas, str):
        areas = [areas] if areas else None
    return scope_of(session, [buck] if buck else None, areas, **bounds)
