"""The things that people describe field by field, and the DuckDB type of each field.

A journal line names a thing and sets some of its fields. Fields that are not listed here (said by a
newer version) stay in `field_edits` and are shown in no table. Each thing's table in schema.sql has
these columns behind its id; a test compares the two.
"""

from __future__ import annotations

FIELDS: dict[str, dict[str, str]] = {
    "camera": {"serials": "VARCHAR[]", "model": "VARCHAR", "note": "VARCHAR"},
    # taken_as: the cameras that receipts of this card name, where two friends took it in.
    "card": {"camera": "VARCHAR", "file_times": "BOOLEAN", "taken_as": "VARCHAR[]"},
    "deployment": {
        "camera": "VARCHAR",
        "lat": "DOUBLE",
        "lon": "DOUBLE",
        "hung": "TIMESTAMP",
        "taken_down": "TIMESTAMP",
        "worked_to_end": "BOOLEAN",
        "facing_deg": "DOUBLE",
        "clock": "VARCHAR",
        "tz": "VARCHAR",
        "note": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "outage": {
        "camera": "VARCHAR",
        "start": "TIMESTAMP",
        "stop": "TIMESTAMP",
        "note": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "clock_fix": {
        "camera": "VARCHAR",
        "deployment": "VARCHAR",
        "kind": "VARCHAR",
        "shown_from": "VARCHAR",
        "shown_until": "VARCHAR",
        "value": "JSON",
        "reason": "VARCHAR",
        "estimated": "BOOLEAN",
        "gone": "BOOLEAN",
    },
    "buck": {
        "name": "VARCHAR",
        "traits": "VARCHAR",
        "age": "DOUBLE",
        "age_low": "DOUBLE",
        "age_high": "DOUBLE",
        "age_year": "INTEGER",
        "age_basis": "VARCHAR",
        "ended": "VARCHAR",
        "merged_into": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "sign": {
        "kind": "VARCHAR",
        "lat": "DOUBLE",
        "lon": "DOUBLE",
        "species": "VARCHAR",
        "note": "VARCHAR",
        "source": "VARCHAR",
        "habit": "VARCHAR",
        "bed_of": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "sighting": {
        "sign": "VARCHAR",
        "seen_on": "DATE",
        "made_from": "DATE",
        "made_to": "DATE",
        "state": "VARCHAR",
        "travel_deg": "DOUBLE",
        "taken_as": "VARCHAR",
        "measures": "JSON",
        "note": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "area": {"name": "VARCHAR", "kind": "VARCHAR", "shape": "JSON", "gone": "BOOLEAN"},
    "place": {
        "name": "VARCHAR",
        "kind": "VARCHAR",
        "shape": "JSON",
        "shoots_m": "DOUBLE",
        "gone": "BOOLEAN",
    },
    "walk": {
        "name": "VARCHAR",
        "started": "TIMESTAMP",
        "ended": "TIMESTAMP",
        "shape": "JSON",
        "source": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "waypoint": {
        "name": "VARCHAR",
        "text": "VARCHAR",
        "lat": "DOUBLE",
        "lon": "DOUBLE",
        "noted": "TIMESTAMP",
        "source": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "habit": {"name": "VARCHAR", "buck": "VARCHAR", "note": "VARCHAR", "gone": "BOOLEAN"},
    "underlay": {"name": "VARCHAR", "file": "VARCHAR", "pins": "JSON", "gone": "BOOLEAN"},
    "reference_picture": {
        "buck": "VARCHAR",
        "frame": "VARCHAR",
        "note": "VARCHAR",
        "gone": "BOOLEAN",
    },
    "measurement": {
        "buck": "VARCHAR",
        "frame": "VARCHAR",
        "season": "INTEGER",
        "kind": "VARCHAR",
        "value_m": "DOUBLE",
        "low_m": "DOUBLE",
        "high_m": "DOUBLE",
        "marks": "JSON",
        "yardstick": "JSON",
        "gone": "BOOLEAN",
    },
}

TABLES = {thing: "sightings" if thing == "sighting" else thing + "s" for thing in FIELDS}
TABLES["clock_fix"] = "clock_fixes"
TABLES["sign"] = "signs"
TABLES["card"] = "card_words"
# What one camera was said to do twice counts once: `deployments` is derived from what was said.
TABLES["deployment"] = "deployments_said"
