"""Whose pictures a dump holds: from what each says, and from what a person answers."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from camsign.flows.intake.card_files import Dump, Listing
from camsign.flows.intake.evidence import NAME, Signature, Verdict, Witness, settle
from camsign.flows.intake.known import SAID, Known
from camsign.flows.intake.result import Question
from camsign.logbook import naming
from camsign.logbook.records import FrameFacts

_FLEETING = ("logbook", "serial")  # evidence that the answer itself changes

Ask = Callable[[Question], str | None]


@dataclass(slots=True)
class Group:
    """The pictures of one signature: how many, and the first."""

    number: int
    facts: FrameFacts
    path: str
    frames: int = 0


@dataclass(slots=True)
class Case:
    """The question of one dump: its groups, a camera that was named for all, and the answers."""

    dump: Dump
    known: Known
    witness: Witness
    camera: str | None = None
    ask: Ask | None = None
    groups: dict[Signature, Group] = field(default_factory=dict)
    answers: dict[Signature, str] = field(default_factory=dict)
    declined: set[Signature] = field(default_factory=set)
    verdicts: dict[Signature, Verdict] = field(default_factory=dict)

    def hear(self, facts: FrameFacts, path: str, known_as: str | None) -> int:
        """Take down what one picture says; give its group's number."""
        signature = self.witness.hear(facts, known_as)
        group = self.groups.get(signature)
        if group is None:
            group = self.groups[signature] = Group(len(self.groups), facts, path)
        group.frames += 1
        return group.number

    def count_anew(self) -> None:
        """Forget how often each signature was met, not what was decided."""
        for group in self.groups.values():
            group.frames = 0

    def decide(self) -> None:
        """Weigh what was heard, and ask about what that leaves open."""
        if self.camera is not None:
            why = f"{SAID} with --camera"
            self.verdicts = {s: Verdict(self.camera, why) for s in self.groups}
            return
        self.verdicts = settle(self.groups, self.known, self.answers)
        while self.ask is not None and (unsettled := self._next_question()):
            answer = self.ask(self._question(unsettled))
            if answer is None:
                self.declined.add(unsettled)
            else:
                self.answers[unsettled] = spelled(answer, self.known)
                self.verdicts = settle(self.groups, self.known, self.answers)

    def _next_question(self) -> Signature | None:
        return next((s for s in self.open_groups() if s not in self.declined), None)

    def _question(self, signature: Signature) -> Question:
        group, verdict = self.groups[signature], self.verdicts[signature]
        named = {c for e in signature.evidence for c in e.cameras}
        return Question(
            source=self.dump.root,
            picture=Path(group.path),
            frames=group.frames,
            facts=group.facts,
            why=verdict.why,
            conflict=verdict.conflict,
            candidates=tuple(sorted(named)),
            cameras=self.known.cameras,
        )

    def open_groups(self) -> list[Signature]:
        """The groups whose camera is not known."""
        return [s for s, v in self.verdicts.items() if v.camera is None]

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
        asked = [s for s in signatures if self.camera is not None or s in self.answers]
        says = [s for s in asked if any(e.source not in _FLEETING for e in s.evidence)]
        return sorted({s.key for s in says if self._contradicts(s)})

    def _contradicts(self, signature: Signature) -> bool:
        """Whether the evidence alone would not have led to the same camera."""
        verdict = settle([signature], self.known)[signature]
        return verdict.camera != self.verdicts[signature].camera

    def contradiction(self) -> str:
        """Say which file's name names another camera than was said; "" if none does."""
        for signature, group in self.groups.items() if self.camera else ():
            for evidence in signature.evidence:
                if evidence.source == NAME and self.camera not in evidence.cameras:
                    name = group.facts.card_path.rpartition("/")[2]
                    return f"the name of {name} says {evidence.cameras[0]}"
        return ""

    def objections(self) -> list[str]:
        """What speaks against the camera that was named for all."""
        if self.camera is None:
            return []
        alone = settle(self.groups, self.known)
        against = {v.why: v.camera for v in alone.values() if v.camera not in (None, self.camera)}
        return [
            f"taken as {self.camera} because you said so, although {why}" for why in sorted(against)
        ]


def spelled(camera: str, known: Known) -> str:
    """Give a camera's ID as the logbook spells it.

    Raises:
        UsageError: it can be no ID.
    """
    name = naming.cleaned(camera, "camera")
    same = [c for c in known.cameras if naming.key(c) == naming.key(name)]
    return same[0] if same else name


def sample(listing: Listing, per_folder: int = 3, folders: int = 40) -> list[int]:
    """Choose which files to look at beforehand: first, middle and last of each folder."""
    by_folder: Mapping[str, list[int]] = _by_folder(listing)
    chosen: list[int] = []
    for numbers in list(by_folder.values())[:folders]:
        n = len(numbers)
        picks = sorted({round(i * (n - 1) / max(1, per_folder - 1)) for i in range(per_folder)})
        chosen += [numbers[p] for p in picks]
    return chosen


def _by_folder(listing: Listing) -> dict[str, list[int]]:
    by_folder: dict[str, list[int]] = {}
    for number, file in enumerate(listing.files):
        by_folder.setdefault(file.card_path.rpartition("/")[0], []).append(number)
    return by_folder
