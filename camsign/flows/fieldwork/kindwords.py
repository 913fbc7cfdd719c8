"""Which word of a waypoint names what it is, and which words only sound like it.

A camera's name wins over words of sign in it, words behind `by`, `near`, `to` name where it is, and
what also names roads, parks and shops (`trail`, `track`, `path`) is asked about before it is sign.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from camsign.flows.fieldwork.waywords import FACING, bearing_at
from camsign.logbook.things import DOE_BEDDING
from camsign.places.areas import KINDS as AREA_KINDS
from camsign.places.points import KINDS as PLACE_KINDS
from camsign.sign.kinds import sign_words


@dataclass(frozen=True, slots=True)
class Named:
    """What the words `at` to `at + n` name: camera, place, area or sign, and of which kind.

    `keep`: the words belong to its name. `weak`: they also name what is none of a hunter's.
    """

    what: str
    kind: str
    at: int = 0
    n: int = 1
    keep: bool = False
    weak: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """A name that may mean `guess`, a kind, and `why` that is asked first."""

    guess: str
    why: str


# fmt: off
_CAMERA_WORDS = frozenset((
    "cam", "camera", "trailcam", "gamecam", "cellcam", "trailcamera", "cell-cam", "trail-cam",
))
# Words that a camera has in its name though no camera hangs: planned ones, errands.
_NO_CAMERA = frozenset((
    "spot", "idea", "possible", "maybe", "future", "potential", "try", "need", "needs", "check",
    "want", "next", "pull", "pulled", "move", "moved", "batteries", "battery", "no", "good",
    "put", "hang", "location", "stolen", "missing",
))
BEHIND = frozenset((
    "by", "near", "from", "below", "above", "behind", "past", "beside", "under", "toward",
    "towards", "between", "along", "off", "across", "over", "next", "close", "at", "@", "on",
    "before", "after", "inside", "outside", "w", "with",
))
_TO = frozenset(("to", "into"))
_STANDS = (
    "saddle stand", "tree stand", "treestand", "ladder stand", "ladder", "hang on", "hang-on",
    "lock on", "lock-on", "climber", "blind", "ground blind", "box blind", "pop up blind",
    "saddle tree", "saddle set", "stand tree", "tower stand", "stand site", "saddle hunt",
)
_WAYS_IN = (
    "access trail", "access", "access route", "access path", "access road", "entry", "entry trail",
    "entry route", "exit", "exit route", "exit trail", "walk in", "walk-in", "way-in", "my trail",
    "entrance trail", "way out", "walking path", "route in", "trail in", "path in", "my path",
)
_FOOD = (
    "food plot", "clover", "corn", "cornfield", "corn field", "beans", "bean field", "apple tree",
    "apple trees", "apples", "crabapple",
)
_FEEDING = (
    "oak flat", "acorns", "acorn", "mast", "beechnuts", "beech flat", "beech ridge", "oak ridge",
    "feeding area", "white oaks", "red oaks", "feed area",
)
_TRAVEL = (
    "saddle", "pinch", "pinch point", "pinchpoint", "funnel", "crossing", "creek crossing",
    "brook crossing", "river crossing", "ridge crossing", "road crossing", "deer crossing",
    "fence crossing", "travel corridor", "corridor", "bottleneck", "stream crossing", "fence gap",
)
_BEDDING = ("bedding area", "buck bedding", "bedding")
_DOES = ("doe bedding", "doe bedding area", "doe family bedding")
_WATER = ("water hole", "waterhole", "seep", "spring")
_SIGN = {
    "licking branch": "scrape", "overhanging branch": "scrape", "rub line": "rub",
    "rubline": "rub", "rub tree": "rub", "rub cluster": "rub", "sign post rub": "rub",
    "signpost rub": "rub", "scrape line": "scrape", "scrape tree": "scrape",
    "poop": "droppings", "deer poop": "droppings", "deer trail": "trail", "game trail": "trail",
    "deer path": "trail", "deer runway": "trail", "runway": "trail", "buck track": "track",
    "deer track": "track", "deer tracks": "track", "buck tracks": "track", "hoof print": "track",
    "beds": "bed", "deer beds": "bed", "shed hunt": "", "matched set": "shed", "match set": "shed",
    "big track": "track", "buck trail": "trail", "doe trail": "trail", "doe tracks": "track",
    "rubbed tree": "rub", "rubbed": "rub", "rubbing": "rub", "run": "",
    "bed & breakfast": "", "bed and breakfast": "", "bed frame": "",
}
_WEAK = frozenset((
    "trail", "trails", "track", "tracks", "path", "paths", "print", "prints", "browse", "browsing",
    "shed", "sheds", "antler", "antlers", "runway", "access", "entry", "exit", "ladder", "corn",
    "beans", "corridor", "spring", "saddle", "crossing", "funnel", "pinch", "clover",
    "apples", "climber", "travel", "staging", "feeding", "pellets", "seep", "mast", "rubbing",
    "dropping",
))
# Who else leaves sign.
_OTHERS = frozenset((
    "moose", "elk", "bear", "bears", "coyote", "coyotes", "wolf", "bobcat", "hog", "hogs", "pig",
    "turkey", "turkeys", "rabbit", "beaver", "beavers", "porcupine", "porky", "cow", "cattle",
    "human", "boot", "dog", "horse", "squirrel", "grouse", "caribou", "chewed", "gnawed", "lynx",
))
# What roads, parks and houses are called: a name with one of them is a place of the map.
MAP_NAMES = frozenset((
    "road", "rd", "street", "st", "ave", "avenue", "blvd", "lane", "ln", "drive", "hwy", "highway",
    "route", "derby", "head", "trailhead", "park", "museum", "store", "shop", "inn", "hotel",
    "motel", "campground", "campsite", "church", "school", "cemetery", "house", "cabin", "cottage",
    "hut", "shelter", "barn", "state", "national", "forest", "mountain", "mtn", "mt", "mount",
    "lake", "river", "bridge", "tower", "town", "city", "village", "center", "centre", "station",
    "plaza", "race", "racing", "train", "rail", "railroad", "railway", "bike", "bicycle",
    "snowmobile", "atv", "ski", "hiking", "horse", "wheel", "4wd", "jeep", "two", "nature",
    "heritage", "loop", "breakfast", "breakfasts", "wood", "tool", "equipment", "pump", "boat",
    "brewery", "restaurant", "cafe", "saloon", "office", "garage", "new", "google", "note", "line",
    "lines", "test", "appalachian", "scenic", "interstate", "ranch", "estate", "yard", "metal",
    "gps", "active", "current", "log", "saved", "wool", "food", "horn", "bow", "back",
))
_DEER = frozenset(("deer", "buck", "bucks", "doe", "does", "fawn", "whitetail", "hoof", "game"))
_PLAIN = frozenset((
    *_DEER, "big", "huge", "small", "little", "heavy", "main", "good", "nice", "worn", "faint",
    "old", "fresh", "beat", "down", "used", "well", "hot", "cold", "lots", "lot", "many", "several",
    "sign", "mature", "scouting", "winter", "fall", "more", "another", "other", "his", "sidehill",
    "intersection", "split", "junction", "deep", "wide", "possible", "likely", "single", "double",
    "set", "of", "a", "the", "and", "in", "to", "up", "here", "walked", "entrance", "morning",
    "evening", "am", "pm", "stand", "bedding", "ends", "starts", "end", "start", "pile", "pt",
))
# fmt: on


def _phrases() -> dict[str, Named]:
    known = {word: Named("sign", kind) for word, kind in sign_words().items()}
    known |= {word: Named("sign", kind, keep=True) for word, kind in _SIGN.items()}
    known |= {form: Named("place", kind) for kind in PLACE_KINDS for form in (kind, f"{kind}s")}
    known |= {kind: Named("area", kind) for kind in AREA_KINDS}
    for words, what, kind in (
        (_STANDS, "place", "stand"), (_WAYS_IN, "place", "way in"), (_FOOD, "place", "food"),
        (_WATER, "place", "water"), (_FEEDING, "area", "feeding"), (_TRAVEL, "area", "travel"),
    ):  # fmt: skip
        known |= {word: Named(what, kind, keep=True) for word in words}
    known |= dict.fromkeys(_BEDDING, Named("area", "bedding"))
    known |= dict.fromkeys(_DOES, Named("area", DOE_BEDDING))
    known |= dict.fromkeys(_CAMERA_WORDS, Named("camera", ""))
    return known


_PHRASES = _phrases()
_LONGEST = max(len(words.split()) for words in _PHRASES)


def named_in(words: Sequence[str]) -> list[Named]:
    """Give all phrases that name a kind, in order, the longest at each place."""
    lower = [w.lower() for w in words]
    found, i = [], 0
    while i < len(lower):
        one = _phrase_at(lower, i)
        if one is not None and one.kind + one.what != "sign":
            found.append(one)
        i += one.n if one else 1
    return found


def _phrase_at(lower: Sequence[str], i: int) -> Named | None:
    for n in range(min(_LONGEST, len(lower) - i), 0, -1):
        phrase = " ".join(lower[i : i + n])
        known = _PHRASES.get(phrase)
        if known is None and n == 1:
            # The number that a receiver puts behind a word belongs to its name, not to the word.
            known = _PHRASES.get(phrase.rstrip("0123456789").rstrip("-_#"))
        if known is not None:
            weak = phrase in _WEAK
            return Named(known.what, known.kind, i, n, known.keep, weak)
    return None


def head_of(words: Sequence[str]) -> Named | None:
    """Give the phrase that says what the whole is: `rub by the stand` is a rub, `rub stand` none.

    Cameras are found elsewhere; what stands behind `by` or `to` says where it is.
    """
    lower = [w.lower() for w in words]
    found = [one for one in named_in(words) if one.what != "camera"]
    if not found:
        return None
    first = _first_behind(lower)
    ahead = [one for one in found if one.at < first] or found
    stands = [one for one in ahead[1:] if one.kind == "stand" and one.what == "place"]
    if stands and ahead[0].what == "sign" and stands[0].at == ahead[0].at + ahead[0].n:
        return stands[0]
    ahead = [one for one in ahead if _may_lead(one, len(words))] or ahead[:0]
    if not ahead:
        return None
    strong = [one for one in ahead if one.what == "sign" and not one.weak]
    loose = ahead[0].weak or ahead[0].keep or ahead[0].kind == "bedding"
    return strong[0] if strong and loose else ahead[0]


def _may_lead(one: Named, words: int) -> bool:
    """An area's kind stands first or last in its name; between, it is a part of another's."""
    return one.what != "area" or one.keep or one.at == 0 or one.at + one.n == words or one.n > 1


def _first_behind(lower: Sequence[str]) -> int:
    """Where the words begin that say where it is, behind something that says what it is."""
    for i, word in enumerate(lower):
        if not i:
            continue
        if word in BEHIND or (word in _TO and bearing_at(lower, i + 1) is None):
            return i
    return len(lower)


def camera_at(words: Sequence[str]) -> int | None:
    """Give where a camera word stands that names what it is, or None.

    `rub by cam 3` is a rub; `bed cam 9` and `camera on scrape` are cameras.
    """
    lower = [w.lower() for w in words]
    at = next((i for i, w in enumerate(lower) if is_camera_word(w)), None)
    if at is None or (at and at > _first_behind(lower)):
        return None
    if at and lower[at - 1] in _TO:
        return None
    return at


def is_camera_word(lower: str) -> bool:
    """Whether a word names a camera, with or without a number: `cam`, `trailcam3`, `cam-07`."""
    return lower.rstrip("0123456789abcd").rstrip("-_#") in _CAMERA_WORDS or lower in _CAMERA_WORDS


def is_errand(words: Sequence[str]) -> bool:
    """Whether words beside a camera speak of one that does not hang: `cam spot`, `check cam 3`."""
    lower = [w.lower() for w in words]
    return not _NO_CAMERA.isdisjoint(lower) or lower[-2:] in (["cam", "tree"], ["camera", "tree"])


def _is_plain(lower: str) -> bool:
    return lower in _PLAIN or lower in FACING or bearing_at([lower], 0, led=False) is not None


def doubt_of(one: Named, words: Sequence[str], unknown: Sequence[str], label: bool) -> str | None:
    """Say why a name is asked about before it is taken as what its words say, or None.

    Args:
        one: what its words name.
        words: all words of the name.
        unknown: those that mean nothing beside it.
        label: whether it ends in a number.
    """
    lower = [w.lower() for w in words]
    around = lower[max(0, one.at - 2) : one.at] + lower[one.at + one.n : one.at + one.n + 1]
    if one.what == "sign":
        other = next((w for w in around if w in _OTHERS), None)
        if other and other not in BEHIND:
            return f"{other!r} sounds like another animal's"
        if "mock" in lower:
            return "a mock scrape is yours, not his"
    ahead = lower[: max(_first_behind(lower), one.at + one.n)]
    if set(ahead) & _DEER:
        return None
    outside = {*lower[: one.at], *lower[one.at + one.n :]} & {u.lower() for u in unknown}
    maps = [w for w in ahead if w in MAP_NAMES and w in outside]
    if maps and (one.weak or one.what == "sign"):
        return f"{maps[0]!r} sounds like a place on the map, not sign"
    if not one.weak or one.what == "place":
        return None
    strange = [w for w in unknown if w.lower() in ahead and not _is_plain(w.lower())]
    if one.what == "sign" and strange:
        return (
            f"{' '.join(words[one.at : one.at + one.n])!r} could be something other than deer sign"
        )
    if one.what == "sign" and label and one.kind in ("trail", "track"):
        return f"{' '.join(words)!r} could be a numbered path"
    return None
