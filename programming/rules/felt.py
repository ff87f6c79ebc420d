"""What was felt at a line: pain 0 to 10, something else by its word, and whether it went on past the next day."""

from dataclasses import dataclass

from studio.rules import Reason

PAIN_MOST = 10
# Programs, section 11: a review at once at pain of 4 or more, or when it lasts over a week (common practice).
REVIEW_PAIN = 4
REVIEW_LASTING_DAYS = 7
# Something may be told of a lesson for so long (common practice, no source).
TOLD_DAYS = 28


@dataclass(frozen=True)
class Symptom:
    """A word for what was felt; `stop_sign` is the row of the stop signs that it may be, empty for none."""

    key: str
    words: str
    stop_sign: str = ""


SYMPTOMS = {
    one.key: one
    for one in (
        Symptom("pinching", "pulling or pinching"),
        Symptom("sore", "sore afterwards"),
        Symptom("cramp", "a cramp"),
        Symptom("numb", "numbness or pins and needles", "X10"),
        Symptom("dizzy", "dizziness", "X02"),
        Symptom("breath", "out of breath", "X04"),
        Symptom("sick", "feeling sick", "X07"),
        Symptom("other", "something else"),
    )
}


@dataclass(frozen=True)
class Felt:
    """`pain` is None when nobody asked; `symptom` is a key of SYMPTOMS, empty for none."""

    pain: int | None = None
    symptom: str = ""
    lasting: bool = False

    @property
    def is_nothing(self) -> bool:
        return not (self.pain or self.symptom or self.lasting)

    @property
    def words(self) -> str:
        """In words, for those who may read it; empty when nothing was felt."""
        found = [f"pain {self.pain} of {PAIN_MOST}"] if self.pain else []
        found += [SYMPTOMS[self.symptom].words] if self.symptom in SYMPTOMS else []
        return ", ".join([*found, *(["still there the day after"] if self.lasting else [])])

    @property
    def stop_sign(self) -> str:
        return SYMPTOMS[self.symptom].stop_sign if self.symptom in SYMPTOMS else ""


def refusals(felt: Felt, *, days_ago: int) -> list[Reason]:
    """Why it cannot be kept; `days_ago` counts from the day of the lesson."""
    reasons = []
    if felt.pain is not None and not 0 <= felt.pain <= PAIN_MOST:
        reasons.append(Reason("pain", "Pain is between 0 and 10.", "pain", "0 to 10"))
    if felt.symptom and felt.symptom not in SYMPTOMS:
        allowed = ", ".join(one.words for one in SYMPTOMS.values())
        reasons.append(Reason("symptom", "Choose one of the words.", "symptom", allowed))
    if felt.lasting and days_ago < 1:
        says = "Whether it is still there the day after is known tomorrow."
        reasons.append(Reason("too_early", says, "lasting", "add it from tomorrow on"))
    if days_ago > TOLD_DAYS:
        says = f"This lesson was {days_ago} days ago."
        reasons.append(Reason("too_late", says, "pain", f"within {TOLD_DAYS} days of the lesson"))
    return reasons


def asks_review(felt: Felt, *, days_ago: int) -> bool:
    """Whether a review is called at once: strong pain, or something that has lasted over a week."""
    return (felt.pain or 0) >= REVIEW_PAIN or (felt.lasting and days_ago > REVIEW_LASTING_DAYS)
