"""What one line of the journal can say. An act is a line; it holds one or more edits.

`SetFields` sets fields of one thing (a deployment, a buck, a sign…); the last word wins per field.
`TagFrames` and `UntagFrames` speak of frames in batches. `TakeBack` undoes earlier acts.
"""

from __future__ import annotations

import secrets
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class SetFields:
    """Set `fields` of the `thing` (its kind, as in `things.FIELDS`) with this id."""

    thing: str
    id: str
    fields: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Subject:
    """Who or what a tag is about: a buck by his id, or a what with species, sex and stage."""

    what: str
    buck_id: str | None = None
    species: str | None = None
    sex: str | None = None
    stage: str | None = None

    @property
    def key(self) -> str:
        """One text per subject: a frame has at most one tag for each."""
        if self.buck_id:
            return f"buck:{self.buck_id}"
        return "/".join([self.what, self.species or "", self.sex or "", self.stage or ""])


@dataclass(frozen=True, slots=True)
class TagFrames:
    """Say that `subject` is in each of `frames` (16 hex digits each).

    `nothing` takes off what its writer said; what others said needs an `UntagFrames` beside it. In
    lines without the mark `own`, which older versions wrote, it takes off what anybody said.
    """

    subject: Subject
    frames: Sequence[str]
    count: int = 1
    travel_deg: float | None = None
    sure: str | None = None


@dataclass(frozen=True, slots=True)
class UntagFrames:
    """Take the tag of one subject (by its key), or with None every tag, from `frames`."""

    subject_key: str | None
    frames: Sequence[str]


@dataclass(frozen=True, slots=True)
class TakeBack:
    """Make earlier acts as if never said; taking back a `TakeBack` says them again."""

    acts: Sequence[str]


Edit = SetFields | TagFrames | UntagFrames | TakeBack


def to_json(edit: Edit) -> dict[str, Any]:
    """Give an edit as it stands in the journal."""
    match edit:
        case SetFields():
            return {"set": edit.thing, "id": edit.id, "to": dict(edit.fields)}
        case UntagFrames():
            return {"untag": edit.subject_key, "frames": list(edit.frames)}
        case TakeBack():
            return {"undo": list(edit.acts)}
    s = edit.subject
    tag: dict[str, Any] = {"what": s.what, "buck": s.buck_id, "species": s.species}
    tag |= {"sex": s.sex, "stage": s.stage, "count": edit.count}
    tag |= {"travel_deg": edit.travel_deg, "sure": edit.sure}
    tag |= {"own": s.what == NOTHING or None}
    said = {name: value for name, value in tag.items() if value is not None}
    return {"tag": said, "frames": list(edit.frames)}


def new_id(letter: str) -> str:
    """Give a random permanent id such as d-3f9a2c1b."""
    return f"{letter}-{secrets.token_hex(4)}"
