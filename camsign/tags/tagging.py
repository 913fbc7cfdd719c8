"""What a person says is in frames: one line of the journal for a batch of any size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from camsign.errors import UsageError, quoted
from camsign.logbook.database import run_sql
from camsign.logbook.edits import NOTHING, Edit, Subject, TagFrames, UntagFrames
from camsign.logbook.named import known_bucks
from camsign.logbook.naming import find, nearest
from camsign.logbook.session import Session
from camsign.tags.frames import Chosen, Skipped
from camsign.tags.vocabulary import (
    sex_of,
    stage_of,
    subject_of_word,
    sure_of,
    word_of,
    words,
)
from camsign.units import Bearing, counted

MAX_COUNT = 500
# A word is offered only if it is more alike than a name need be, as doe is for dow: a new buck may
# be meant.
_CLOSE = 0.65


@dataclass(frozen=True, slots=True)
class Tagged:
    """What a batch did: frames tagged, what was skipped and why, and the subject in words.

    Of a table also: how many tags were `known` already, and which `conflicts` stayed as they were.
    `beside`: other bucks by name who stand on any of these frames too, on `shared` of them.
    `cleared`: frames that `nothing` took other tags off, those of `beside` too.
    """

    tagged: int
    skipped: list[Skipped]
    subject: str = ""
    added_bucks: list[str] = field(default_factory=list)
    known: int = 0
    conflicts: list[Skipped] = field(default_factory=list)
    beside: list[str] = field(default_factory=list)
    shared: int = 0
    cleared: int = 0


def subject_of(
    session: Session,
    said: str,
    species: str | None = None,
    sex: str | None = None,
    stage: str | None = None,
) -> Subject:
    """Give the subject that a person names: a buck by name or id, or a word of the vocabulary.

    Args:
        said: such as `Split Brow`, `doe`, `animal`, `nothing`.
        species: any word; with `animal` only.
        sex: female or male.
        stage: adult, subadult or juvenile.

    Raises:
        UsageError: neither a buck nor a word; the nearest of both is offered.
    """
    word = subject_of_word(said)
    if word is None:
        known = known_bucks(session)
        try:
            return buck_subject(known.find(said))
        except UsageError:
            close = nearest(said, words(), _CLOSE) if len(said.split()) == 1 else None
            near = known.names | ({close: close} if close else {})
            meant, name = nearest(said, near.values()), said.strip()
            new = f"camsign buck add {quoted(name)}"
            if meant is None:
                raise UsageError(f"no buck {name!r} yet", f"add him: {new}") from None
            if meant == close:
                offer = f"did you mean {close!r}? A new buck: {new}"
                raise UsageError(f"no buck or animal {name!r}", offer) from None
            find(near, said, "buck")
            raise
    if (species or sex or stage) and word.what != "animal":
        raise UsageError(f"{said!r} has no species, sex or life stage")
    return replace(
        word,
        species=" ".join((species or "").lower().split()) or word.species,
        sex=sex_of(sex) if sex else word.sex,
        stage=stage_of(stage) if stage else word.stage,
    )


def buck_subject(buck_id: str) -> Subject:
    """Give the subject of a tag that names a buck."""
    return Subject("animal", buck_id, species="deer", sex="male")


def tag(
    session: Session,
    subject: Subject,
    chosen: Chosen,
    count: int = 1,
    travel: Bearing | None = None,
    sure: str | None = None,
) -> Tagged:
    """Say that a subject is in frames; saying it again with another count or travel replaces it.

    Args:
        subject: who or what, from `subject_of`.
        chosen: the frames, from the `frames` module.
        count: how many of them, 1 to 500.
        travel: where it goes, true or magnetic.
        sure: `sure` or `unsure`.

    Raises:
        UsageError: a count, bearing or word that does not fit, or `nothing` with a travel.
    """
    name, many = in_words(session, subject), len(chosen.frames)
    if many:
        edit = tag_edit(session, subject, chosen.frames, count, travel, sure)
        session.say(f"tagged {counted(many, 'picture')}: {name}", with_seen_off(session, edit))
    return Tagged(many, chosen.skipped, name)


def with_others(session: Session, subject: Subject, chosen: Chosen, done: Tagged) -> Tagged:
    """Add to what was tagged the other named bucks on these frames, and how many frames lose
    other tags to `nothing`; pages show them anyway."""
    ((beside, shared, others),) = session.con.execute(
        "SELECT coalesce(list(DISTINCT b.name ORDER BY b.name) FILTER (b.name IS NOT NULL), []), "
        "count(DISTINCT t.frame) FILTER (b.name IS NOT NULL), count(DISTINCT t.frame) "
        "FROM tags t LEFT JOIN bucks_now b ON b.buck = t.buck_id AND b.buck_id <> ?"
        "WHERE t.frame IN (SELECT unnest(?::VARCHAR[])) AND t.what <> ?",
        [subject.buck_id or "", list(chosen.frames), NOTHING],
    ).fetchall()
    lost = others if subject.what == NOTHING else 0
    return replace(done, beside=beside, shared=shared, cleared=lost)


def untag(session: Session, chosen: Chosen, subject: Subject | None = None) -> Tagged:
    """Take one subject's tag, or every tag, from frames."""
    name = in_words(session, subject) if subject else "everything"
    if many := len(chosen.frames):
        edit = UntagFrames(subject.key if subject else None, chosen.frames)
        session.say(f"untagged {counted(many, 'picture')}: {name}", [edit])
    return Tagged(many, chosen.skipped, name)


def tagged_so(session: Session, chosen: Chosen, subject: Subject | None = None) -> Chosen:
    """Leave out the frames on which no such tag (None: no tag at all) stands."""
    rows = session.con.execute(
        "SELECT DISTINCT frame FROM tags WHERE frame IN (SELECT unnest(?::VARCHAR[]))"
        " AND (?::VARCHAR IS NULL OR subject = ?)",
        [list(chosen.frames), *[subject and subject.key] * 2],
    ).fetchall()
    tagged = {frame for (frame,) in rows}
    return Chosen([frame for frame in chosen.frames if frame in tagged], chosen.skipped)


def tag_edit(
    session: Session,
    subject: Subject,
    frames: Sequence[str],
    count: int = 1,
    travel: Bearing | None = None,
    sure: str | None = None,
) -> TagFrames:
    """Give the edit that says this, checked. Raises UsageError as `tag` does."""
    if subject.what == NOTHING:
        count = 0
    elif not 1 <= count <= MAX_COUNT:
        raise UsageError(f"a count of {count} is not between 1 and {MAX_COUNT}")
    if subject.buck_id and count != 1:
        raise UsageError("a named buck is one animal", "leave the count out")
    if subject.what == NOTHING and travel is not None:
        raise UsageError("nothing travels nowhere", "leave the bearing out")
    true = None
    if travel is not None:
        day = datetime.now(UTC).date()
        true = session.settings.to_true(travel, session.settings.home, day)
    return TagFrames(subject, list(frames), count, true, sure_of(sure) if sure else None)


def with_seen_off(session: Session, edit: TagFrames) -> list[Edit]:
    """Give what says a tag: with `nothing`, what others said and is seen here is taken off too.

    By name: what they said meanwhile, and nobody here has seen, stays when the logbooks merge.
    """
    if edit.subject.what != NOTHING:
        return [edit]
    here = {"frames": list(edit.frames), "writer": session.folder.writer}
    seen = run_sql(session.con, __file__, "said_by_others.sql", **here).fetchall()
    return [*(UntagFrames(subject, frames) for subject, frames in seen), edit]


def in_words(session: Session, subject: Subject) -> str:
    """Give a subject in words, such as `Split Brow`, `doe` or `adult doe`."""
    if subject.buck_id:
        return known_bucks(session).names.get(subject.buck_id, subject.buck_id)
    if word := word_of(subject):
        return word
    if subject.stage and (word := word_of(replace(subject, stage=None))):
        return f"{subject.stage} {word}"
    said = [subject.stage, subject.sex, subject.species or subject.what]
    return " ".join(part for part in said if part)
