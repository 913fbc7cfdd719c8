"""What a picture says of its camera.

Evidence, in this order: the pictures themselves if the logbook holds them already; a serial number
that a known camera owns; a rule of logbook.toml; a known camera's ID in the owner's name, the
comment or the description; the nearest folder, or the volume label, that names a known camera.
Where nothing else speaks: the strips printed in a folder's pictures, where all those looked at name
the same camera; then the model, if only one camera that hangs can be of it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from camsign.errors import UsageError
from camsign.flows.intake.known import Hanging, Known
from camsign.formats.patterns import checked
from camsign.logbook.records import FrameFacts
from camsign.logbook.settings import CameraRule

_DCF_FOLDER = re.compile(r"[1-9]\d\d[A-Z0-9_]{5}", re.IGNORECASE)  # CIPA DC-009, 3.2.2
_DEFAULT_LABEL = re.compile(
    r"no name|sd[ _-]?card\d*|untitled( \d+)?|new volume|volume|disk|removable( disk)?|media|usb"
    r"( drive| disk)?|usbdisk|boot|dcim|sdxc|sdhc|sd|mmc|card|[0-9a-f]{4}-[0-9a-f]{4}|[a-z]_drive",
    re.IGNORECASE,
)
_FIELDS = ("comment", "description", "owner", "model", "serial", "name")
_COUNTED = re.compile(r"\d+|img|dsc[fn]?|mvi|pict|stc|mov|vid|pxl|cimg", re.IGNORECASE)
NAME = "name"
"""The source of evidence from a file's own name."""

_CLOCK_SLACK = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Evidence:
    """One thing that speaks for a camera, or for one of several; `words` is for people."""

    source: str
    cameras: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Signature:
    """What a picture says of its camera; a card's pictures with one signature are one camera's.

    `place` is the folder on the card where nothing else speaks, else "".
    """

    evidence: tuple[Evidence, ...]
    serial: str = ""
    model: str = ""
    place: str = ""

    @property
    def key(self) -> str:
        """A short text to remember an answer by: the same for a card that says the same again.

        Whose a serial number is changes with every answer, so only the number itself counts.
        """
        says = [[e.source, *e.cameras] for e in self.evidence if e.source != "serial"]
        text = json.dumps([says, self.serial, self.model, self.place])
        return hashlib.sha256(text.encode()).hexdigest()[:16]


class Witness:
    """Takes down what each picture of one dump says.

    `strips`: by folder of the dump, the words that all strips looked at in it have in common.
    """

    def __init__(self, known: Known, rules: Sequence[CameraRule], names: Sequence[str]) -> None:
        self._known = known
        self._rules = [(r.field, _compiled(r)) for r in rules]
        self._names = tuple(names)
        self._tokens = {c: said for c in known.cameras if (said := _tokens(c))}
        self._folders: dict[str, list[Evidence]] = {}
        self.strips: Mapping[str, str] = {}

    def hear(self, facts: FrameFacts, known_as: str | None) -> Signature:
        """Take down what one picture says.

        Args:
            facts: its row.
            known_as: the camera under which the logbook holds this very picture already.
        """
        folder = facts.card_path.rpartition("/")[0]
        if known_as is not None:
            seen = Evidence(
                "logbook", (known_as,), f"its pictures are in the logbook as {known_as}'s"
            )
            return Signature((seen,), facts.serial or "", facts.model or "")
        found = []
        if cameras := sorted(self._known.by_serial.get(facts.serial or "", ())):
            words = f"serial {facts.serial} is {' or '.join(cameras)}'s"
            found.append(Evidence("serial", tuple(cameras), words))
        found += self._rule(facts) if self._rules else []
        found += self._text(facts)
        if folder not in self._folders:
            inside = [p for p in folder.split("/") if p]
            self._folders[folder] = self._nearest([*self._names, *inside])
        found += self._folders[folder]
        found = found or self._faint(facts, folder)
        place = "" if found else folder
        return Signature(tuple(found), facts.serial or "", facts.model or "", place)

    def _rule(self, facts: FrameFacts) -> list[Evidence]:
        for name, pattern in self._rules:
            text = facts.card_path.rpartition("/")[2] if name == "name" else getattr(facts, name)
            match = pattern.search(text or "")
            if match:
                found = self._known.spelled((match[1] if pattern.groups else match[0]) or "")
                if found:
                    return [Evidence("rule", (found,), f"the {name} says {found}, by your rule")]
        return []

    def _text(self, facts: FrameFacts) -> list[Evidence]:
        """A camera's ID in what was written into the picture, or in its file's own name.

        Radio cameras send such names; one of numbers alone is none.
        """
        found = []
        for name in ("owner", "comment", "description"):
            camera = self._named_in(getattr(facts, name) or "")
            if camera:
                found.append(Evidence(name, (camera,), f"the {name} names {camera}"))
        camera = self._named_in(facts.card_path.rpartition("/")[2])
        if camera and not _COUNTED.fullmatch(camera):
            found.append(Evidence(NAME, (camera,), f"the files' own names say {camera}"))
        return found

    def _named_in(self, text: str) -> str:
        """The known camera whose ID stands in the text in whole words; "" if none or several do."""
        if not text:
            return ""
        words = f" {_tokens(text)} "
        named = {c: f" {said} " for c, said in self._tokens.items() if f" {said} " in words}
        # One that is only a part of another, longer one is not meant.
        every = named.values()
        longest = [c for c, s in named.items() if not any(s != o and s in o for o in every)]
        return longest[0] if len(longest) == 1 else ""

    def _nearest(self, names: Sequence[str]) -> list[Evidence]:
        for name in reversed(names):
            if is_default_name(name):
                continue
            camera = self._named_in(name)
            if camera:
                return [Evidence("folder", (camera,), f"the folder or card is called {name}")]
        return []

    def _faint(self, facts: FrameFacts, folder: str) -> list[Evidence]:
        """What counts where nothing else speaks: the printed strips, else the model."""
        camera = self._named_in(self.strips.get(folder, ""))
        if camera and not _COUNTED.fullmatch(camera):
            return [Evidence("strip", (camera,), f"the strip in its pictures says {camera}")]
        if not facts.model:
            return []
        moment = (facts.shown or "")[:19]
        hanging = {h.camera for h in self._known.hanging if _hung(h, moment)}
        models = self._known.models
        if any(not models.get(c) for c in hanging):
            return []  # a camera of unknown model may be the one
        of_it = [c for c in hanging if facts.model in models[c]]
        if len(of_it) != 1:
            return []
        words = f"{of_it[0]} is the only {facts.model} that hangs"
        return [Evidence("model", (of_it[0],), words)]


def is_default_name(name: str) -> bool:
    """Say whether a folder or volume label is one that systems and cameras give by themselves."""
    return bool(_DCF_FOLDER.fullmatch(name) or _DEFAULT_LABEL.fullmatch(name))


def _compiled(rule: CameraRule) -> re.Pattern[str]:
    if rule.field not in _FIELDS:
        raise UsageError(
            f"the rule for {rule.field!r} in logbook.toml names no field",
            f"use one of {', '.join(_FIELDS)}",
        )
    try:
        return checked(rule.pattern)
    except ValueError as e:
        raise UsageError(
            f"the pattern {rule.pattern!r} in logbook.toml cannot be read ({e})", "mend it"
        ) from e


def _tokens(text: str) -> str:
    return " ".join(re.findall(r"\w+", text.casefold().replace("_", " ")))


def _hung(span: Hanging, moment: str) -> bool:
    """Whether a camera hung at a clock reading, give or take what a clock may be wrong."""
    if not moment:
        return not span.until
    at = datetime.fromisoformat(moment)
    if at < datetime.fromisoformat(span.since) - _CLOCK_SLACK:
        return False
    return not span.until or at <= datetime.fromisoformat(span.until) + _CLOCK_SLACK
