"""The made-up season as a whole: from a seed to cards full of pictures, and their truth."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

import numpy as np

from camsign.demo import land, movement, triggers
from camsign.demo.land import Area, Buck, Deployment
from camsign.demo.movement import Pass
from camsign.demo.signs import make_signs
from camsign.demo.specs import CardSpec, FrameSpec, NamedBy, SignSpec
from camsign.demo.triggers import shoot
from camsign.demo.weather import days, make_autumn, property_sun

FILES_IN_FOLDER = 100  # the made-up brand starts a new DCIM folder, and its count, after so many
_TRIGGERS, _DOES = 500, 112


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


@dataclass(frozen=True, slots=True)
class Season:
    """A made-up property and one hunting season on it; the same seed gives the same season.

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


def _shots(seed: int) -> tuple[list[FrameSpec], Truth]:
    """Everything that set a camera off, as pictures, and the truth behind it."""
    rng = [np.random.default_rng([seed, part]) for part in range(4)]
    sun, autumn = property_sun(), make_autumn(rng[0])
    passes, bedded = movement.all_walks(rng[1], days(land.FIRST_DAY, land.LAST_DAY), sun)
    happened, seen = triggers.buck_triggers(rng[2], passes)
    happened += triggers.doe_triggers(rng[2], sun, _DOES)
    happened += triggers.other_triggers(rng[2], sun) + triggers.owner_triggers()
    happened += triggers.wind_triggers(rng[2], autumn, sun, _TRIGGERS - len(happened))
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


def _cards(hung: Deployment) -> list[CardSpec]:
    """A card for each pull, and the one that was in the camera when it was taken down."""
    out, camera = [], hung.camera
    pulls = zip((*hung.pulls, hung.until), hung.folders, strict=True)
    for i, (pulled, folder) in enumerate(pulls, 1):
        named: NamedBy = "serial" if camera.serial else "person"
        named = "label" if camera.camera in folder else named
        out.append(CardSpec(f"{hung.key}-{i}", folder, camera.camera, hung.key, pulled, named))
    return out


def _filed(
    shots: list[FrameSpec], cards: list[CardSpec], errors: Mapping[str, int]
) -> list[FrameSpec]:
    """Put each picture on the card that was in the camera, under the next file name there."""
    count: Counter[str] = Counter()
    hours = {hung.key: hung.clock_hours for hung in land.DEPLOYMENTS}
    out = []
    for index, shot in enumerate(shots):
        card = next(c for c in cards if c.deployment == shot.deployment and shot.utc <= c.pulled)
        folder, nth = divmod(count[card.key], FILES_IN_FOLDER)
        count[card.key] += 1
        wrong = timedelta(hours=hours[shot.deployment], seconds=errors.get(shot.camera, 0))
        clock = shot.utc.replace(tzinfo=None) + wrong
        file = f"DCIM/{100 + folder}MEDIA/IMG_{nth + 1:04d}.JPG"
        shown, subsec = clock.replace(microsecond=0), clock.microsecond // 1000
        out.append(replace(shot, index=index, card=card.key, file=file, shown=shown, subsec=subsec))
    return out
