"""Whose pictures a dump holds: what all the evidence comes to, and what a person answers.

Two that contradict each other settle nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import MappingProxyType

from camsign.errors import InputRefused, quoted
from camsign.flows.intake.card_files import CardFile, Dump
from camsign.flows.intake.evidence import NAME, Signature, Witness
from camsign.flows.intake.known import SAID, Known
from camsign.flows.intake.one_file import Item, Job, examine
from camsign.flows.intake.read import LARGE, NO_PICTURE
from camsign.flows.intake.result import CardTaken, Question
from camsign.flows.intake.strips import words_of_folders
from camsign.logbook import naming
from camsign.logbook.receipts import Left
from camsign.logbook.records import FrameFacts
from camsign.units import counted

_FLEETING = ("logbook", "serial")  # evidence that the answer itself changes


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whose it is, or None, and why; `conflict`: the evidence disagrees."""

    camera: str | None
    why: str
    conflict: bool = False


@dataclass(slots=True)
class Group:
    """The pictures of one signature: how many, and the first."""

    number: int
    facts: FrameFacts
    path: str
    frames: int = 0


class Whose:
    """The question of one dump: its groups, what was decided of each, and the answers."""

    def __init__(self, job: Job, dump: Dump) -> None:
        self.groups: dict[Signature, Group] = {}
        self.verdicts: dict[Signature, Verdict] = {}
        self._job, self._dump, self._camera = job, dump, job.camera
        self._witness = Witness(job.known, job.folder.settings.camera_rules, dump.names)
        self._answers: dict[Signature, str] = {}
        self._declined: set[Signature] = set()

    def survey(self, per_folder: int = 3, folders: int = 40) -> list[Item]:
        """Learn from a few files of each folder whose card it is, before anything is copied.

        The first, the middle and the last of a folder are described; nothing is written.
        """
        by_folder: dict[str, list[CardFile]] = {}
        for file in self._dump.files:
            by_folder.setdefault(file.card_path.rpartition("/")[0], []).append(file)
        chosen: list[CardFile] = []
        for files in list(by_folder.values())[:folders]:
            last, parts = len(files) - 1, max(1, per_folder - 1)
            places = {round(i * last / parts) for i in range(per_folder)}
            chosen += [files[n] for n in sorted(places)]
        job = self._job
        small = [file for file in chosen if file.bytes <= LARGE]
        found = job.executor.map(partial(examine, job), small)
        items = [item for item, _ in found if isinstance(item, Item)]
        if self._camera is None:
            new = (item for item in items if item.before is None)
            silent = [item for item in new if not self._witness.hear(item.row, None).evidence]
            self._witness.strips = words_of_folders(job, silent)
        for item in items:
            self.hear(item)
        self.decide()
        for group in self.groups.values():
            group.frames = 0  # all will be heard again
        return items

    def hear(self, item: Item) -> None:
        """Take down what one picture says; note its group's number."""
        signature = self._witness.hear(item.row, item.before.camera if item.before else None)
        group = self.groups.get(signature)
        if group is None:
            group = self.groups[signature] = Group(len(self.groups), item.row, item.file.path)
        group.frames += 1
        item.group = group.number

    def decide(self) -> None:
        """Weigh what was heard, and ask about what that leaves open."""
        if self._camera is not None:
            why = f"{SAID} with --camera"
            self.verdicts = {s: Verdict(self._camera, why) for s in self.groups}
            return
        known, ask = self._job.known, self._job.ask
        self.verdicts = settle(self.groups, known, self._answers)
        while ask and (left := [s for s in self.open_groups() if s not in self._declined]):
            answer = ask(self._question(left[0]))
            if answer is None:
                self._declined.add(left[0])
            else:
                self._answers[left[0]] = known.spelled(naming.cleaned(answer, "camera"))
                self.verdicts = settle(self.groups, known, self._answers)

    def _question(self, signature: Signature) -> Question:
        group, verdict = self.groups[signature], self.verdicts[signature]
        named = {c for e in signature.evidence for c in e.cameras}
        return Question(
            source=self._dump.root,
            picture=Path(group.path),
            frames=group.frames,
            facts=group.facts,
            why=verdict.why,
            conflict=verdict.conflict,
            candidates=tuple(sorted(named)),
            cameras=self._job.known.cameras,
        )

    def open_groups(self) -> list[Signature]:
        """The groups whose camera is not known."""
        return [s for s, v in self.verdicts.items() if v.camera is None]

    def speaks_for(self) -> set[str]:
        """The cameras for which the new pictures speak by themselves, whatever was said."""
        alone = settle(self.groups, self._job.known)
        return {v.camera for s, v in alone.items() if v.camera and not _says(s, "logbook")}

    def cameras(self) -> dict[str, list[Signature]]:
        """The groups of each camera, in the order in which they were met."""
        found: dict[str, list[Signature]] = {}
        for signature, verdict in self.verdicts.items():
            if verdict.camera is not None:
                found.setdefault(verdict.camera, []).append(signature)
        return found

    def answered(self, signatures: list[Signature]) -> list[str]:
        """The keys by which the answers for these groups are remembered.

        Only a card that says something can be told from others that say nothing; and a serial
        number that two cameras own may be any camera's, whatever was said of one card.
        """
        asked = [s for s in signatures if self._camera is not None or s in self._answers]
        says = [s for s in asked if any(e.source not in _FLEETING for e in s.evidence)]
        alone = {s: settle([s], self._job.known)[s].camera for s in says}
        return sorted({s.key for s in says if alone[s] != self.verdicts[s].camera})

    def refuse(self, left: Sequence[Left] | None = None) -> None:
        """Refuse if there are pictures, and of none it is known whose they are.

        If one camera was said for all: if they speak for several, if a file's name names another,
        or if that one is not known and the card speaks for one that is. `left`: what cannot be
        taken in, once all was heard; then it is refused without pictures too.

        Raises:
            InputRefused: one line on what is not known and what would settle it.
        """
        if left is not None and not self.groups:
            raise self._nothing(left)
        if self._camera is None:
            self._refuse_unknown()
            return
        if len(cameras := self.speaks_for()) > 1:
            raise several(str(self._dump.root), self._camera, cameras)
        self._refuse_stranger(self._camera)
        for signature, group in self.groups.items():
            for evidence in signature.evidence:
                if evidence.source == NAME and self._camera not in evidence.cameras:
                    name = group.facts.card_path.rpartition("/")[2]
                    raise InputRefused(
                        f"{self._dump.root}: you said {self._camera}, but the name of {name} says"
                        f" {evidence.cameras[0]}",
                        "leave --camera out, and each goes to the camera that its name says",
                    )

    def _nothing(self, left: Sequence[Left]) -> InputRefused:
        what = f"{self._dump.root} holds no picture or clip"
        if not left:
            return InputRefused(what, "name the card's folder")
        if all(one.why.startswith(NO_PICTURE) for one in left):
            files = counted(len(left), "file")
            none = f"no trail-camera pictures in {self._dump.root}: {files}, no picture or clip"
            return InputRefused(none, "name the card's folder")
        first = f"(the first of {len(left)}: {left[0].file}: {left[0].why})"
        return InputRefused(
            f"{what} that can be taken in {first}", "check the card in another reader"
        )

    def _refuse_stranger(self, said: str) -> None:
        cameras = self._job.known.cameras
        if said in cameras:
            return
        for verdict in settle(self.groups, self._job.known).values():
            if verdict.camera in cameras:
                raise InputRefused(
                    f"{self._dump.root}: you said {said}, which this logbook doesn't have, but "
                    f"{verdict.why}",
                    f"say --camera {quoted(str(verdict.camera))}; if {said} is a new camera, say "
                    f"first where it hung: camsign hang {quoted(said)} --at LAT,LON --from DAY",
                )

    def _refuse_unknown(self) -> None:
        if not self.groups or self.cameras():
            return
        signature = self.open_groups()[0]
        verdict, group = self.verdicts[signature], self.groups[signature]
        root = str(self._dump.root)
        raise InputRefused(
            f"{root}: can't tell which camera this card is from: {verdict.why}"
            f" (first picture: {group.facts.card_path})",
            f"tell us: camsign ingest {quoted(root)} --camera {_choice(signature)}",
        )

    def undecided(self) -> list[Left]:
        """What stays on the card since nobody knows whose it is, group by group."""
        left = []
        for signature in self.open_groups():
            group, why = self.groups[signature], self.verdicts[signature].why
            more = f" and {group.frames - 1} more" if group.frames > 1 else ""
            again = f"run it again with --camera {_choice(signature)}"
            path = f"{group.facts.card_path}{more}"
            left.append(Left(path, f"can't tell which camera took them ({why}); {again}"))
        return left

    def objections(self, cards: Sequence[CardTaken]) -> list[str]:
        """What speaks against the camera that was named for all; `cards`: what the dump made."""
        if self._camera is None:
            return []
        alone = settle(self.groups, self._job.known).values()
        against = sorted({v.why for v in alone if v.camera not in (None, self._camera)})
        if against and not any(card.new for card in cards):
            whose = " and ".join(sorted({str(v.camera) for v in alone if v.camera}))
            really = f"if it really is {self._camera}'s"
            there = [one.card for one in cards if one.folder]
            sets = [f"camsign cards set {c} --camera {quoted(self._camera)}" for c in there]
            move = "; ".join(sets) or "find it with camsign cards list"
            return [f"loaded already, as {whose}: nothing changed; {really}: {move}"]
        return [f"taken as {self._camera} because you said so, although {why}" for why in against]


def several(where: str, said: str, cameras: Iterable[str]) -> InputRefused:
    """Say that one camera was said for pictures that speak for several."""
    return InputRefused(
        f"{where}: you said {said}, but there are pictures from {' and '.join(sorted(cameras))}",
        "leave the camera out, and each goes to its own",
    )


def _choice(signature: Signature) -> str:
    named = sorted({c for e in signature.evidence for c in e.cameras})
    return " or ".join(quoted(c) for c in named) if named else "ID"


def _weighed(signature: Signature, known: Known) -> Verdict:
    """Weigh one signature: all that speaks must leave the same one camera."""
    for answer in known.answers:
        if answer.signature == signature.key:
            return Verdict(answer.camera, f"as you said of card {answer.card}")
    if not signature.evidence:
        return Verdict(None, "nothing on it names a camera you have")
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
        s: Verdict(said[s], f"{SAID} when asked") if s in said else _weighed(s, known)
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
