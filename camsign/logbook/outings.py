"""The kinds of things said of sits: the sit itself, what was met on it, what was planned."""

from __future__ import annotations

from camsign.logbook.fields import LONG, Field, Kind, Verb

_SAW = "Such as 8pt 40yd E 4:40pm; 2 does 60yd."
SIT = Kind(
    "sit", "t", (
        Field("sit", None, "text", help="The sit's id, from `camsign sit list`."),
        Field("stand", sort="text", label="Stand", help="The stand's name or id.", most=90,
              ask="which stand did you sit?"),
        Field("on", None, "day", "Day", "The day of the sit.", ask="on which day?", metavar="DAY"),
        Field("hours", None, "text", "From and to", "Such as 3-dark, light-9:30 or 3pm-5:15pm.",
              ask="from when to when?", metavar="FROM-TO", hint="3-dark"),
        Field("start", "TIMESTAMP"), Field("stop", "TIMESTAMP"),
        Field("wind", None, "text", "Wind", "Such as SW 6mph, or calm.", hint="SW 6"),
        Field("wind_deg", "DOUBLE"), Field("wind_ms", "DOUBLE"),
        Field("saw", None, "long", "What you saw", f"{_SAW} Without it: nothing.", most=LONG,
              hint="8pt 40yd E 4:40pm; 2 does"),
        Field("spooked", None, "long", "What you spooked", "The same way: 2 does 5pm.", most=LONG,
              hint="doe 5:05pm"),
        Field("note", sort="long", label="Note", help="Anything else.", most=LONG),
        Field("gone", "BOOLEAN"),
    ),
    "An evening or morning on a stand: the effort behind what was seen from there, kept apart from"
    " the cameras' watch. stand: the place's id. wind_deg: where it came from; wind_ms 0 is calm.",
    verbs=(
        Verb("add", "stand! on! hours! wind saw spooked note", "Save a sit in your journal.",
             "Add a sit", "Save sit", ("stand",)),
        Verb("set", "sit! stand on hours wind saw spooked note",
             "Correct a sit. Whatever you leave out stays; --saw or --spooked replaces all of it.",
             "Correct it", "Save sit", ("sit",)),
        Verb("remove", "sit!", "Delete a sit. `camsign undo` brings it back.",
             "Remove it", "Remove this sit", ("sit",)),
    ),
)  # fmt: skip
ENCOUNTER = Kind(
    "encounter", "e", (
        Field("sit"), Field("what"), Field("buck"), Field("points", "INTEGER"),
        Field("mature", "BOOLEAN"), Field("count", "INTEGER"), Field("seen_at", "TIMESTAMP"),
        Field("from_deg", "DOUBLE"), Field("distance_m", "DOUBLE"), Field("spooked", "BOOLEAN"),
        Field("note"), Field("gone", "BOOLEAN"),
    ),
    "Who was seen on a sit. what: the word for it; buck: who, if he has a name. from_deg: where it"
    " came from. spooked: it noticed you and left.",
)  # fmt: skip
PLAN = Kind(
    "plan", "q", (
        Field("stand"), Field("day", "DATE"), Field("part"), Field("asked", "TIMESTAMP"),
        Field("chance", "DOUBLE"), Field("low", "DOUBLE"), Field("high", "DOUBLE"),
        Field("scent"), Field("wind_deg", "DOUBLE"), Field("wind_ms", "DOUBLE"),
        Field("gone", "BOOLEAN"),
    ),
    "What `tonight --sit STAND` said beforehand, kept for `review`. chance, low, high: that any"
    " buck asked for comes into range. asked: when that was said.",
)  # fmt: skip
