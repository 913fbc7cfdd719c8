"""The things that people describe field by field: one table of all kinds.

A journal line names a thing and sets some of its fields. Fields that are not listed here (said by a
newer version) stay in `field_edits` and are shown in no table.
"""

from __future__ import annotations

from pathlib import Path
from textwrap import fill, wrap

from camsign.logbook.fields import LONG, Field, Kind, Verb
from camsign.logbook.outings import ENCOUNTER, PLAN, SIT

DOUBLE, FLAG, TIME = "DOUBLE", "BOOLEAN", "TIMESTAMP"
GONE = Field("gone", FLAG)
SHAPE = Field("shape", "JSON", holds="shape")
DOE_BEDDING = "doe bedding"
_AT = "LAT,LON"


def _note(about: str = "") -> Field:
    return Field("note", sort="long", label="Note", help=about, most=LONG)


def _name(of: str) -> Field:
    return Field("name", sort="name", label="Name", help="A name of your own.", most=80,
                 ask=f"{of} needs a name")  # fmt: skip


def _at(label: str, about: str) -> tuple[Field, ...]:
    at = Field("at", None, "place", label, about, ask="where?", metavar=_AT)
    return at, Field("lat", DOUBLE), Field("lon", DOUBLE)


CAMERA = Kind(
    "camera", "c", (Field("serials", "VARCHAR[]"), Field("model"), Field("note")),
)  # fmt: skip

CARD = Kind(
    "card", "", (
        Field("camera"),
        Field("file_times", FLAG),
        Field("taken_as", "VARCHAR[]"),
    ),
    "file_times: the stamps of the files on it are the times of its clips. taken_as: the cameras"
    " that receipts of this card name, where two friends took it in.",
    table="card_words",
)  # fmt: skip

_ID = Field("camera", sort="text", label="Camera", help="The camera's ID, such as CAM07.",
            most=60, ask="which camera?")  # fmt: skip
_HUNG = (
    _ID,
    *_at("Where (click on the map, or type)", "Where it hangs."),
    Field("start", None, "when", "Hung on", "Day, or day and time.", "from",
          ask="since when does it hang?", metavar="WHEN"),
    Field("hung", TIME),
    Field("until", None, "when", "Until", "When it was taken down, if it was.", metavar="WHEN"),
    Field("still_hanging", None, "flag", "It still hangs there after all",
          "Still hanging: remove its take-down date."),
    Field("taken_down", TIME),
    Field("on", None, "when", "On", "Day, or day and time.", ask="when was it taken down?",
          metavar="WHEN"),
    Field("working", None, "flag", "It was still working then",
          "It was still working then."),
    Field("worked_to_end", FLAG),
    Field("facing", None, "bearing", "Faces", "Which way it faces: NE, 45, 60M (magnetic).",
          metavar="BEARING"),
    Field("facing_deg", DOUBLE),
    Field("clock", sort="text", label="Cell camera: it sets its own clock by the network",
          help="hung: stays on the time you set at hanging, no daylight-saving change; local: "
          "changes by itself; or ±HH:MM. Left out: local if its last hang was, else hung.",
          choices=("local",), metavar="RULE"),
    Field("tz", sort="text", help="The place's time zone, if another."),
    _note("Anything else."),
    Field("only", None, "flag", help="Where two people said it, only the one of this id."),
    GONE,
)  # fmt: skip
DEPLOYMENT = Kind(
    "deployment", "d",
    (Field("deployment", None, "text", help="Its id, from `camsign deployments`."), *_HUNG),
    "What one camera was said to do twice counts once: `deployments` is derived from what was"
    " said.",
    table="deployments_said",
    verbs=(
        Verb("hang", "camera! at! start! until facing clock tz note",
             "Put a camera up at a place.", "Hang a camera", "Save camera", ("camera",)),
        Verb("correct", "deployment! camera at start until still_hanging working facing clock note",
             "Fix where or when a camera hung. Whatever you leave out stays as it is.",
             "Correct it", "Save camera", ("deployment",)),
        Verb("takedown", "camera! on! working", "Take a camera down.",
             "Take it down", "Save", ("camera",)),
        Verb("remove", "deployment! only",
             "Delete a camera spot. `camsign undo` brings it back.",
             "Delete: wrong spot", "Delete it", ("deployment",)),
    ),
)  # fmt: skip

OUTAGE = Kind(
    "outage", "o", (
        _ID,
        Field("start", TIME, "when", "From", "Its first day, or day and time.", "from",
              ask="from when?", metavar="WHEN"),
        Field("stop", TIME, "when", "To", "Its last day, or day and time.", "to",
              ask="to when?", metavar="WHEN"),
        _note("Anything else."),
        GONE,
    ),
    verbs=(
        Verb("add", "camera! start! stop! note", "Mark days a camera was down."
             " Its nights then don't count as covered.", "Mark days it was down", "Mark it down",
             ("camera",)),
    ),
)  # fmt: skip

CLOCK_FIX = Kind(
    "clock_fix", "c", (
        Field("camera"), Field("deployment"), Field("kind"), Field("shown_from"),
        Field("shown_until"), Field("value", "JSON"), Field("reason"), Field("estimated", FLAG),
        Field("from_frame"), Field("until_frame"), GONE,
    ),
    table="clock_fixes",
)  # fmt: skip

BUCK = Kind(
    "buck", "b", (
        Field("buck", None, "text", help="A buck's name or id."),
        _name("a buck"),
        Field("traits", sort="long", label="How you know him", help="How you know him.",
              most=LONG),
        Field("age", DOUBLE, "number", "Age", "Years in that season."),
        Field("age_low", DOUBLE, "number", "at least", "At least this old."),
        Field("age_high", DOUBLE, "number", "at most", "At most this old."),
        Field("age_year", "INTEGER", "whole", "in season", word="season",
              help="The season he was that old in (that of his pictures if you leave it out)."),
        Field("age_basis", sort="long", label="How you know", word="basis",
              help="How you know his age.", most=LONG),
        Field("ended", sort="long", label="What became of him",
              help="What became of him.", most=LONG),
        Field("merged_into"),
        Field("linked", "VARCHAR[]"),
        Field("into", None, "text", help="Who he turned out to be.", ask="choose who he is"),
        Field("frames", None, "frames", help="The pictures that show the other one.",
              ask="choose the pictures that show the other one"),
        GONE,
    ),
    "age: years in the season age_year, with what it rests on. merged_into: the buck he turned out"
    " to be. linked: bucks of other logbooks who are he, as LOGBOOK/BUCK by their ids.",
    verbs=(
        Verb("add", "name! traits age age_low age_high age_basis age_year", "Add a buck.",
             args=("name",)),
        Verb("set", "buck! traits age age_low age_high age_basis age_year ended",
             "Set his age and looks. Whatever you leave out stays as it is.", args=("buck",)),
        Verb("rename", "buck! name!", "Give a buck another name.", args=("buck", "name")),
        Verb("merge", "buck! into!",
             "Same buck twice: make them one. `camsign undo` takes it back.",
             args=("buck", "into")),
        Verb("split", "buck! name! frames!",
             "Split one buck into two. `camsign undo` takes it back.",
             args=("buck", "name", "frames")),
        Verb("unlink", "buck!",
             "Not the same buck as in another logbook. Say it in the other one too.",
             args=("buck",)),
    ),
)  # fmt: skip

SIGN_KINDS = ("rub", "scrape", "bed", "track", "droppings", "trail", "browse", "shed")
BED_OF = ("buck", "doe", "unknown")
_SEEN = (
    Field("on", None, "day", "Seen on", "When it was seen.", "seen", "on",
          ask="on which day was it seen?", metavar="DAY"),
    Field("absent", None, "flag", help="It was not there."),
    Field("travel", None, "heading", "He was headed",
          "Which way he was headed: NE, 45, 60M (magnetic).",
          hint="NE, 45, 60M (magnetic)", metavar="BEARING"),
    Field("bare", None, "bearing", "or the rubbed side faces", "The side the bare wood is on.",
          hint="SW", metavar="BEARING", only="rub"),
    Field("state", None, "text", "How fresh", "How fresh it looks, such as fresh or gray.",
          hint="fresh, gray, not there"),
    Field("measures", None, "texts", "Measured", "Such as top=38in.", word="measure",
          metavar="NAME=VALUE", hint="top=38in, diameter=4in",
          note="A rub: top, bottom, tine, diameter, far marks (how far they wrap around the trunk)."
               " A bed or scrape: length, width."),
    Field("seen_note", None, "long", "Note on this look", "Anything else.", option="note",
          most=LONG),
)  # fmt: skip
_LOOK = "travel bare state measures bed_of seen_note"
SIGN = Kind(
    "sign", "s", (
        Field("sign", None, "text", help="The sign's id, from `camsign sign list`."),
        Field("other", None, "text", help="The sign that it is; this id stays."),
        Field("kind", sort="choice", label="Kind", choices=SIGN_KINDS, ask="what kind of sign?",
              help="rub, scrape, bed, track, droppings, trail, browse or shed."),
        *_at("Where (click on the map, or type)", "Where it is."),
        Field("species", sort="text", label="Tree", help="The tree.", most=60),
        Field("note", sort="long", label="Note", most=LONG),
        Field("source"),
        Field("habit"),
        Field("bed_of", sort="choice", label="Whose bed", help="Whose bed: buck, doe or unknown.",
              option="of", choices=BED_OF, only="bed", metavar="WHOSE"),
        GONE,
        *_SEEN,
    ),
    "A sign is where and what; each time it was looked at is a sighting.",
    verbs=(
        Verb("add", f"kind! at! on! {_LOOK} species note", "Add a piece of sign.", "Add sign",
             "Save sign", ("kind",)),
        Verb("again", f"sign! on! absent {_LOOK}", "Add another look at a sign. Gone on one day"
             " and there on the next: it was made in between.", "Look at it again",
             "Save this look", ("sign",)),
        Verb("same", "sign! other!", "Same sign twice: make them one."
             " Such as a rub hit again next season.", args=("sign", "other")),
        Verb("move", "sign! at!", "Move a sign.", "Move it", "Save place", ("sign",)),
        Verb("remove", "sign!", "Delete a sign. `camsign undo` brings it back.",
             "Remove it", "Remove this sign", ("sign",)),
    ),
)  # fmt: skip
SIGHTING = Kind(
    "sighting", "g", (
        Field("sign"), Field("seen_on", "DATE"), Field("made_from", "DATE"),
        Field("made_to", "DATE"), Field("state"), Field("travel_deg", DOUBLE), Field("taken_as"),
        Field("measures", "JSON", holds="table"), Field("note"), GONE,
    ),
)  # fmt: skip

AREA_KINDS = ("bedding", DOE_BEDDING, "feeding", "staging", "travel")
PLACE_KINDS = ("stand", "parking", "way in", "water", "food")
AREA = Kind(
    "area", "a", (
        Field("area", None, "text", help="The area's name or id."),
        _name("an area"),
        Field("kind", sort="choice", label="What they do there", choices=AREA_KINDS,
              help="bedding, doe bedding, feeding, staging or travel.",
              ask="what do they do there?"),
        Field("at", None, "place", "Its middle (click on the map, or type)",
              "The middle of a circle.", metavar=_AT),
        Field("radius", None, "length", "Reaches around it", "Such as 150yd or 120m.",
              ask="how far does it reach around?", metavar="LENGTH"),
        Field("corners", None, "outline", "Its corners"),
        SHAPE,
        GONE,
    ),
    'shape: {"circle": [lat, lon, radius_m]} or a GeoJSON geometry.',
    verbs=(
        Verb("add", "name! kind=bedding at radius corners", "Add a round area.", "Draw an area",
             "Save area", ("name",)),
        Verb("set", "area! name kind at radius corners",
             "Change an area. Whatever you leave out stays as it is.",
             "Change it", "Save area", ("area",)),
        Verb("rename", "area! name!", "Give an area another name.", args=("area", "name")),
        Verb("remove", "area!", "Delete an area. `camsign undo` brings it back.",
             "Remove it", "Remove it", ("area",)),
    ),
)  # fmt: skip
PLACE = Kind(
    "place", "p", (
        Field("place", None, "text", help="The place's name or id."),
        _name("a place"),
        Field("kind", sort="choice", label="Kind", choices=PLACE_KINDS,
              help="stand, parking, 'way in', water or food.", ask="what kind of place?"),
        Field("at", None, "path", "Where (click on the map, or type)",
              "Its point; several make a path.", ask="where?", metavar=_AT),
        SHAPE,
        Field("shoots", None, "length", "How far you shoot from it", "Of a stand, such as 30yd.",
              hint="30yd", metavar="LENGTH", only="stand"),
        Field("shoots_m", DOUBLE),
        GONE,
    ),
    "shoots_m: of a stand, how far one shoots from it.",
    verbs=(
        Verb("add", "kind! name! at! shoots", "Add a named point or path.", "Add a place",
             "Save place", ("kind", "name")),
        Verb("set", "place! name kind at shoots",
             "Change a place. Whatever you leave out stays as it is.",
             "Change it", "Save place", ("place",)),
        Verb("remove", "place!", "Delete a place. `camsign undo` brings it back.",
             "Remove it", "Remove it", ("place",)),
    ),
)  # fmt: skip

WALK = Kind(
    "walk", "w", (
        Field("name"), Field("started", TIME, holds="note of time"),
        Field("ended", TIME, holds="note of time"), SHAPE, Field("source"), GONE,
    ),
    "A path somebody walked while looking for sign: the effort behind what was found along it.",
)  # fmt: skip
WAYPOINT = Kind(
    "waypoint", "n", (
        Field("name"), Field("text"), Field("lat", DOUBLE), Field("lon", DOUBLE),
        Field("noted", TIME, holds="note of time"), Field("source"), GONE,
    ),
    "What a handheld's file held and nobody could sort: kept, so that nothing is lost.",
)  # fmt: skip
HABIT = Kind(
    "habit", "h", (
        Field("habit", None, "text", help="The habit's name or id."),
        Field("name"),
        Field("rubs", None, "texts", help="Rubs, by their ids from `camsign sign list`."),
        Field("buck", sort="text", help="Whose it is; none: nobody known."),
        Field("note"),
        GONE,
    ),
    "A way of rubbing that recurs (signs.habit): perhaps one buck's. buck: who people say it is.",
    verbs=(
        Verb("link", "habit! rubs!", "Put rubs together as one buck's habit."
             " A new name starts one.",
             args=("habit", "rubs")),
        Verb("unlink", "rubs!", "Take rubs out of their habit.", args=("rubs",)),
        Verb("give", "habit! buck",
             "Say whose habit it is; `camsign makers` counts it for him.",
             args=("habit", "buck")),
    ),
)  # fmt: skip
UNDERLAY = Kind(
    "underlay", "u", (
        Field("underlay", None, "text", help="The picture's name or id."),
        _name("a picture"),
        Field("file"),
        Field("pins", "JSON", "pins", "Pins", "A point of the picture and where it lies.",
              "pin", ask="which points of it lie where?", metavar="X,Y=LAT,LON", holds="pins"),
        GONE,
    ),
    "A picture of the user's own beneath the map: file lies in the logbook's maps/ folder. pins:"
    " known points as [x, y, lat, lon], x and y in the picture's own pixels.",
    verbs=(
        Verb("pin", "underlay! pins!", "Say where points of the picture are on the ground.",
             "Pin it", "Keep these pins", ("underlay",)),
        Verb("remove", "underlay!", "Take a picture off. `camsign undo` brings it back.",
             "Take it away", "Take this picture away", ("underlay",)),
    ),
)  # fmt: skip
REFERENCE_PICTURE = Kind(
    "reference_picture", "r", (Field("buck"), Field("frame"), Field("note"), GONE),
    "A picture that a person chose to know a buck by.",
)  # fmt: skip
MEASUREMENT = Kind(
    "measurement", "m", (
        Field("buck"), Field("frame"), Field("season", "INTEGER"), Field("kind"),
        Field("value_m", DOUBLE), Field("low_m", DOUBLE), Field("high_m", DOUBLE),
        Field("marks", "JSON", holds="table"), Field("yardstick", "JSON", holds="table"), GONE,
    ),
    "What a person measured on a picture. marks: named points [x, y] in the picture's own pixels,"
    " upright. yardstick: {name, low_m, high_m}, the known length it rests on. low_m, high_m: a"
    " range, no interval.",
)  # fmt: skip

THINGS = {
    kind.thing: kind
    for kind in (
        CAMERA, CARD, DEPLOYMENT, OUTAGE, CLOCK_FIX, BUCK, SIGN, SIGHTING, AREA, PLACE, WALK,
        WAYPOINT, HABIT, UNDERLAY, REFERENCE_PICTURE, MEASUREMENT, SIT, ENCOUNTER, PLAN,
    )
}  # fmt: skip
FIELDS = {thing: kind.columns for thing, kind in THINGS.items()}
TABLES = {thing: kind.stands_in for thing, kind in THINGS.items()}


def schema() -> str:
    """Give the schema as SQL: schema.sql with the tables of all things, made from the above."""
    text = Path(__file__).with_name("schema.sql").read_text(encoding="utf-8")
    return text.replace("-- {things}", "\n\n".join(_table(kind) for kind in THINGS.values()))


def _table(kind: Kind) -> str:
    said = "".join(f"-- {line}\n" for line in wrap(kind.about, 97))
    cells = [f"{name}~{sort}" for name, sort in {kind.thing: "VARCHAR", **kind.columns}.items()]
    inner = fill(", ".join(cells), 96, initial_indent="    ", subsequent_indent="    ").replace(
        "~", " "
    )
    return f"{said}CREATE TABLE {kind.stands_in} (\n{inner}\n);"
