"""The invented season as a whole: from a seed to cards full of pictures, and their truth."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cache

import numpy as np

from camsign.demo import land, movement, triggers
from camsign.demo.bursts import Shot, shoot
from camsign.demo.land import Area, Buck, Camera, Deployment
from camsign.demo.movement import Pass
from camsign.demo.signs import make_signs
from camsign.demo.specs import CardSpec, FrameSpec, NamedBy, SignSpec
from camsign.demo.weather import days, make_autumn

FILES_IN_FOLDER = 100  # the invented brand starts a new DCIM folder, and its count, after so many
_DOES = 112
_FOLDERS = {
    "CAM01-1": ("oct-CAM01", "dec 1/NO NAME"),
    "CAM02-1": ("oct-CAM02", "dec 2/NO NAME"),
    "CAM03-1": ("oct-CAM03", "dec 3/NO NAME"),
    "CAM04-1": ("oct-CAM04", "dec-CAM04"),
    "CAM05-1": ("oct-CAM05", "dec 5/NO NAME"),
    "CAM06-1": ("oct-CAM06",),
    "CAM06-2": ("nov 6/NO NAME", "dec-CAM06"),
}


@dataclass(frozen=True, slots=True)
class Truth:
    """What really happened.

    `bedded`: the local days on which a buck bedded in an area, by (buck, area). `passes`: all
    walks of the bucks past a spot; `photographed`: those that set a camera off. `sunrise` and
    `sunset` (UTC) by local day.
    """

    bedded: Mapping[tuple[str, str], tuple[date, ...]]
    passes: tuple[Pass, ...]
    photographed: tuple[Pass, ...]
    sunrise: Mapping[date, datetime]
    sunset: Mapping[date, datetime]

    def mature_users(self, area: str, mature_age: float = land.MATURE_AGE) -> tuple[str, ...]:
        """The mature bucks that bedded in an area at least once."""
        return tuple(
            buck.name
            for buck in land.BUCKS
            if buck.age >= mature_age and self.bedded.get((buck.name, area))
        )


@dataclass(frozen=True, slots=True)
class Season:
    """An invented property and one hunting season on it; the same seed gives the same season.

    `clock_errors`: seconds by which a camera's clock runs ahead of what its owner thinks he set.
    """

    seed: int
    name: str
    tz: str
    home: tuple[float, float]
    bucks: tuple[Buck, ...]
    areas: tuple[Area, ...]
    deployments: tuple[Deployment, ...]
    cards: tuple[CardSpec, ...]
    frames: tuple[FrameSpec, ...]
    signs: tuple[SignSpec, ...]
    truth: Truth
    clock_errors: Mapping[str, int]

    def deployment(self, key: str) -> Deployment:
        """The deployment with a key such as CAM06-2."""
        return next(one for one in self.deployments if one.key == key)

    def buck(self, name: str) -> Buck:
        """The buck of that name."""
        return next(one for one in self.bucks if one.name == name)

    def of_card(self, key: str) -> list[FrameSpec]:
        """A card's frames in the order in which they were taken."""
        return [frame for frame in self.frames if frame.card == key]


def make_season(seed: int = 7, clock_errors: Mapping[str, int] | None = None) -> Season:
    """Invent the season: about 1,500 frames on 13 cards, 80 signs, 4 areas, 5 bucks.

    `clock_errors` maps a camera to the seconds that its clock is wrong (ahead is positive).
    """
    errors = dict(clock_errors or {})
    shots, truth = _shots(seed)
    signs = make_signs(np.random.default_rng([seed, 4]), truth.bedded)
    cards = [card for deployment in land.DEPLOYMENTS for card in _cards(deployment)]
    frames = _filed(shots, cards, errors)
    return Season(
        seed, land.PROPERTY, land.TZ, land.ORIGIN, land.BUCKS, land.AREAS, land.DEPLOYMENTS,
        tuple(cards), tuple(frames), tuple(signs), truth, errors,
    )  # fmt: skip


@cache
def _sun() -> movement.Sun:
    return movement.property_sun()


def _shots(seed: int) -> tuple[list[Shot], Truth]:
    """Everything that set a camera off, as pictures, and the truth behind it."""
    rng = [np.random.default_rng([seed, part]) for part in range(4)]
    sun = _sun()
    autumn = make_autumn(rng[0])
    passes, bedded = movement.all_walks(rng[1], days(land.FIRST_DAY, land.LAST_DAY), sun)
    happened, seen = triggers.buck_triggers(rng[2], passes)
    happened += triggers.doe_triggers(rng[2], sun, _DOES)
    happened += triggers.other_triggers(rng[2], sun) + triggers.owner_triggers()
    spare = triggers.TRIGGERS - len(happened)
    happened += triggers.wind_triggers(rng[2], autumn, sun, spare)
    truth = Truth(bedded, tuple(passes), tuple(seen), sun.rise, sun.set)
    return shoot(rng[3], _apart(happened), autumn), truth


def _apart(happened: list[triggers.Trigger]) -> list[triggers.Trigger]:
    """In order of time; a camera that is still busy with one burst starts no other."""
    out: list[triggers.Trigger] = []
    last: dict[str, datetime] = {}
    for trigger in sorted(happened, key=lambda one: (one.utc, one.deployment.key)):
        free = last.get(trigger.deployment.key)
        if free is None or trigger.utc - free >= timedelta(seconds=20):
            out.append(trigger)
            last[trigger.deployment.key] = trigger.utc
    return out


def _cards(deployment: Deployment) -> list[CardSpec]:
    """A card for each pull, and the one that was in the camera when it was taken down."""
    camera = deployment.camera
    out = []
    pulls = (*deployment.pulls, deployment.until)
    for i, (pulled, folder) in enumerate(zip(pulls, _FOLDERS[deployment.key], strict=True)):
        key = f"{deployment.key}-{i + 1}"
        named = _named_by(folder, camera)
        out.append(CardSpec(key, folder, camera.camera, deployment.key, pulled, named))
    return out


def _named_by(folder: str, camera: Camera) -> NamedBy:
    if camera.camera in folder:
        return "label"
    return "serial" if camera.serial else "person"


def _filed(shots: list[Shot], cards: list[CardSpec], errors: Mapping[str, int]) -> list[FrameSpec]:
    """Each shot on the card that was in the camera, under the next file name there."""
    count: dict[str, int] = defaultdict(int)
    out = []
    for index, shot in enumerate(shots):
        key = shot.deployment.key
        card = next(c for c in cards if c.deployment == key and shot.utc <= c.pulled)
        number = count[card.key]
        count[card.key] += 1
        out.append(_frame(index, shot, card, number, errors.get(shot.deployment.camera.camera, 0)))
    return out


def _frame(index: int, shot: Shot, card: CardSpec, number: int, error_s: int) -> FrameSpec:
    clock = shot.utc.replace(tzinfo=None) + timedelta(
        hours=shot.deployment.clock_hours, seconds=error_s
    )
    folder, place = divmod(number, FILES_IN_FOLDER)
    return FrameSpec(
        index, card.camera, card.deployment, card.key,
        f"DCIM/{100 + folder}MEDIA/IMG_{place + 1:04d}.JPG",
        shot.utc, clock.replace(microsecond=0), clock.microsecond // 1000, shot.trigger, shot.shot,
        shot.light, shot.sun_deg, shot.subjects, shot.weather, shot.shifted,
    )  # fmt: skip
