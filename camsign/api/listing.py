"""What stands in a logbook, each list a DataFrame."""

from __future__ import annotations

from datetime import date
from typing import Literal

import pandas as pd

from camsign.answers.framed import framed, kinds_of
from camsign.answers.frames import FrameRow, Wanted, frames
from camsign.answers.result import frame_of
from camsign.api.opened import Opened
from camsign.cards.listing import CardRow, CardShown, list_cards, show_card
from camsign.clock.verbs import ClockSaid, corrections
from camsign.derive.comparing import compared
from camsign.logbook.history import Act, history
from camsign.pixels.moved_cameras import MovedCamera, moved_cameras
from camsign.pixels.underlays import Underlay, underlays
from camsign.places.areas import AreaRow, areas
from camsign.places.deployments import Hung, deployments
from camsign.places.points import PlaceRow, places
from camsign.sign.habits import Habit, HabitProposal, habits, propose_habits
from camsign.sign.lines import LineRow, sign_lines
from camsign.sign.one_sign import SignShown, sign_shown
from camsign.sign.proposals import Proposal, propose
from camsign.sign.record import PLAIN, SignRow, as_records, signs
from camsign.sits.seen import sits_of
from camsign.tags.bucks import BuckRow, bucks


class Listing(Opened):
    """Lists. Places are latitude and longitude [deg, WGS 84]."""

    def frames(
        self,
        camera: str | None = None,
        untagged: bool = False,
        likely: Literal["empty", "animal", "look"] | None = None,
    ) -> pd.DataFrame:
        """List frames with what the camera showed and the right time: a row a picture or clip.

        Args:
            camera: only this one's.
            untagged: only what nobody has tagged.
            likely: only what likely shows nothing, an animal, or still needs your look.
        """
        wanted = Wanted(camera, untagged=untagged, likely=likely)
        with compared(self.folder) as s:
            return frame_of(frames(s, wanted), FrameRow, s.settings.tz)

    def cards(self, camera: str | None = None) -> pd.DataFrame:
        """List the cards taken in, by their first frame, with what is safe to wipe."""
        return self._list(CardRow, list_cards, camera)

    def card(self, card: str) -> CardShown:
        """Give one card by its id: how it is known whose it is, and where its files went."""
        return self._do(show_card, card)

    def moved_cameras(self, camera: str | None = None) -> pd.DataFrame:
        """List where the picture says that a camera was turned or moved while it hung."""
        return self._list(MovedCamera, moved_cameras, camera)

    def deployments(self, camera: str | None = None) -> pd.DataFrame:
        """List where each camera hung, from when to when."""
        return self._list(Hung, deployments, camera)

    def bucks(self, season: int | None = None) -> pd.DataFrame:
        """List the bucks by name, with age [years] and maturity in a hunting year."""
        return self._list(BuckRow, bucks, season)

    def areas(self) -> pd.DataFrame:
        """List the areas by name, with middle, radius [m] and size [ha]."""
        return self._list(AreaRow, areas)

    def places(self) -> pd.DataFrame:
        """List stands, ways in, parking, water and food, with the length of paths [m]."""
        return self._list(PlaceRow, places)

    def sits(self, first: date | None = None, last: date | None = None) -> pd.DataFrame:
        """List the journal of sits, newest first; deer and bucks an hour are in `attrs`."""
        with self.session() as s:
            return sits_of(s, first, last).to_frame(s.settings.tz)

    def signs(
        self, kind: str | None = None, season: int | None = None, species: str | None = None
    ) -> pd.DataFrame:
        """List the looks at signs with when each was made; measures are columns [m, deg].

        Args:
            kind: rub, scrape, bed…; all without.
            season: only what was made in this hunting year.
            species: only on this tree.
        """
        with self.session() as s:
            rows = as_records(signs(s, kind, season, species))
            return framed(rows, kinds_of(SignRow), s.settings.tz, None if rows else PLAIN)

    def sign(self, sign: str) -> SignShown:
        """Give one sign by its id, with every look at it and what it says of its maker's size."""
        return self._do(sign_shown, sign)

    def alike_signs(self, within_m: float = 5.0) -> pd.DataFrame:
        """List pairs of signs of a kind at most so far apart [m] that may be one, nearest first."""
        from camsign.sign.duplicate_signs import Alike, alike

        return self._list(Alike, alike, within_m)

    def sign_lines(self, season: int | None = None) -> pd.DataFrame:
        """List rubs that follow one another: heading [deg true], ends, where they lead on."""
        return self._list(LineRow, sign_lines, season)

    def propose_areas(self, season: int | None = None) -> pd.DataFrame:
        """List the areas that rubs speak for, best first, with the reasons."""
        return self._list(Proposal, propose, season)

    def habits(self) -> pd.DataFrame:
        """List handwriting: rubs whose marks recur, and whose they may be."""
        return self._list(Habit, habits)

    def propose_habits(self) -> pd.DataFrame:
        """List marks that recur on rubs more often than by chance, the clearest first."""
        return self._list(HabitProposal, propose_habits)

    def underlays(self) -> pd.DataFrame:
        """List the pictures of your own beneath the map, with their pins."""
        return self._list(Underlay, underlays)

    def corrections(self) -> pd.DataFrame:
        """List the corrections of clocks that stand."""
        return self._list(ClockSaid, corrections)

    def history(self, limit: int | None = None, of: str | None = None) -> pd.DataFrame:
        """List what was said, the latest first; `of` a name or an id, only about that."""
        return self._list(Act, history, limit, of)
