"""The minute before a lesson: a sore place becomes movements to leave out or to change, today only.

A finding only ever adds to the limits on record (screening, section 5: today's check-in may add, never remove). Which
place asks what of which movement, and from which pain on, is common practice without a published source; that pain of
4 and more asks for a reassessment, and that a stop sign ends the lesson, is the studio's own table. Nothing here names
a cause.
"""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum

from clients.rules.outcomes import Level, strictest_level
from programming.rules.fitting import LimitFact
from studio.rules import Reason

MOST_PAIN = 10
# From here on the movements that load the place are left out, below they are changed: common practice, no source.
LEFT_OUT_FROM = 3
# immediate_pain of the review intervals: "pain 4 of 10 or more".
REVIEW_FROM = 4
BECAUSE = "checkin:"
LEVELS = tuple(Level)
TURNED_AND_ROUNDED = "rot_flex"
PARTS_OF_TURNED_AND_ROUNDED = frozenset({"rotation", "flex_loaded", "flex_end"})


class Side(StrEnum):
    LEFT = "left"
    RIGHT = "right"


@dataclass(frozen=True)
class Site:
    """A place of the body: the movements that load it, those that may disturb it, and the body note it stands for."""

    key: str
    words: str
    loads: tuple[str, ...]
    disturbs: tuple[str, ...] = ()
    note: str = ""
    is_sided: bool = True


SITES = (
    Site("neck", "neck", ("neck_hold", "neck_weight"), ("inversion", "posture_change"), "sore_neck", False),
    Site("shoulder", "shoulder", ("shoulder_overhead", "shoulder_wb", "shoulder_ext_end"), ("grip",)),
    Site("elbow", "elbow", ("grip",), ("wrist_wb", "shoulder_wb")),
    Site("wrist", "wrist or hand", ("wrist_wb",), ("grip",), "sore_wrists"),
    Site("upper_back", "upper back", ("ext_end", "rot_flex"), ("rotation", "flex_end", "ext_loaded"), "", False),
    Site(
        "low_back", "low back", ("flex_end", "ext_end", "rot_flex"),
        ("flex_loaded", "ext_loaded", "long_lever", "rotation", "sidebend"), "", False,
    ),
    Site("belly", "belly or ribs", ("prone",), ("straining", "flex_loaded", "rotation"), "sore_front", False),
    Site("tailbone", "tailbone", ("rolling",), ("flex_end",), "sore_tailbone", False),
    Site("hip", "hip or groin", ("hip_flex_90", "hip_add_mid", "hip_abd_wide"), ("hip_ext",)),
    Site("thigh_back", "back of the thigh", ("hamstring_end",), ("hip_abd_wide",)),
    Site("knee", "knee", ("knee_flex_deep", "kneel", "pivot"), ("impact",), "sore_kneecaps"),
    Site("foot", "ankle or foot", ("forefoot", "impact", "pivot"), ("balance",)),
)  # fmt: skip
BY_KEY = {site.key: site for site in SITES}


class Route(StrEnum):
    """Where a sign leads: to the emergency number, or to no lesson today and a doctor's word first."""

    EMERGENCY = "emergency"
    NOT_TODAY = "not_today"


@dataclass(frozen=True)
class Sign:
    """A stop sign before the lesson, by its rows of the reference, and the event the form is asked again for."""

    key: str
    words: str
    route: Route
    rows: tuple[str, ...]
    event: str = "symptom"


SIGNS = (
    Sign("chest", "chest pain or pressure", Route.EMERGENCY, ("X01", "F20")),
    Sign("breath", "sudden breathlessness without a reason", Route.EMERGENCY, ("X04", "F19")),
    Sign("one_side", "one side weak, face drooping, speech gone wrong", Route.EMERGENCY, ("X05", "F21")),
    Sign("headache", "a sudden headache like none before", Route.EMERGENCY, ("X11", "F21")),
    Sign("calf", "one calf hot, swollen and sore", Route.EMERGENCY, ("X13", "F18")),
    Sign("bladder", "back or leg pain with a new change of bladder or bowels", Route.EMERGENCY, ("F01", "F02")),
    Sign("faint", "fainted or nearly fainted", Route.NOT_TODAY, ("X06",), "faint"),
    Sign("dizzy", "dizzy, and it does not pass", Route.NOT_TODAY, ("X02",)),
    Sign("heart", "a heart that races or stumbles", Route.NOT_TODAY, ("X03",)),
    Sign("spreading", "new weakness, or numbness or pain that spreads", Route.NOT_TODAY, ("X10", "F17")),
    Sign("sight", "sight that blurs", Route.NOT_TODAY, ("X08",)),
    Sign("ill", "fever, feeling sick or ill", Route.NOT_TODAY, ("X07",)),
    Sign("pregnancy", "in pregnancy: bleeding, fluid lost, or painful contractions", Route.NOT_TODAY, ("X14",)),
    Sign("fall", "a fall or a blow since last time, and it hurts", Route.NOT_TODAY, ("F07",), "fall"),
)
SIGN_BY_KEY = {sign.key: sign for sign in SIGNS}


class Slept(StrEnum):
    WELL = "well"
    SO_SO = "so-so"
    BADLY = "badly"


@dataclass(frozen=True)
class Sore:
    """One sore place. `side` is None for a place in the middle, and for both sides."""

    site: str
    side: Side | None = None

    @property
    def words(self) -> str:
        site = BY_KEY[self.site]
        return f"{self.side} {site.words}" if self.side else f"both: {site.words}" if site.is_sided else site.words


@dataclass(frozen=True)
class Answers:
    """What was said at the check-in. `pain` is 0 to 10 and stands for the sorest of the places."""

    sores: tuple[Sore, ...] = ()
    pain: int = 0
    slept: Slept | None = None
    signs: tuple[str, ...] = ()

    @property
    def is_quiet(self) -> bool:
        """Nothing sore and no sign: the lesson goes on as fitted."""
        return not self.sores and not self.signs

    @property
    def route(self) -> Route | None:
        """The strictest of the signs' routes; None without a sign."""
        found = {SIGN_BY_KEY[key].route for key in self.signs}
        return next((route for route in Route if route in found), None)

    @property
    def asks_review(self) -> bool:
        return self.pain >= REVIEW_FROM or bool(self.signs)


def refusals(answers: Answers) -> list[Reason]:
    """What of these answers cannot be kept."""
    found: list[Reason] = []
    if any(sore.site not in BY_KEY or (sore.side and not BY_KEY[sore.site].is_sided) for sore in answers.sores):
        found.append(Reason("unknown_site", "There is no such place.", "sore", "places of the list"))
    if not 0 <= answers.pain <= MOST_PAIN:
        found.append(Reason("pain", "Pain is a number from 0 to 10.", "pain", "0 to 10"))
    if not set(answers.signs) <= SIGN_BY_KEY.keys():
        found.append(Reason("unknown_sign", "There is no such sign.", "sign", "signs of the list"))
    if answers.pain and not answers.sores and not found:
        found.append(Reason("where", "Where is it sore? Tap a place first.", "sore", "one or more places"))
    return found


def findings(answers: Answers) -> dict[str, LimitFact]:
    """Limits of today by demand. Pain of 0 at a named place is watched; from 3 on what loads it is left out."""
    found: dict[str, LimitFact] = {}
    for sore in answers.sores:
        site = BY_KEY[sore.site]
        loads, disturbs = _levels(answers.pain)
        for demand, level in (*((one, loads) for one in site.loads), *((one, disturbs) for one in site.disturbs)):
            _add(found, demand, level, sore)
    for demand in sorted(PARTS_OF_TURNED_AND_ROUNDED & found.keys()):
        _raise(found, TURNED_AND_ROUNDED, found[demand])
    return found


def tightened(standing: Mapping[str, LimitFact], today: Mapping[str, LimitFact]) -> dict[str, LimitFact]:
    """The limits on record with today's findings: no level falls and none goes; where both speak, the stricter word.

    At the same level the standing limit keeps its words and gains today's reason.
    """
    merged = dict(standing)
    for demand, fact in today.items():
        _raise(merged, demand, fact)
    return merged


def notes(answers: Answers) -> frozenset[str]:
    """Body notes that hold today beside the client's own: a sore wrist chooses the set-ups for wrists."""
    return frozenset(BY_KEY[sore.site].note for sore in answers.sores if BY_KEY[sore.site].note)


def because_words(key: str) -> str:
    """`today's check-in: left wrist or hand` for a reason of a finding; empty for any other."""
    if not key.startswith(BECAUSE):
        return ""
    site, _, side = key.removeprefix(BECAUSE).partition(".")
    if site not in BY_KEY:
        return "today's check-in"
    return f"today's check-in: {Sore(site, Side(side) if side else None).words}"


def told(answers: Answers) -> str:
    """The check-in in one line: `left knee, neck; pain 3; slept badly`."""
    parts = [
        ", ".join(sore.words for sore in answers.sores),
        ", ".join(SIGN_BY_KEY[key].words for key in answers.signs),
    ]
    if answers.sores:
        parts.append(f"pain {answers.pain}")
    if answers.slept:
        parts.append(f"slept {answers.slept}")
    return "; ".join(filter(None, parts)) or "nothing new"


def asked(demands: Collection[str], limits: Mapping[str, LimitFact]) -> Level | None:
    """The strictest level that these limits put on a form with these demands."""
    return strictest_level(limits[demand].level for demand in demands if demand in limits)


def _levels(pain: int) -> tuple[Level, Level]:
    """What becomes of the movements that load a place, and of those that may disturb it."""
    if pain >= REVIEW_FROM:
        return Level.AVOID, Level.AVOID
    if pain >= LEFT_OUT_FROM:
        return Level.AVOID, Level.ADAPT
    return (Level.ADAPT, Level.WATCH) if pain else (Level.WATCH, Level.WATCH)


def _add(found: dict[str, LimitFact], demand: str, level: Level, sore: Sore) -> None:
    because = BECAUSE + ".".join(filter(None, [sore.site, sore.side]))
    _raise(found, demand, LimitFact(level, (because,), _how(level), ("studio_practice",)))


def _raise(found: dict[str, LimitFact], demand: str, fact: LimitFact) -> None:
    before = found.get(demand)
    if before is None or LEVELS.index(fact.level) < LEVELS.index(before.level):
        found[demand] = fact
    elif fact.level is before.level:
        found[demand] = replace(
            before,
            because=_joined(before.because, fact.because),
            source_ids=_joined(before.source_ids, fact.source_ids),
        )


def _how(level: Level) -> str:
    return {
        Level.AVOID: "left out today",
        Level.ADAPT: "smaller and slower today",
        Level.WATCH: "stop when it is felt",
    }[level]


def _joined(*parts: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(one for part in parts for one in part))
