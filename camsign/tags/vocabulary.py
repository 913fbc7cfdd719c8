"""The words that say what is in a frame, and what each is kept as.

Who is no known buck is a what (animal, person, vehicle, nothing, unknown) with species, sex and
life stage, in the terms of the open standard Camtrap DP 1.0 (sex: female, male; life stage: adult,
subadult, juvenile).
"""

from __future__ import annotations

from camsign.errors import UsageError
from camsign.logbook.edits import Subject
from camsign.logbook.naming import key

WHATS = ("animal", "person", "vehicle", "nothing", "unknown")
_WORDS: dict[str, Subject] = {
    **{word: Subject(word) for word in WHATS},
    "empty": Subject("nothing"),
    "human": Subject("person"),
    "people": Subject("person"),
    "hunter": Subject("person"),
    "hiker": Subject("person"),
    "car": Subject("vehicle"),
    "truck": Subject("vehicle"),
    "atv": Subject("vehicle"),
    "deer": Subject("animal", species="deer"),
    "doe": Subject("animal", species="deer", sex="female"),
    "buck": Subject("animal", species="deer", sex="male"),
    "fawn": Subject("animal", species="deer", stage="juvenile"),
    "yearling buck": Subject("animal", species="deer", sex="male", stage="subadult"),
    "button buck": Subject("animal", species="deer", sex="male", stage="juvenile"),
    "spike": Subject("animal", species="deer", sex="male", stage="subadult"),
    "hen": Subject("animal", species="turkey", sex="female"),
    "gobbler": Subject("animal", species="turkey", sex="male"),
    "tom": Subject("animal", species="turkey", sex="male"),
}
_SPECIES = (
    "bear", "beaver", "bird", "bobcat", "cat", "coyote", "dog", "elk", "fisher", "fox", "grouse",
    "hare", "hog", "horse", "cow", "lynx", "marten", "mink", "moose", "opossum", "otter", "owl",
    "porcupine", "rabbit", "raccoon", "skunk", "squirrel", "turkey", "wolf", "woodchuck",
)  # fmt: skip
_WORDS |= {word: Subject("animal", species=word) for word in _SPECIES}
# A plural that is not the word with an s.
_PLURALS = {"wolves": "wolf", "foxes": "fox", "does": "doe", "cows": "cow", "moose": "moose"}

_SEXES = {"female": "female", "f": "female", "doe": "female", "male": "male", "m": "male"}
_SEXES |= {"buck": "male"}
_STAGES = {"adult": "adult", "subadult": "subadult", "juvenile": "juvenile"}
_STAGES |= {"yearling": "subadult", "fawn": "juvenile"}
_SURE = {"sure": "sure", "unsure": "unsure", "yes": "sure", "no": "unsure", "true": "sure"}
_SURE |= {"false": "unsure"}


def words() -> list[str]:
    """Give every word that can be said of a frame, sorted."""
    return sorted(_WORDS)


def subject_of_word(word: str) -> Subject | None:
    """Give the subject that a word names, or None if it is no word for one."""
    said = key(word)
    said = _PLURALS.get(said, said)
    return _WORDS.get(said) or _WORDS.get(said.removesuffix("s"))


def word_of(subject: Subject) -> str | None:
    """Give the word that people say of a subject, the first of those that mean it; else None."""
    return next((word for word, known in _WORDS.items() if known == subject), None)


def sex_of(word: str) -> str:
    """Give `female` or `male`. Raises UsageError for other words."""
    return _one(_SEXES, word, "sex", "female or male")


def stage_of(word: str) -> str:
    """Give `adult`, `subadult` or `juvenile`. Raises UsageError for other words."""
    return _one(_STAGES, word, "life stage", "adult, subadult (yearling) or juvenile (fawn)")


def sure_of(word: str) -> str:
    """Give `sure` or `unsure`. Raises UsageError for other words."""
    return _one(_SURE, word, "degree of sureness", "sure or unsure")


def _one(known: dict[str, str], word: str, what: str, say: str) -> str:
    found = known.get(key(word))
    if found is None:
        raise UsageError(f"{word.strip()!r} is no {what}", f"say {say}")
    return found
