"""Whose card it is: what speaks for which camera, and what follows when it does not agree.

Evidence, in this order: the pictures themselves if the logbook holds them already; a serial number
that a known camera owns; a rule of logbook.toml; a known camera's ID in the owner's name, the
comment or the description; the nearest folder, or the volume label, that names a known camera. The
model speaks only when nothing else does and only one camera that hangs can be of it. Two that
contradict each other settle nothing.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from types import MappingProxyType

from camsign.errors import UsageError
from camsign.flows.intake.known import SAID, Hanging, Known
from camsign.formats.patterns import checked
from camsign.logbook import naming
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


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whose it is, or None, and why; `conflict`: the evidence disagrees."""

    camera: str | None
    why: str
    conflict: bool = False


class Witness:
    """Takes down what each picture of one dump says."""

    def __init__(self, known: Known, rules: Sequence[CameraRule], names: Sequence[str]) -> None:
        self._known = known
        self._rules = [(r.field, _compiled(r)) for r in rules]
        self._names = tuple(names)
        self._tokens = {c: _tokens(c) for c in known.cameras}
        self._folders: dict[str, tuple[Evidence, ...]] = {}

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
        found = [*self._serial(facts), *self._rule(facts), *self._text(facts), *self._name(facts)]
        found += self._folder(folder)
        found = found or self._model(facts)
        place = "" if found else folder
        return Signature(tuple(found), facts.serial or "", facts.model or "", place)

    def _serial(self, facts: FrameFacts) -> list[Evidence]:
        cameras = self._known.by_serial.get(facts.serial, frozenset()) if facts.serial else ()
        if not cameras:
            return []
        names = " or ".join(sorted(cameras))
        return [Evidence("serial", tuple(sorted(cameras)), f"serial {facts.serial} is {names}'s")]

    def _rule(self, facts: FrameFacts) -> list[Evidence]:
        for name, pattern in self._rules:
            text = facts.card_path.rpartition("/")[2] if name == "name" else getattr(facts, name)
            match = pattern.search(text or "")
            if match:
                found = self._spelled((match[1] if pattern.groups else match[0]) or "")
                if found:
                    return [Evidence("rule", (found,), f"the {name} says {found}, by your rule")]
        return []

    def _spelled(self, said: str) -> str:
        """A camera's ID in the spelling that the logbook has for it."""
        for camera in self._known.cameras:
            if naming.key(camera) == naming.key(said):
                return camera
        return " ".join(said.split())

    def _text(self, facts: FrameFacts) -> list[Evidence]:
        found = []
        for name in ("owner", "comment", "description"):
            camera = self._named_in(getattr(facts, name) or "")
            if camera:
                found.append(Evidence(name, (camera,), f"the {name} names {camera}"))
        return found

    def _name(self, facts: FrameFacts) -> list[Evidence]:
        """A camera's ID in a file's own name, as radio cameras send it; numbers alone are none."""
        camera = self._named_in(facts.card_path.rpartition("/")[2])
        if not camera or _COUNTED.fullmatch(camera):
            return []
        return [Evidence(NAME, (camera,), f"the files' own names say {camera}")]

    def _named_in(self, text: str) -> str:
        """The known camera whose ID stands in the text in whole words; "" if none or several do."""
        if not text:
            return ""
        words = f" {_tokens(text)} "
        named = [c for c, tokens in self._tokens.items() if tokens and f" {tokens} " in words]
        longest = [c for c in named if not any(_within(c, o, self._tokens) for o in named)]
        return longest[0] if len(longest) == 1 else ""

    def _folder(self, folder: str) -> list[Evidence]:
        if folder not in self._folders:
            inside = [p for p in folder.split("/") if p]
            self._folders[folder] = tuple(self._nearest([*self._names, *inside]))
        return list(self._folders[folder])

    def _nearest(self, names: Sequence[str]) -> list[Evidence]:
        for name in reversed(names):
            if is_default_name(name):
                continue
            camera = self._named_in(name)
            if camera:
                return [Evidence("folder", (camera,), f"the folder or card is called {name}")]
        return []

    def _model(self, facts: FrameFacts) -> list[Evidence]:
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


def decide(signature: Signature, known: Known) -> Verdict:
    """Weigh one signature: all that speaks must leave the same one camera."""
    for answer in known.answers:
        if answer.signature == signature.key:
            return Verdict(answer.camera, f"as you said of card {answer.card}")
    if not signature.evidence:
        return Verdict(None, "nothing on it names a camera that is known")
    left = set(signature.evidence[0].cameras)
    for evidence in signature.evidence[1:]:
        left &= set(evidence.cameras)
    words = "; ".join(e.words for e in signature.evidence)
    if len(left) == 1:
        return Verdict(left.pop(), words)
    if not left:
        return Verdict(None, f"it contradicts itself: {words}", conflict=True)
    return Verdict(None, f"it may be {' or '.join(sorted(left))}: {words}", conflict=True)


def settle(
    signatures: Iterable[Signature],
    known: Known,
    said: Mapping[Signature, str] = MappingProxyType({}),
) -> dict[Signature, Verdict]:
    """Weigh all signatures of one dump together; `said` are a person's answers for some of them.

    Pictures that say nothing follow the others of the dump if those are all one camera's. Two
    serial numbers under one name are two bodies until somebody says otherwise.
    """
    verdicts = {
        s: Verdict(said[s], f"{SAID} when asked") if s in said else decide(s, known)
        for s in signatures
    }
    _two_bodies(verdicts, said)
    _against_logbook(verdicts, said)
    cameras = {v.camera for v in verdicts.values() if v.camera}
    if len(cameras) != 1:
        return verdicts
    (only,) = cameras
    for signature, verdict in verdicts.items():
        if verdict.camera is None and not verdict.conflict and _may_follow(signature, verdicts):
            verdicts[signature] = Verdict(only, f"the rest of the card is {only}'s")
    return verdicts


def _may_follow(signature: Signature, verdicts: Mapping[Signature, Verdict]) -> bool:
    """A picture of another serial number or model than the rest's does not follow it."""
    decided = [s for s, v in verdicts.items() if v.camera]
    serials = {s.serial for s in decided if s.serial}
    models = {s.model for s in decided if s.model}
    strange = bool(signature.serial and serials and signature.serial not in serials)
    return not strange and (not signature.model or not models or signature.model in models)


def _two_bodies(verdicts: dict[Signature, Verdict], said: Mapping[Signature, str]) -> None:
    """One name over two serial numbers, of which one is new, is a conflict."""
    serials: dict[str | None, set[str]] = {}
    for s, v in verdicts.items():
        serials.setdefault(v.camera, set()).update({s.serial} - {""})
    for s, v in list(verdicts.items()):
        settled = not s.serial or s in said or _says(s, "serial") or _says(s, "logbook")
        if v.camera and not settled and len(serials[v.camera]) > 1:
            numbers = " and ".join(sorted(serials[v.camera]))
            why = f"pictures of two bodies (serials {numbers}) lie under {v.camera}"
            verdicts[s] = Verdict(None, why, conflict=True)


def _against_logbook(verdicts: dict[Signature, Verdict], said: Mapping[Signature, str]) -> None:
    """Pictures that only their folder gives a camera must not part from those already known."""
    known = {v.camera for s, v in verdicts.items() if _says(s, "logbook")}
    if not known:
        return
    for s, v in verdicts.items():
        only_folder = all(e.source in ("folder", "model") for e in s.evidence)
        if v.camera and v.camera not in known and only_folder and s not in said:
            names = " and ".join(sorted(c for c in known if c))
            why = f"it contradicts itself: {v.why}; others on it are in the logbook as {names}'s"
            verdicts[s] = Verdict(None, why, conflict=True)


def _says(signature: Signature, source: str) -> bool:
    return any(e.source == source for e in signature.evidence)


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


def _within(camera: str, other: str, tokens: Mapping[str, str]) -> bool:
    """Whether one ID is only a part of another, longer one."""
    return (
        len(tokens[camera]) < len(tokens[other]) and f" {tokens[camera]} " in f" {tokens[other]} "
    )


def _hung(span: Hanging, moment: str) -> bool:
    """Whether a camera hung at a clock reading, give or take what a clock may be wrong."""
    if not moment:
        return not span.until
    at = datetime.fromisoformat(moment)
    if at < datetime.fromisoformat(span.since) - _CLOCK_SLACK:
        return False
    return not span.until or at <= datetime.fromisoformat(span.until) + _CLOCK_SLACK
