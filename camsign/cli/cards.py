"""Cards that stand in the logbook."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from camsign.cli.opened import folder, logbook
from camsign.cli.show import Csv, Form, Json, form, listing, note, put_json, say
from camsign.cli.waiting import bar

if TYPE_CHECKING:
    from camsign.cards.listing import CardShown

cards_app = typer.Typer(help="Cards taken in.", no_args_is_help=True)
Card = Annotated[str, typer.Argument(help="A card's id, or its beginning.")]
MOVED = ("camera", "deployment", "after", "before", "kind", "right", "down", "turn_deg")
_SHOWN = 30


def register(app: typer.Typer) -> None:
    """Add this family's commands."""
    app.add_typer(cards_app, name="cards")


@cards_app.command("list")
def list_cards(
    context: typer.Context,
    camera: Annotated[str | None, typer.Option(help="Only this camera's.")] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Cards by their first frame."""
    from camsign.cards import listing as rooms

    with logbook(context) as session:
        rows = rooms.list_cards(session, camera)
    columns = {"card": "card", "camera": "camera", "frames": "frames", "first": "first"}
    columns |= {"last": "last", "refused": "refused", "safe_to_wipe": "safe to wipe"}
    listing(rows, columns, form(as_json, as_csv), "no cards yet: camsign ingest takes one in")
    for row in rows:
        if row.missing:
            told = (
                f"card {row.card}: {row.missing} of its pictures are missing in cards/{row.folder}"
            )
            note(f"camsign: {told}; camsign verify --repair --from DIR fetches them again")


@cards_app.command("moved")
def moved(
    context: typer.Context,
    camera: Annotated[str | None, typer.Option(help="Only this camera's.")] = None,
    as_json: Json = False,
    as_csv: Csv = False,
) -> None:
    """Cameras whose view shifted, turned or was covered: when, and by how much.

    Shifts are shares of the picture: where things in it went.
    """
    from camsign.derive.comparing import compare
    from camsign.logbook.naming import camera_as_known
    from camsign.pixels.moved_cameras import moved_cameras

    asked = form(as_json, as_csv)
    with bar(quiet=asked is not Form.TABLE) as progress:
        compare(folder(context), progress=progress)
    with logbook(context) as session:
        rows = moved_cameras(session, camera and camera_as_known(session.con, camera))
    if asked is not Form.TABLE:
        listing(rows, dict.fromkeys(MOVED, ""), asked)
        return
    say(*(f"{row.camera} {row.words}." for row in rows))
    if not rows:
        say("No camera's view is seen to have moved.")


@cards_app.command("show")
def show_card(context: typer.Context, card: Card, as_json: Json = False) -> None:
    """How it is known whose a card is, and where each of its files went."""
    from camsign.cards import listing as rooms

    with logbook(context) as session:
        shown = rooms.show_card(session, card)
    if as_json:
        put_json(shown)
        return
    about = shown.about
    say(
        f"card {about.card}: {about.frames} files of {about.camera}, known by {about.known_by}",
        f"  taken in {about.taken_in:%Y-%m-%d %H:%M} from {about.source}",
        f"  it lies in cards/{about.folder}" if about.folder else "  other cards hold its bytes",
        f"  safe to wipe: {_safe(shown)}",
    )
    say(*(f"  {why}" for why in (*shown.reasons, *shown.twofold)))
    for file in shown.files[:_SHOWN]:
        small = f", small one of {file.stands_for[:12]}" if file.stands_for else ""
        say(f"  {file.card_path} → {file.file or 'not in this logbook'} ({file.frame[:12]}{small})")
    if len(shown.files) > _SHOWN:
        say(f"  and {len(shown.files) - _SHOWN} more; --json lists all")
    say(*(f"  left: {left.file}: {left.why}" for left in shown.refused))


def _safe(shown: CardShown) -> str:
    if not shown.about.safe_to_wipe:
        return "NO"
    lost = len(shown.refused)
    return f"yes, but for {lost} files without a copy, as you accepted" if lost else "yes"


@cards_app.command("set")
def set_camera(
    context: typer.Context,
    card: Card,
    camera: Annotated[str | None, typer.Option(help="Whose pictures these are.")] = None,
    file_times: Annotated[
        bool, typer.Option("--file-times", help="The files' own stamps are right.")
    ] = False,
    as_json: Json = False,
) -> None:
    """Put right whose a card is, or confirm its files' stamps; `camsign undo` takes it back."""
    from camsign.cards import listing as rooms
    from camsign.errors import UsageError

    if (camera is None) is not file_times:
        raise UsageError("a card is set in one way", "give --camera or --file-times")
    with logbook(context) as session:
        done = (
            rooms.set_camera(session, card, camera)
            if camera
            else rooms.confirm_file_times(session, card)
        )
    if as_json:
        put_json(done)
        return
    if file_times:
        say(f"Card {done.card}: {done.frames} frames have the time of their files' stamps.")
        return
    if done.was == done.camera:
        say(f"Card {done.card} is {done.camera}'s: settled.")
        return
    say(f"Card {done.card}: {done.frames} frames went from {done.was} to {done.camera}.")
