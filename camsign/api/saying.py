"""What people say of a logbook's things: each one act in the journal, one undo."""

from __future__ import annotations

from collections.abc import Container, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from camsign.api.opened import Opened
from camsign.cards.listing import CardSet, confirm_file_times, set_camera
from camsign.clock import verbs
from camsign.clock.audit import Finding
from camsign.clock.verbs import ClockSaid, remove_correction, set_clock
from camsign.derive.comparing import compare
from camsign.errors import UsageError
from camsign.logbook.fields import read
from camsign.logbook.history import Act, undo
from camsign.logbook.things import THINGS
from camsign.pixels.underlays import Underlay, add_underlay, bytes_of
from camsign.places.deployments import Hung, Outage, hang, outage, takedown
from camsign.tags.bucks import BuckSaid, add_buck
from camsign.tags.frames import by_ids
from camsign.tags.tagging import Tagged, subject_of, tag, tagged_so, untag, with_others
from camsign.units import parse_bearing, parse_lat_lon, parse_when

_RUN = {
    "deployment": {"hang": "places.deployments:hang",
                   "correct": "places.deployments:correct_deployment",
                   "takedown": "places.deployments:takedown",
                   "remove": "places.deployments:remove_deployment"},
    "outage": {"add": "places.deployments:outage"},
    "sign": {"add": "sign.record:note_sign", "again": "sign.record:note_look",
             "move": "sign.record:move_sign", "remove": "sign.record:remove_sign",
             "same": "sign.record:same_sign"},
    "area": {"add": "places.areas:add_area", "set": "places.areas:set_area",
             "rename": "places.areas:set_area", "remove": "places.areas:remove_area"},
    "place": {"add": "places.points:add_place", "set": "places.points:set_place",
              "remove": "places.points:remove_place"},
    "underlay": {"pin": "pixels.underlays:pin_underlay",
                 "remove": "pixels.underlays:remove_underlay"},
    "sit": {"add": "sits.journal:add_sit", "set": "sits.journal:set_sit",
            "remove": "sits.journal:remove_sit"},
    "habit": {"link": "sign.habits:link_rubs", "unlink": "sign.habits:unlink_rubs",
              "give": "sign.habits:give_habit"},
    "buck": {"add": "tags.bucks:add_buck", "set": "tags.bucks:set_buck",
             "rename": "tags.bucks:rename_buck", "merge": "tags.bucks:merge_bucks",
             "split": "tags.splitting:split_buck",
             "unlink": "tags.links:unlink_buck"},
}  # fmt: skip
"""What carries a verb out, by thing; both as in docs/things.md."""


class Saying(Opened):
    """Acts. What a person said stands until it is taken back with `undo`."""

    def say(self, thing: str, verb: str, **words: Any) -> Any:
        """Say something of a thing, with the words of the command `camsign THING VERB`.

        Args:
            thing: deployment, outage, sign, area, place, sit, buck, habit or underlay.
            verb: such as add, set, remove; docs/things.md lists them with their words.
            **words: as text: `book.say("sign", "add", kind="rub", at="44.6,-71.2", travel="NE")`.
                A word that Python keeps for itself ends in an underscore: `from_="2025-08-10"`.

        Returns:
            What the command gives with `--json`, as its dataclass.

        Raises:
            UsageError: no such thing, verb or word, or a word does not fit.
        """
        where = _RUN.get(thing, {}).get(verb)
        if where is None:
            known = ", ".join(f"{one} {v}" for one, made in _RUN.items() for v in made)
            raise UsageError(f"there is no {thing} to {verb}", f"say one of {known}")
        room, _, name = where.partition(":")
        run = getattr(import_module(f"camsign.{room}"), name)
        kind = THINGS[thing]
        takes = {kind.field(one).said for one in kind.verb(verb).fields}
        sent = {_as_said(word, takes): value for word, value in words.items()}
        if strange := sent.keys() - takes:
            raise UsageError(f"{thing} {verb} takes no {min(strange)}",
                             f"it takes {', '.join(sorted(takes))}")  # fmt: skip
        with self.session() as s:
            return run(s, **read(kind, verb, sent, s.settings))

    def undo(self, act: str | None = None) -> Act:
        """Take back what was said last, or the act of this id; an undo too.

        Raises:
            InputRefused: there is nothing to take back.
        """
        return self._do(undo, act)

    def hang(
        self,
        camera: str,
        at: str,
        start: str,
        until: str | None = None,
        facing: str | None = None,
        clock: str = "hung",
    ) -> Hung:
        """Say that a camera hangs at a place.

        Args:
            camera: its camera ID.
            at: "44.6204,-71.2350" [deg, WGS 84].
            start: from when on, on the property's clock.
            until: to when; it still hangs without.
            facing: where it looks, "NE", "120M" (magnetic).
            clock: what its clock shows, "hung" for the time it was hung with.
        """
        span = parse_when(start), parse_when(until) if until else None
        faces = parse_bearing(facing) if facing else None
        return self._do(hang, camera, parse_lat_lon(at), *span, faces, clock)

    def takedown(self, camera: str, on: str, working: bool = False) -> Hung:
        """Say that a camera was taken down; `working`: it still worked then."""
        return self._do(takedown, camera, parse_when(on), working)

    def outage(self, camera: str, start: str, stop: str, note: str | None = None) -> Outage:
        """Say that a camera did not work for a while: those nights are no watch."""
        return self._do(outage, camera, parse_when(start), parse_when(stop), note)

    def add_buck(self, name: str, **details: Any) -> BuckSaid:
        """Add a buck; details as for `camsign.tags.bucks.set_buck`: age [years], age_basis…"""
        with self.session() as s:
            return add_buck(s, name, **details)

    def tag(self, subject: str, frames: Sequence[str], count: int = 1) -> Tagged:
        """Say who or what is in frames.

        Args:
            subject: a buck's name, or doe, fawn, coyote, person, nothing…
            frames: 12 or more hex digits each.
            count: how many of them.
        """
        with self.session() as s:
            who, chosen = subject_of(s, subject), by_ids(s, frames)
            return with_others(s, who, chosen, tag(s, who, chosen, count))

    def untag(self, frames: Sequence[str], subject: str | None = None) -> Tagged:
        """Take one subject's tag, or every tag, from frames."""
        with self.session() as s:
            who = subject_of(s, subject) if subject else None
            return untag(s, tagged_so(s, by_ids(s, frames), who), who)

    def audit_clocks(self, camera: str | None = None, apply: bool = False) -> list[Finding]:
        """Judge clocks by the sun; with `apply` note the corrections that are proposed."""
        with self.session() as s:
            found = verbs.audit(s, camera)
            applied = verbs.apply(s, found) if apply else None
        if applied is not None and applied.corrections:
            compare(self.folder)  # frames may have come to another deployment
        return found

    def set_clock(
        self,
        camera: str,
        pairs: Sequence[tuple[str, str]] = (),
        utc_offset: str | None = None,
        follows_local: bool = False,
        shift_s: float | None = None,
        deployment: str | None = None,
        first: str | None = None,
        last: str | None = None,
        reason: str | None = None,
    ) -> ClockSaid:
        """Put a camera's clock right, in one way of the four.

        Args:
            camera: its camera ID.
            pairs: what was shown, or a frame that pictures the true time, each with that time on
                the property's clock.
            utc_offset: the clock ran at this offset, "-05:00".
            follows_local: it followed the switches of local time.
            shift_s: added to what was shown [s].
            deployment: only for this one, by its id.
            first: from this time shown on.
            last: up to this time shown.
            reason: why.
        """
        times = [(shown, parse_when(true)) for shown, true in pairs]
        span = [parse_when(one) if one else None for one in (first, last)]
        way = times, utc_offset, follows_local, shift_s
        said = self._do(set_clock, camera, *way, deployment, span[0], span[1], reason)
        self._compared(said.camera)
        return said

    def remove_clock(self, correction: str) -> ClockSaid:
        """Take a correction back by its id; its frames show the camera's own time again."""
        gone = self._do(remove_correction, correction)
        self._compared(gone.camera)
        return gone

    def _compared(self, camera: str) -> None:
        """Compare frames anew that come in another order now, or to another deployment."""
        compare(self.folder, [camera])

    def set_card(self, card: str, camera: str | None = None, file_times: bool = False) -> CardSet:
        """Put right whose a card is, or confirm that the stamps of its files are right.

        Args:
            card: its id.
            camera: whose pictures these are.
            file_times: clips without a time get that of their files.
        """
        if (camera is None) is not file_times:
            raise UsageError("a card is set in one way", "give camera or file_times")
        if camera is None:
            return self._do(confirm_file_times, card)
        return self._do(set_camera, card, camera)

    def add_underlay(self, path: str | Path, name: str | None = None) -> Underlay:
        """Keep a JPEG or PNG to lie beneath the map; its name is the file's unless given."""
        file = Path(path)
        return self._do(add_underlay, name or file.stem[:80], bytes_of(file))


def _as_said(word: str, takes: Container[str]) -> str:
    """Give a Python name as the command line has it."""
    plain = word.rstrip("_")
    dashed = plain.replace("_", "-")
    return dashed if dashed in takes else plain
