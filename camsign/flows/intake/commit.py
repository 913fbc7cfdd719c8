"""The cards that one dump makes, one for each camera whose pictures it holds; their receipts."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from contextlib import closing, nullcontext
from dataclasses import dataclass
from datetime import UTC, datetime
from importlib.metadata import version

from camsign.errors import UsageError
from camsign.flows.intake import card_files, incoming
from camsign.flows.intake.card_tables import CardTables, Tally
from camsign.flows.intake.evidence import Signature
from camsign.flows.intake.incoming import Incoming
from camsign.flows.intake.job import Job
from camsign.flows.intake.one_file import Item
from camsign.flows.intake.other_times import ask_exiftool, borne_out, exiftool, noted
from camsign.flows.intake.report import Report
from camsign.flows.intake.result import CardTaken
from camsign.flows.intake.spool import Spool
from camsign.flows.intake.strips import agreeing
from camsign.flows.intake.whose import Whose
from camsign.formats.kinds import PICTURES
from camsign.formats.shown import ShownTime
from camsign.logbook import placing
from camsign.logbook.folder import FILES
from camsign.logbook.receipts import Receipt
from camsign.logbook.records import FrameFacts
from camsign.systems import remove_tree
from camsign.units import counted
from camsign.zones import to_utc, zone

_MOST_EVIDENCE = 50


def commit(job: Job, whose: Whose, spool: Spool, report: Report) -> None:
    """Let a card stand for each camera that has new pictures on the dump.

    Raises:
        OSError: a disk is full; the next ingest takes over what is there.
    """
    cameras = whose.cameras()
    report.undecided += whose.undecided()
    notes = _read_notes(spool, job.room, report) if job.room and report.timeless else {}
    fitting = agreeing(spool) if report.printed else set()
    for camera, signatures in cameras.items():
        card = _Card(job, whose, report, camera, signatures)
        rows = _rows(
            spool, {whose.groups[s].number for s in signatures}, report.stored, notes, fitting
        )
        if job.room is None:
            tally, folder = Tally(), ""
            for _, row, again in rows:
                tally.count(row, again)
        else:
            alone = len(cameras) == 1 and not report.undecided
            own = nullcontext(job.room) if alone else closing(incoming.start(job.folder, job.disk))
            with own as room:
                tally, folder = card.take(rows, job.room, room)
        report.cards.append(card.taken(tally, folder))
    if job.room is not None and not report.undecided:
        remove_tree(job.room.root)


def _rows(
    spool: Spool,
    groups: set[int],
    stored: set[str],
    notes: Mapping[str, ShownTime],
    fitting: Container[str],
) -> Iterator[tuple[Item, FrameFacts, bool]]:
    """Give the rows of some groups, and of each whether its bytes came already."""
    for item in spool:
        row = item.row
        if row is None or item.group not in groups:
            continue
        shown = notes.get(row.frame)
        row = row if shown is None else noted(row, shown)
        row = borne_out(row) if row.frame in fitting else row
        again = not row.known and row.frame in stored
        if not row.known:
            stored.add(row.frame)
        yield item, row, again


def _read_notes(spool: Spool, room: Incoming, report: Report) -> dict[str, ShownTime]:
    """Read the cameras' own notes, by exiftool, of just the pictures whose time is unknown."""
    rows = (item.row for item in spool if item.row)
    timeless = {
        str(room.root / row.file): row.frame
        for row in rows
        if row.file and row.shown is None and row.kind in PICTURES and not row.beside
    }
    if not timeless:
        return {}
    program = exiftool()
    if help_with := _what_would_help(program):
        report.warnings.append(
            f"pictures with no time we can read: {len(timeless)}; before the next such card:"
            f" {help_with}"
        )
    if program is None:
        return {}
    found = ask_exiftool(program, list(timeless))
    if found:
        many = counted(len(found), "picture")
        report.notes.append(f"exiftool read the time of {many} from notes")
    return {timeless[path]: shown for path, shown in found.items() if path in timeless}


def _what_would_help(program: str | None) -> str:
    from camsign.pixels.strip_words import reads_strips  # which loads NumPy

    notes = "" if program else "install exiftool, which reads cameras' own notes"
    strips = "" if reads_strips() else 'pip install "camsign[strip]", if it is printed in them'
    return "; ".join(filter(None, (notes, strips)))


@dataclass(frozen=True, slots=True)
class _Card:
    """One camera's part of a dump, with all that its receipt explains."""

    job: Job
    whose: Whose
    report: Report
    camera: str
    signatures: list[Signature]

    def take(
        self, rows: Iterator[tuple[Item, FrameFacts, bool]], shared: Incoming, room: Incoming
    ) -> tuple[Tally, str]:
        """Let the card stand in `room`, its files placed in `shared`, perhaps the same; name it."""
        with CardTables(room) as tables:
            for item, row, again in rows:
                name = (row.file or "").removeprefix(f"{FILES}/")
                if again:
                    placing.discard(shared.target(name))
                elif room is not shared and not row.known:
                    self.job.disk.rename(shared.target(name), room.target(name))
                tables.add(row, item.look, again)
            tally = tables.tally
            if tally.new:
                tables.write()
                return tally, room.stand(self.receipt(tally))
        remove_tree(room.root)
        return tally, self.job.known.cards.get(tally.card, "")

    def taken(self, tally: Tally, folder: str) -> CardTaken:
        """Give what people are told of the card that lies in `folder`."""
        tz = self.job.folder.settings.tz
        return CardTaken(
            card=tally.card,
            camera=self.camera,
            folder=folder,
            frames=tally.new + tally.known,
            new=tally.new,
            known=tally.known,
            first=_local(tally.first, tz),
            last=_local(tally.last, tz),
            first_shown=tally.first,
            last_shown=tally.last,
            known_by=self._known_by(),
            source=str(self.report.dump.root),
            safe_to_wipe=not self._reasons(),
        )

    def receipt(self, tally: Tally) -> Receipt:
        """Give the receipt, which has no folder's name yet."""
        report, reasons = self.report, self._reasons()
        return Receipt(
            card=tally.card,
            camera=self.camera,
            known_by=self._known_by(),
            folder="",
            taken_in=datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z"),
            source=str(report.dump.root),
            files=report.files,
            new=tally.new,
            known=tally.known,
            refused=tuple(report.not_taken),
            companions=tuple(report.companions),
            serials=tuple(sorted(tally.serials)),
            models=tuple(sorted(tally.models)),
            first=tally.first,
            last=tally.last,
            safe_to_wipe=not reasons,
            reasons=tuple(reasons),
            program=f"camsign {version('camsign')}",
            more=self._more(),
        )

    def _reasons(self) -> list[str]:
        """Why this part alone makes no card safe: what becomes of another is not known yet."""
        beside = card_files.on_one_card(self.report.dump)
        part = [f"it shares its card with {beside}, which has a verdict of its own"]
        return self.report.reasons() or (part if beside else [])

    def _known_by(self) -> str:
        """How it is known whose it is, each way once."""
        ways = dict.fromkeys(self.whose.verdicts[s].why for s in self.signatures)
        return "; ".join(list(ways)[:5])

    def _more(self) -> dict[str, object]:
        """What the receipt explains beyond its fields: the evidence, and answers to remember."""
        evidence = [
            {
                "says": [e.words for e in s.evidence],
                "serial": s.serial,
                "model": s.model,
                "pictures": self.whose.groups[s].frames,
                "taken_as": self.whose.verdicts[s].why,
            }
            for s in self.signatures[:_MOST_EVIDENCE]
        ]
        more: dict[str, object] = {"evidence": evidence}
        if answered := self.whose.answered(self.signatures):
            more["answered"] = answered
        if self.job.accept_refused and self.report.left:
            more["accepted_refused"] = True
        return more


def _local(shown: str | None, tz: str) -> str | None:
    """A clock reading as the logbook's own zone has it, until the right time is known."""
    if shown is None:
        return None
    try:
        return to_utc(datetime.fromisoformat(shown), tz).astimezone(zone(tz)).isoformat()
    except UsageError:
        return None
