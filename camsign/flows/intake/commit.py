"""The cards that one dump makes, one for each camera: rows counted, tables and receipts written."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping
from contextlib import ExitStack, closing, nullcontext
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime
from importlib.metadata import version

from camsign.cards import sums
from camsign.errors import UsageError
from camsign.flows.intake import card_files, incoming
from camsign.flows.intake.evidence import Signature
from camsign.flows.intake.incoming import Incoming
from camsign.flows.intake.one_file import Item
from camsign.flows.intake.other_times import ask_exiftool, borne_out, exiftool, noted, unplain_day
from camsign.flows.intake.report import Report
from camsign.flows.intake.result import CardTaken
from camsign.flows.intake.strips import agreeing
from camsign.formats.kinds import PICTURES
from camsign.formats.shown import ShownTime
from camsign.logbook import placing
from camsign.logbook.cardfacts import FRAMES, LOOKS
from camsign.logbook.folder import FILES
from camsign.logbook.parquet import RowFile
from camsign.logbook.receipts import Receipt
from camsign.logbook.records import FrameFacts, Look
from camsign.logbook.sealed import hash_of
from camsign.systems import remove_tree
from camsign.units import counted
from camsign.zones import to_utc, zone

_MOST_EVIDENCE, _MOST_WAYS = 50, 5


def commit(report: Report) -> None:
    """Let a card stand for each camera that has new pictures on the dump.

    Raises:
        OSError: a disk is full; the next ingest takes over what is there.
    """
    job, cameras = report.job, report.whose.cameras()
    report.undecided += report.whose.undecided()
    notes = _read_notes(report, job.room) if job.room and report.timeless else {}
    fitting = agreeing(report.items) if report.printed else set()
    if job.room is not None:
        incoming.sweep(job.room.leftovers)  # one of them may bear this card's coming name
    for camera, signatures in cameras.items():
        card = _Card(report, camera, signatures, notes, fitting)
        groups = {report.whose.groups[s].number for s in signatures}
        rows = (card.count(item) for item in report.items if item.group in groups)
        if job.room is None:
            for _ in rows:  # they are only counted
                pass
            receipt = card.receipt()
        else:
            alone = len(cameras) == 1 and not report.undecided
            own = nullcontext(job.room) if alone else closing(incoming.start(job.folder, job.disk))
            with own as room:
                receipt = card.take(rows, job.room, room)
        taken = _taken(receipt, job.folder.settings.tz)
        report.cards.append(taken if taken.new else replace(taken, camera=_known_as(card)))
    if job.room is not None and not report.undecided:
        remove_tree(job.room.root)


def _known_as(card: _Card) -> str:
    """Give the camera under which the logbook has a card's pictures, whatever was said of it."""
    says = (e for s in card.signatures for e in s.evidence if e.source == "logbook")
    cameras = {camera for one in says for camera in one.cameras}
    return cameras.pop() if len(cameras) == 1 else card.camera


def _read_notes(report: Report, room: Incoming) -> dict[str, ShownTime]:
    """Read the cameras' own notes, by exiftool, of just the pictures whose time is unknown."""
    all_rows = (item.row for item in report.items)
    rows = [r for r in all_rows if r.file and not r.shown and r.kind in PICTURES and not r.beside]
    timeless = {str(room.root / (row.file or "")): row.frame for row in rows}
    if not timeless:
        return {}
    from camsign.pixels.strip_words import reads_strips  # which loads NumPy

    program = exiftool()
    noted_in = not program and any(row.make or row.model for row in rows)
    notes = "install exiftool, which reads cameras' own notes" if noted_in else ""
    names = unplain_day(row.card_path for row in rows)
    strips = "" if reads_strips() else 'pip install "camsign[strip]", if it is printed in them'
    help_with = "; ".join(filter(None, (names, notes, strips)))
    if help_with or program is None:
        before = f"; before the next such card: {help_with}" if help_with else ""
        report.warnings.append(f"pictures with no time we can read: {len(timeless)}{before}")
    if program is None:
        return {}
    found = ask_exiftool(program, list(timeless))
    if found:
        many = counted(len(found), "picture")
        report.notes.append(f"exiftool read the time of {many} from notes")
    return {timeless[path]: shown for path, shown in found.items() if path in timeless}


@dataclass(slots=True)
class _Card:
    """One camera's part of a dump: what is counted while its rows go by, for its receipt.

    `notes`: times in cameras' own notes, by frame; `fitting`: frames whose printed time fits.
    `likely` and `unlikely` are the spans of the times that can be right, and of the others.
    """

    report: Report
    camera: str
    signatures: list[Signature]
    notes: Mapping[str, ShownTime]
    fitting: Container[str]
    new: int = 0
    known: int = 0
    digests: list[bytes] = field(default_factory=list)
    likely: list[str] = field(default_factory=list)
    unlikely: list[str] = field(default_factory=list)
    serials: set[str] = field(default_factory=set)
    models: set[str] = field(default_factory=set)

    def count(self, item: Item) -> tuple[Item, FrameFacts, bool]:
        """Count one of its files; give its row, and whether its bytes came already."""
        row, stored = item.row, self.report.stored
        shown = self.notes.get(row.frame)
        row = row if shown is None else noted(row, shown)
        row = borne_out(row) if row.frame in self.fitting else row
        again = not row.known and row.frame in stored
        if not row.known:
            stored.add(row.frame)
        self.digests.append(bytes.fromhex(row.sha256))
        if not row.beside:
            self.known += row.known or again
            self.new += not (row.known or again)
            self.serials.add(row.serial or "")
            self.models.add(row.model or "")
            odd = any(d.startswith("the clock showed") for d in row.doubts)
            span = self.unlikely if odd or row.shown_from == "file" else self.likely
            if row.shown:
                span[:] = [min([row.shown, *span]), max([row.shown, *span])]
        return item, row, again

    def take(
        self, rows: Iterator[tuple[Item, FrameFacts, bool]], shared: Incoming, room: Incoming
    ) -> Receipt:
        """Let the card stand in `room`, its files placed in `shared`, perhaps the same."""
        disk, root = self.report.job.disk, room.root
        with ExitStack() as stack:
            frames, looks = (stack.enter_context(RowFile(kind)) for kind in (FrameFacts, Look))
            temp = stack.enter_context(placing.beside(root / sums.FILE))
            with temp.open("xb") as lines:
                for item, row, again in rows:
                    name = (row.file or "").removeprefix(f"{FILES}/")
                    kept = replace(row, file=None, known=True) if again else row
                    if again:
                        placing.discard(shared.target(name))
                    elif room is not shared and not row.known:
                        disk.rename(shared.target(name), room.target(name))
                    frames.add([kept])
                    looks.add([item.look] if item.look and not again else [])
                    if kept.file:
                        lines.write(f"{kept.sha256}  {kept.file}\n".encode())
                if self.new:
                    for table, name in ((frames, FRAMES), (looks, LOOKS)):
                        made = stack.enter_context(placing.beside(root / name))
                        table.write(made)
                        placing.adopt(made, root / name, disk=disk)
                    lines.write(f"{hash_of(root / FRAMES)}  {FRAMES}\n".encode())
            if self.new:
                placing.adopt(temp, root / sums.FILE, disk=disk)
                return room.stand(self.receipt())
        remove_tree(root)
        receipt = self.receipt()
        return replace(receipt, folder=self.report.job.known.cards.get(receipt.card, ""))

    def receipt(self) -> Receipt:
        """Give the receipt, which has no folder's name yet."""
        report, reasons = self.report, self.report.reasons()
        if not reasons and (beside := card_files.on_one_card(report.dump)):
            # What becomes of the other part is not known yet.
            reasons = [f"it shares its card with {beside}, which has a verdict of its own"]
        span = self.likely or self.unlikely or (None, None)
        ways = dict.fromkeys(report.whose.verdicts[s].why for s in self.signatures)
        return Receipt(
            card=sums.card_id(self.digests),
            camera=self.camera,
            known_by="; ".join(list(ways)[:_MOST_WAYS]),
            folder="",
            taken_in=datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z"),
            source=str(report.dump.root),
            files=report.files,
            new=self.new,
            known=self.known,
            refused=tuple(report.not_taken),
            companions=tuple(report.companions),
            serials=tuple(sorted(self.serials - {""})),
            models=tuple(sorted(self.models - {""})),
            first=span[0],
            last=span[-1],
            safe_to_wipe=not reasons,
            reasons=tuple(reasons),
            program=f"camsign {version('camsign')}",
            more=self._more(),
        )

    def _more(self) -> dict[str, object]:
        """What the receipt explains beyond its fields: the evidence, and answers to remember."""
        whose = self.report.whose
        evidence = [
            {
                "says": [e.words for e in s.evidence],
                "serial": s.serial,
                "model": s.model,
                "pictures": whose.groups[s].frames,
                "taken_as": whose.verdicts[s].why,
            }
            for s in self.signatures[:_MOST_EVIDENCE]
        ]
        more: dict[str, object] = {"evidence": evidence, "before": self.report.job.known.before}
        if answered := whose.answered(self.signatures):
            more["answered"] = answered
        if self.report.job.accept_refused and self.report.left:
            more["accepted_refused"] = True
        return more


def _taken(receipt: Receipt, tz: str) -> CardTaken:
    """Give what people are told of a card."""
    return CardTaken(
        card=receipt.card,
        camera=receipt.camera,
        folder=receipt.folder,
        frames=receipt.new + receipt.known,
        new=receipt.new,
        known=receipt.known,
        first=_local(receipt.first, tz),
        last=_local(receipt.last, tz),
        first_shown=receipt.first,
        last_shown=receipt.last,
        known_by=receipt.known_by,
        source=receipt.source,
        safe_to_wipe=receipt.safe_to_wipe,
    )


def _local(shown: str | None, tz: str) -> str | None:
    """A clock reading as the logbook's own zone has it, until the right time is known."""
    if shown is None:
        return None
    try:
        return to_utc(datetime.fromisoformat(shown), tz).astimezone(zone(tz)).isoformat()
    except UsageError:
        return None
