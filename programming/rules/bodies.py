"""Notes of a client's build: which set-ups of the ladders they choose, and what a body may measure.

Which note goes with which set-up is common practice without a published source; the set-ups are the ladders' own.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache

from studio.rules import Reason

# The ladder's word for a set-up that everybody gets.
ALWAYS = "always"
STATURE_MM = (1000, 2300)
# The leg is the functional leg length of the reference: sitting, leg straight, from the wall behind the back to the
# sole. Its mean is 0.64 of the stature (ansur2); beyond these parts it is a slip of the pen, a choice of this studio.
LEG_MM = (450, 1500)
LEG_SHARE = (0.55, 0.75)
SEXES = ("female", "male")


@dataclass(frozen=True)
class Note:
    """A note with its words; `seen` are phrases of a set-up's "when seen" that it answers to."""

    key: str
    words: str
    group: str
    seen: tuple[str, ...]


BUILD, STIFF, SUPPORT, SORE = "Build", "Stiff or tight", "Needs support", "Gets sore"
GROUPS = (BUILD, STIFF, SUPPORT, SORE)
NOTES = (
    Note("tall", "tall", BUILD, ("tall client",)),
    Note("short", "short", BUILD, ("short client", "short or stiff")),
    Note("light", "very light", BUILD, ("light client",)),
    Note("heavy", "heavy or strong", BUILD, ("heavy or strong", "heavy client")),
    Note("long_legs", "long legs", BUILD, ("long legs",)),
    Note("short_legs", "short legs", BUILD, ("short legs", "short leg length")),
    Note("long_thighs", "long thighs", BUILD, ("long thighs",)),
    Note("long_trunk", "long trunk", BUILD, ("long trunk",)),
    Note("short_arms", "short arms", BUILD, ("short arms",)),
    Note("wide_chest", "wide chest", BUILD, ("wide chest",)),
    Note("full_belly", "belly in the way", BUILD, ("belly in the way",)),
    Note("large_feet", "large feet", BUILD, ("large feet", "long or flat feet")),
    Note("flat_feet", "flat feet", BUILD, ("long or flat feet",)),
    Note("rounded_upper_back", "rounded upper back", STIFF, ("rounded upper back",)),
    Note("thick_upper_back", "thick upper back", STIFF, ("thick upper back",)),
    Note("stiff_shoulders", "stiff shoulders", STIFF, ("stiff shoulders",)),
    Note("stiff_back", "stiff low back", STIFF, ("stiff low back", "short or stiff")),
    Note("tight_hips", "tight hips", STIFF, ("tight hips",)),
    Note("tight_hamstrings", "tight back of the legs", STIFF, ("tight back of legs",)),
    Note("tight_thighs", "tight front of the thighs", STIFF, ("tight front of thighs",)),
    Note("stiff_toes", "stiff toes", STIFF, ("stiff toes",)),
    Note("not_flat", "cannot lie flat", STIFF, ("cannot lie flat",)),
    Note("flexible_hips", "very flexible hips", SUPPORT, ("flexible hips",)),
    Note("knees_lock", "knees that lock backward", SUPPORT, ("knees that lock",)),
    Note("knees_apart", "knees drift apart", SUPPORT, ("knees cannot stay together", "knees splay")),
    Note("knee_drifts_in", "knee drifts in", SUPPORT, ("knee drifts in",)),
    Note("low_back_lifts", "low back lifts", SUPPORT, ("low back lifts",)),
    Note("neck_tires", "neck tires early", SUPPORT, ("neck tires",)),
    Note("weak_grip", "weak grip", SUPPORT, ("weak grip",)),
    Note("poor_balance", "poor balance", SUPPORT, ("poor balance",)),
    Note("afraid", "afraid of falling or going back", SUPPORT, ("fear of",)),
    Note("slides", "slides on the carriage", SUPPORT, ("slides on",)),
    Note("sore_kneecaps", "kneecaps, when kneeling", SORE, ("sore kneecaps", "knee pain")),
    Note("sore_wrists", "wrists, when leaned on", SORE, ("wrist pain",)),
    Note("sore_thumb", "thumb", SORE, ("sore thumb",)),
    Note("sore_neck", "neck", SORE, ("neck pinches", "neck tension")),
    Note("sore_front", "breasts, belly or ribs on the box", SORE, ("sore on box",)),
    Note("sore_tailbone", "tailbone", SORE, ("painful tailbone",)),
    Note("sore_instep", "instep under the strap", SORE, ("painful instep",)),
    Note("cramps", "cramp in foot or thigh", SORE, ("cramp in",)),
)
BY_KEY = {note.key: note for note in NOTES}
CONTRARY = (("tall", "short"), ("light", "heavy"), ("long_legs", "short_legs"), ("flexible_hips", "tight_hips"))


@dataclass(frozen=True)
class BodyFacts:
    """What is noted of a body. Millimetres; `leg_on` is the day the leg was measured; `sex` only for the estimate."""

    notes: frozenset[str] = frozenset()
    stature_mm: int | None = None
    leg_mm: int | None = None
    leg_on: date | None = None
    sex: str = ""


@cache
def notes_for(when_seen: str) -> frozenset[str]:
    """Keys of the notes that choose a set-up seen in these words; empty for one everybody gets, or nobody by note."""
    words = when_seen.lower()
    return frozenset(note.key for note in NOTES if any(phrase in words for phrase in note.seen))


def chooses(when_seen: str, notes: Collection[str]) -> bool:
    """Whether a set-up with these words is for a client with these notes."""
    return when_seen.strip().lower() == ALWAYS or not notes_for(when_seen).isdisjoint(notes)


def words_of(notes: Collection[str]) -> tuple[str, ...]:
    """The notes in words, in the order of the list."""
    return tuple(note.words for note in NOTES if note.key in notes)


def refusals(facts: BodyFacts) -> list[Reason]:
    """What of these facts cannot be kept."""
    found = [*_note_refusals(facts.notes)]
    found += _span_refusals("stature_mm", "height", facts.stature_mm, STATURE_MM)
    found += _span_refusals("leg_mm", "leg", facts.leg_mm, LEG_MM)
    if facts.sex and facts.sex not in SEXES:
        found.append(Reason("sex", "Choose one of the two, or leave it open.", "sex", "female, male or nothing"))
    if not found and facts.stature_mm and facts.leg_mm:
        share = facts.leg_mm / facts.stature_mm
        if not LEG_SHARE[0] <= share <= LEG_SHARE[1]:
            says = "Height and leg do not go together; measure once more."
            found.append(Reason("leg_share", says, "leg_mm", "a leg of 55 to 75 percent of the height"))
    return found


def _note_refusals(notes: Collection[str]) -> list[Reason]:
    if not set(notes) <= BY_KEY.keys():
        return [Reason("unknown_note", "There is no such note.", "notes", "notes of the list")]
    both: Sequence[tuple[str, str]] = [pair for pair in CONTRARY if set(pair) <= set(notes)]
    return [
        Reason("contrary", f"{BY_KEY[one].words.capitalize()} and {BY_KEY[other].words}: choose one.", "notes")
        for one, other in both
    ]


def _span_refusals(field: str, word: str, value: int | None, span: tuple[int, int]) -> list[Reason]:
    low, high = span
    if value is None or low <= value <= high:
        return []
    says = f"A {word} is between {low // 10} and {high // 10} centimetres."
    return [Reason("out_of_range", says, field, f"{low // 10} to {high // 10} cm")]
