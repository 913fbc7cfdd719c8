"""From the woods: a handheld's file, the cards in the reader, their clocks, then the sorting."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from camsign.answers.result import plain
from camsign.clock import verbs as clocks
from camsign.errors import InputRefused, UsageError
from camsign.flows.fieldwork.starting import where_is
from camsign.flows.intake import ingest
from camsign.flows.intake.card_files import Dump, find_dumps
from camsign.flows.intake.find_cards import FoundCard, find_cards, look_at
from camsign.flows.intake.result import IngestResult, held_words
from camsign.flows.intake.since_last_check import SilentSpell
from camsign.formats.kinds import CLIPS, HEAD_BYTES, PICTURES, Kind, is_map, sniff
from camsign.logbook.far import Progress
from camsign.logbook.moments import local
from camsign.logbook.session import Session
from camsign.page import handheld, inputs
from camsign.page.app_state import opened
from camsign.page.jobs import Jobs
from camsign.page.kept import Kept
from camsign.page.routing import SMALL_BODY, Asked, Named, Sent, Told, Values, asks, post, says
from camsign.page.rows import dicts, rows
from camsign.pixels.decode import Reduced, decode_reduced
from camsign.pixels.thumbs import thumbnail
from camsign.units import counted

FILE_BODY = 20 << 20
"""A handheld's file is no larger [bytes]."""
_KEPT = 20
_MOST_LISTED = 100
_PEEK_BYTES = 40 << 20


# Cards that were found and files that were sent, by tokens that pages name them with.
_found = Kept[FoundCard](_KEPT)
_files = Kept[tuple[str, bytes]](_KEPT)


def _page(asked: Asked) -> Values:
    settings = asked.session.settings
    return {**_counts(asked), "home": where_is(settings.home, settings.tz)}


def _moved(_: Request) -> Response:
    """Lead bookmarks of the page's old address on."""
    return RedirectResponse("/woods", 308)


@dataclass(frozen=True, slots=True)
class Counts:
    """A row of woods_counts.sql: what is in the logbook, and what waits to be sorted."""

    hung: int
    sign: int
    cards: int
    frames: int
    untagged: int
    empty: int

    def held(self) -> str:
        """Say what is in the logbook."""
        if not (self.hung or self.sign or self.cards):
            return "The logbook is empty: start with 1 or 2"
        cards = f"{counted(self.cards, 'card')} with {counted(self.frames, 'picture')}"
        sign = f"{counted(self.sign, 'piece')} of sign"
        return f"In the logbook: {counted(self.hung, 'camera spot')}, {sign}, {cards}"

    def left(self) -> str:
        """Say how many pictures nobody has tagged, as Sort lists them."""
        if not self.frames:
            return "The pictures of your first card will wait here."
        if not self.untagged + self.empty:
            return "Every picture has a tag."
        waits = f"{counted(self.untagged + self.empty, 'picture')} to sort."
        if not self.empty:
            return waits
        some = f"{self.empty:,} {'is' if self.empty == 1 else 'are'} in visits that look empty"
        of = f"{some} all through" if self.untagged else "All look empty"
        return f"{waits} {of}: on Sort, E shows those and N tags them nothing there."


def _counts(asked: Asked) -> Values:
    con = asked.session.con
    (counts,) = rows(con, "woods_counts", Counts)
    cameras = con.execute(
        "SELECT DISTINCT camera FROM deployments WHERE gone IS NOT TRUE ORDER BY 1"
    ).fetchall()
    said: Values = {"in_logbook": counts.held(), "left": counts.left(), "untagged": counts.untagged}
    tz, no_card = asked.session.settings.tz, dicts(con, "no_card")
    for one in no_card:
        one["first"] = local(one.pop("hung"), tz).date().isoformat()
        one["down"] = local(one["taken_down"], tz).date().isoformat()
        one["last"] = local(one.pop("taken_down") - timedelta(seconds=1), tz).date().isoformat()
    said["no_card"] = no_card
    return {**said, "any_card": counts.cards > 0, "cameras": [camera for (camera,) in cameras]}


# ---------------------------------------------------------------- the handheld's file


def _sorted(request: Request, data: bytes) -> Response:
    """Sort a file that was dropped: its bytes are the body, its name stands in the address."""
    name = inputs.file_name(request.query_params, "file")
    with _as_file(name, data) as path, opened(request).desk.reading() as session:
        found = handheld.sorted_file(session, path)
    return JSONResponse({"token": _files.keep((name, data)), **found})


def _sorted_again(asked: Asked) -> Values:
    """Sort a file once more, by what a person said of its rows."""
    token, (name, data) = _kept_file(asked.sent)
    with _as_file(name, data) as path:
        found = handheld.sorted_file(asked.session, path, handheld.choices_of(asked.sent))
    return {"token": token, **found}


def _kept_file(sent: Sent) -> tuple[str, tuple[str, bytes]]:
    token = inputs.text(sent, "token") or ""
    kept = _files.find(token)
    if kept is None:
        raise UsageError("this file was let go", "drop it once more")
    return token, kept


def _take_file(session: Session, _: Named, sent: Sent) -> Told:
    name, data = _kept_file(sent)[1]
    with _as_file(name, data) as path:
        how, as_one = handheld.choices_of(sent), sent.get("as_one") is True
        saved, refused = handheld.take_file(session, path, as_one, how)
    return {"saved": saved, "refused": refused[:_MOST_LISTED]}, f"loaded {name}"


@contextmanager
def _as_file(name: str, data: bytes) -> Iterator[Path]:
    """Give the bytes as a file for the readers, which go by content; gone afterward."""
    safe = "".join(c if c.isalnum() or c in "._- " else "_" for c in name)
    with tempfile.TemporaryDirectory(prefix="camsign-") as folder:
        path = Path(folder) / (safe.strip(". ") or "file")
        path.write_bytes(data)
        yield path


# ---------------------------------------------------------------- cards


def _cards(request: Request) -> Response:
    """List the cards in a reader, each by a token."""
    found = find_cards(opened(request).desk.folder)
    return JSONResponse({"cards": [_card(one) for one in found]})


def _in_folder(request: Request, sent: Sent) -> Response:
    """Look at a folder that holds a card's files or copies of several cards."""
    path = inputs.path(sent, "path", 2000)
    if path is None:
        raise UsageError("no folder was named", "type its path")
    if not path.is_absolute():
        path = Path(request.app.state.where) / path
    if not path.is_dir():
        raise InputRefused(f"there's no folder {path} on this computer", "check the spelling")
    folder = opened(request).desk.folder
    dumps = find_dumps([path], folder.root)
    roots = [d.root for d in dumps if _holds_pictures(d)][:_KEPT]
    if not roots:
        files = counted(sum(len(d.files) for d in dumps), "file")
        none = f"no trail-camera pictures in {path}: {files}, no picture or clip among them"
        raise InputRefused(none, "name the card's folder")
    return JSONResponse({"cards": [_card(one) for one in look_at(folder, roots)]})


def _holds_pictures(dump: Dump) -> bool:
    """Whether any file of a dump is a picture or clip by its first bytes."""
    return any(_kind(file.path) in PICTURES | CLIPS for file in dump.files)


def _kind(path: str) -> Kind:
    """Give what a file is by its first bytes; a map, and what cannot be read, is nothing known."""
    with suppress(OSError), Path(path).open("rb") as opened:
        kind = sniff(opened.read(HEAD_BYTES))
        return Kind.OTHER if kind is Kind.TIFF and is_map(opened) else kind
    return Kind.OTHER


def _card(card: FoundCard) -> Values:
    return {
        **plain(card),
        "token": _found.keep(card, lambda known: known.path == card.path),
        "where": _where(card),
        "all_known": card.looked_at > 0 and card.known == card.looked_at,
        "some_known": card.known > 0,
    }


def _where(card: FoundCard) -> str:
    """Name a card so that it is told from others: its place, and its label if that is not in it."""
    return str(card.path) if card.label in str(card.path) else f"{card.label} ({card.path})"


def _peek(request: Request) -> Response:
    """Give the first picture of a found card, small."""
    card = _found.find(str(request.path_params["token"]))
    if card is None:
        raise HTTPException(404)
    dump = find_dumps([card.path], opened(request).desk.folder.root)[0]
    pictures = (f for f in dump.files if _kind(f.path) in PICTURES)
    for file in islice((f for f in pictures if f.bytes <= _PEEK_BYTES), 12):
        reduced = decode_reduced(Path(file.path).read_bytes())
        if isinstance(reduced, Reduced):
            return Response(thumbnail(reduced), media_type="image/jpeg")
    raise HTTPException(404)


def _begin(request: Request, sent: Sent) -> Response:
    """Begin to take a found card in; the job's result is what `_result` gives."""
    card = _found.find(inputs.text(sent, "token") or "")
    if card is None:
        raise UsageError("this card was let go", "look for cards once more")
    camera = inputs.text(sent, "camera")
    jobs: Jobs = request.app.state.jobs
    state = opened(request)

    def work(progress: Progress) -> Values:
        done = ingest(state.desk.folder, [card.path], camera=camera, progress=progress)
        state.desk.catch_up()
        with state.desk.reading() as session:
            late = hung_too_late(session, [c.camera for c in done.cards if c.camera])
        return _result(done) | {"too_late": late}

    return JSONResponse({"job": jobs.start(f"Taking in {_where(card)}", work).job})


def _result(done: IngestResult) -> Values:
    return {
        "cards": plain(done.cards),
        "new": done.new,
        "known": done.known,
        "safe_to_wipe": done.safe_to_wipe,
        "second_copy": done.second_copy.replace("Make one:", "Make one in a terminal:"),
        "reasons": done.reasons,
        "refused": plain(done.refused[:_MOST_LISTED]),
        "refused_all": len(done.refused),
        "warnings": done.warnings,
        "seconds": done.seconds,
        "held": held_words(done.set_aside, on_page=True),
        "since": [plain(s) | {"silent": [_nights(p) for p in s.silent]} for s in done.since],
    }


@dataclass(frozen=True, slots=True)
class _TooLate:
    """A row of hung_too_late.sql: `hung` UTC, `first` as the camera's clock showed it."""

    camera: str
    deployment: str
    hung: datetime
    first: datetime
    frames: int


def hung_too_late(session: Session, cameras: Sequence[str]) -> list[Values]:
    """Give each of these cameras that was noted as hung later than its first picture, with the day
    of the first: mostly the day the form was filled in. A clock that can't be right is none.
    """
    tz = session.settings.tz
    older = rows(session.con, "hung_too_late", _TooLate, cameras=list(cameras))
    found = [row for row in older if any(f.up_from for f in clocks.audit(session, row.camera))]
    return [
        asdict(row)
        | {"hung": local(row.hung, tz).date().isoformat(), "first": row.first.date().isoformat()}
        for row in found
    ]


def _nights(spell: SilentSpell) -> str:
    return f"{spell.first} to {spell.last}" if spell.nights > 1 else f"{spell.first}"


ROUTES: list[BaseRoute] = [
    asks("/woods", _page, "woods.html"),
    Route("/evening", _moved),
    post("/woods/file", _sorted, FILE_BODY, Request.body),
    asks("/woods/file/again", _sorted_again, body=SMALL_BODY),
    says("/woods/file/take", _take_file),
    asks("/woods/counts", _counts),
    Route("/woods/cards", _cards),
    post("/woods/folder", _in_folder),
    Route("/woods/peek/{token}", _peek),
    post("/woods/take", _begin),
]
