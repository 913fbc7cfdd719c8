"""Cards and files taken in, and keeping a logbook whole."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from pathlib import Path
from typing import Any

from camsign.api.opened import Opened
from camsign.derive.opening import Rebuilt, let_go, made_from
from camsign.flows.fieldwork.handheld import sort_files, take
from camsign.flows.fieldwork.sign_tables import SignTaken, import_sign
from camsign.flows.fieldwork.sorted_files import FieldTaken
from camsign.flows.intake import ingest
from camsign.flows.intake.result import IngestResult
from camsign.flows.remeasure.detect import Detecting, detect
from camsign.flows.remeasure.look_again import LookedAgain, look_again
from camsign.flows.upkeep import verify
from camsign.flows.upkeep.backup import BackedUp, backup
from camsign.flows.upkeep.merge import Merged, merge
from camsign.flows.upkeep.thin import Thinned, thin
from camsign.flows.upkeep.verify import Verified
from camsign.places.areas import AreasTaken, import_areas
from camsign.sits.terrain import Terrain, import_ground
from camsign.sits.weather import Taken, import_wind
from camsign.tags.buckstable import BucksTaken, import_bucks
from camsign.tags.frames import Which
from camsign.tags.importing import import_tags
from camsign.tags.tagging import Tagged


class Keeping(Opened):
    """Taking in and keeping. A card is only read; nothing here deletes a picture unasked."""

    def ingest(self, *paths: str | Path, camera: str | None = None, **more: Any) -> IngestResult:
        """Take cards in: every picture copied, forced to the disk and read back.

        Args:
            *paths: the cards' folders.
            camera: whose they are; else what the card itself says.
            **more: as for `camsign.flows.intake.ingest`.

        Raises:
            InputRefused: a card's pictures cannot be said to be one camera's.
        """
        return ingest(self.folder, [Path(p) for p in paths], camera=camera, **more)

    def take_files(self, *paths: str | Path, as_one: bool = False) -> FieldTaken:
        """Take in a handheld's or phone's files: cameras, sign, places, areas, walks, sits.

        Args:
            *paths: GPX, KML, KMZ, GeoJSON, CSV and phone photos.
            as_one: sign known from another device is one more look at that.
        """
        with self.session() as s:
            return take(s, sort_files(s, [Path(p) for p in paths]), as_one)

    def import_tags(self, path: str | Path, add_bucks: bool = False) -> Tagged:
        """Take in tags from a CSV file with frame, what, buck, count, travel."""
        return self._do(import_tags, Path(path), add_bucks)

    def import_bucks(self, path: str | Path) -> BucksTaken:
        """Take in bucks from a CSV file with name, age, age_basis, traits."""
        return self._do(import_bucks, Path(path))

    def import_sign(self, path: str | Path) -> SignTaken:
        """Take in sign from a CSV or GPX file; the same file again adds nothing."""
        return self._do(import_sign, Path(path))

    def import_areas(
        self, path: str | Path, kind: str | None = None, anywhere: bool = False
    ) -> AreasTaken:
        """Take in areas from a GeoJSON file; `kind` of those that do not say it themselves."""
        return self._do(import_areas, Path(path), kind, anywhere)

    def import_ground(self, path: str | Path) -> Terrain:
        """Take in heights [m] around home from an elevation file; what was there is replaced."""
        return import_ground(self.folder, Path(path))

    def import_wind(self, path: str | Path, month: date, anywhere: bool = False) -> Taken:
        """Take in a station's winds; `month` is any day of the file's month, where it needs one."""
        return import_wind(self.folder, Path(path), month, anywhere)

    def look(
        self,
        camera: str | None = None,
        card: str | None = None,
        every: bool = False,
        model: str | Path | None = None,
    ) -> LookedAgain | Detecting:
        """Measure pixels again from the originals, or let a detector of your own look.

        Args:
            camera: only this one's.
            card: only this one's, by its id.
            every: also what this version measured already.
            model: a detector, ONNX or a frozen graph with its .toml (docs/pixels.md).
        """
        which = Which((), camera, None, None, card)
        if model is not None:
            return detect(self.folder, Path(model), which)
        return look_again(self.folder, which, every)

    def rebuild(self) -> Rebuilt:
        """Make the database of this machine again from cards and journal."""
        let_go(self.folder)
        return self._do(made_from)

    def verify(
        self, share: float = 1.0, repair_from: Sequence[str | Path] | None = None
    ) -> Verified:
        """Check that everything is as it was written; nothing is changed unless repaired.

        Args:
            share: of how many originals the bytes are read, 0..1.
            repair_from: folders to fetch missing originals from; the database is made again.
        """
        if repair_from is not None:
            return verify.repair(self.folder, [Path(p) for p in repair_from])
        return verify.verify(self.folder, share)

    def backup(self, place: str | Path | None = None, check: bool = False) -> BackedUp:
        """Bring a second copy up to date; `check` reads every file of it again."""
        return backup(self.folder, Path(place) if place is not None else None, check)

    def merge(self, friend: str | Path, anywhere: bool = False) -> Merged:
        """Take in a friend's logbook of the same property; his folder is only read."""
        return merge(self.folder, Path(friend), anywhere)

    def thin(self, keep: int | None = None, consent: bool = False) -> Thinned:
        """List pictures whose full size may go; with `consent` let go of those a backup holds."""
        return thin(self.folder, keep, consent)
