"""What one picture of the made-up season shows: the truth from which it is drawn."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

Light = Literal["day", "infrared"]
NamedBy = Literal["label", "serial", "person"]


@dataclass(frozen=True, slots=True)
class Weather:
    """Air [°C], wind, cloud, snow on the ground and fog (0 to 1), and whether snow is falling."""

    temperature_c: float
    wind: float
    overcast: float
    snow: float
    fog: float
    snowing: bool


@dataclass(frozen=True, slots=True)
class Pictured:
    """Who is in a picture and where: middle as a share of the width, distance [m], pose.

    `what`: buck, doe, fawn, coyote, squirrel or person; `buck` his name. `travel_deg` is the true
    bearing in which it goes, None for one that stands; `to_right` is how it faces in the picture.
    """

    what: str
    buck: str | None
    x: float
    distance_m: float
    to_right: bool
    pose: str
    phase: int
    travel_deg: float | None
    number: int = 0  # tells the members of a group apart


@dataclass(frozen=True, slots=True)
class FrameSpec:
    """One picture. `shown` is what the camera's clock shows (naive), `utc` the truth.

    `trigger` numbers the bursts of the season, `shot` the frames in a burst from 0. `sun_deg` is
    the height of the sun [deg]. `card` and `file`, its path there, are known once it is filed.
    """

    camera: str
    deployment: str
    utc: datetime
    trigger: int
    shot: int
    light: Light
    sun_deg: float
    subjects: tuple[Pictured, ...]
    weather: Weather
    shifted: bool  # taken after the camera was knocked
    index: int = 0
    card: str = ""
    file: str = ""
    shown: datetime = datetime.min  # noqa: DTZ901
    subsec: int = 0  # [ms]


@dataclass(frozen=True, slots=True)
class CardSpec:
    """A memory card as it was copied: its folder, whose it is, and what can tell that.

    `named_by`: label (the folder names the camera), serial (only the EXIF serial number does) or
    person (nothing on the card does).
    """

    key: str
    folder: str
    camera: str
    deployment: str
    pulled: datetime
    named_by: NamedBy


@dataclass(frozen=True, slots=True)
class SignSpec:
    """One sign as it was written down, and the truth: who made it and on which day.

    Lengths [m], `travel_deg` the bearing in which its maker went. `in_gpx`: written down on the
    handheld instead of in the table.
    """

    kind: str
    lat: float
    lon: float
    seen_on: date
    made_on: date
    maker: str | None
    near: str  # the area, "corridor" or "" (scattered)
    travel_deg: float | None = None
    species: str | None = None
    surface: str | None = None
    diameter_m: float | None = None
    top_m: float | None = None
    bottom_m: float | None = None
    length_m: float | None = None
    marks: str = ""
    in_gpx: bool = False
