"""The questions of a logbook, each a DataFrame; docs/answers/ has a page on each."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Literal, Unpack

import pandas as pd

from camsign.answers.ask import ask
from camsign.answers.bedding import bedding
from camsign.answers.beds_input import APART_M
from camsign.answers.compare import compare
from camsign.answers.lately import lately
from camsign.answers.makers import makers
from camsign.answers.near import near
from camsign.answers.rivals import rivals
from camsign.answers.scope import against as opposed
from camsign.answers.visits import visits
from camsign.answers.when import when
from camsign.answers.where import where
from camsign.api.opened import Bounds, Opened, scope
from camsign.logbook.moments import today
from camsign.sits.hang_next import hang_next
from camsign.sits.pressure import pressure
from camsign.sits.review import review
from camsign.sits.tonight import tonight
from camsign.sits.weather import kept_sky, typed_sky
from camsign.sits.windbeds import wind_beds


class Asking(Opened):
    """Questions. Without pictures there is no answer: absence of pictures is not absence."""

    def near(
        self,
        buck: str | None = None,
        area: str | None = None,
        kinds: Sequence[str] | None = None,
        within_m: float | None = None,
        days: int = 0,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say which bucks were pictured near which sign while it was made: a row a pair.

        Args:
            buck: his name or id; all without.
            area: camera and sign must both be within reach of it.
            kinds: kinds of sign, such as ["rub"].
            within_m: greatest distance from camera to sign [m].
            days: how many days outside the made window are still joined.
            **bounds: see `Bounds`.

        Distances are geodesic (Karney 2013).
        """
        return self._ask(near, buck, area, bounds, kinds, within_m, days)

    def visits(
        self,
        buck: str | None = None,
        area: str | None = None,
        by: Literal["area", "camera"] = "area",
        split: Literal["month", "phase"] | None = None,
        against: str | None = None,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say how often each buck is there, and in which light: a row a buck and area.

        Args:
            buck: his name or id; all without.
            area: its name or id; all without.
            by: rows by area or by camera.
            split: a row for each month or phase.
            against: another area, a hunting year or "DAY..DAY" to which `ratio` compares the rate.
            **bounds: see `Bounds`.

        Rates are per 100 nights watched, with 95% intervals (docs/answers/visits.md).
        """
        with self.session() as s:
            asked = scope(s, buck, area, bounds)
            other = opposed(s, asked, against) if against else None
            return visits(s, asked, by, split, other).to_frame(s.settings.tz)

    def when(self, buck: str, area: str, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say when a buck is near an area: a row a visit, by the sun; chances are in `attrs`."""
        return self._ask(when, buck, area, bounds)

    def bedding(
        self,
        area: str,
        buck: str | None = None,
        apart_m: float | None = None,
        **bounds: Unpack[Bounds],
    ) -> pd.DataFrame:
        """Say whether an area is a bed: a row a buck; the area's verdict is in `attrs`.

        Args:
            area: its name or id.
            buck: only his.
            apart_m: beds farther apart are of two days [m].
            **bounds: see `Bounds`.
        """
        far = APART_M if apart_m is None else apart_m
        return self._ask(bedding, buck, area, bounds, far)

    def where(
        self, buck: str, on: date | None = None, reach_m: float | None = None
    ) -> pd.DataFrame:
        """Say where a buck beds on a local day, by default the last one covered: a row an area."""
        return self._ask(where, buck, None, {"reach_m": reach_m}, on)

    def rivals(self, area: str, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say how many mature bucks compete: a row a known one; estimates and pairs in `attrs`."""
        return self._ask(rivals, None, area, bounds)

    def makers(self, sign: str, buck: str | None = None, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say who likely made a sign (its id, or the beginning of it): a row a buck, with odds."""
        return self._ask(makers, buck, None, bounds, sign)

    def compare(self, areas: Sequence[str] | None = None, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say which areas deserve the sits, best first: a row an area."""
        return self._ask(compare, None, areas, bounds)

    def lately(
        self, days: int | None = None, areas: Sequence[str] | None = None, **bounds: Unpack[Bounds]
    ) -> pd.DataFrame:
        """Say what is hot in the last days with anything new (10 without `days` or a first day): a
        row an area."""
        return self._ask(lately, None, areas, bounds, days)

    def tonight(
        self,
        wind: str | None = None,
        speed_ms: float | None = None,
        cloud: float | None = None,
        on: date | None = None,
        morning: bool = False,
        bucks: Sequence[str] | None = None,
        shot_m: float | None = None,
    ) -> pd.DataFrame:
        """Rank the stands for an evening or a morning, best first: a row a stand.

        Args:
            wind: where it comes from, "NW", "315" or "calm"; without it what `import_wind` kept.
            speed_ms: how fast [m/s].
            cloud: covered part of the sky, 0..1.
            on: the local day; today by default.
            morning: plan a morning sit, not an evening one.
            bucks: names or ids; all mature ones by default.
            shot_m: how far you shoot [m]; else what was said of each stand.

        Raises:
            UsageError: no home, stand, bedding area or wind. Not tried on a real season yet: wear a
                harness, and check the law where you hunt.
        """
        day = on or today(self.folder.settings.tz)
        typed = wind is not None or speed_ms is not None
        sky = typed_sky(wind, speed_ms, cloud) if typed else kept_sky(self.folder, day)
        with self.session() as s:
            return tonight(s, day, sky, morning, bucks, shot_m).to_frame(s.settings.tz)

    def review(self, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Hold what `tonight` said before each sit against the sits: a row a band of chances."""
        return self._ask(review, None, None, bounds)

    def hang_next(
        self, on: date | None = None, morning: bool = False, days: int = 10
    ) -> pd.DataFrame:
        """Say where to hang a camera for so many days: a row a place, best first."""
        with self.session() as s:
            day = on or today(s.settings.tz)
            return hang_next(s, day, morning, days).to_frame(s.settings.tz)

    def pressure(self, **bounds: Unpack[Bounds]) -> pd.DataFrame:
        """Say how mature bucks answer to your going in: a row an area."""
        return self._ask(pressure, None, None, bounds)

    def wind_beds(
        self, buck: str | None = None, area: str | None = None, **bounds: Unpack[Bounds]
    ) -> pd.DataFrame:
        """Say on which winds an area is used as a bed: a row a sector of the wind."""
        return self._ask(wind_beds, buck, area, bounds)

    def sql(self, question: str) -> pd.DataFrame:
        """Ask a question of one's own on the documented views; nothing can be changed.

        Args:
            question: one SELECT on detections, visits, near, watch, sign, areas (docs/schema.md).

        Raises:
            UsageError: it is more than that, or takes more than a minute, 2 GB or a million rows.
        """
        with self.session() as s:
            return ask(s, question).to_frame(s.settings.tz)
