"""Whether a teacher may leave the house: only once nobody is waiting for a lesson with her."""

from dataclasses import dataclass
from datetime import date, time

from scheduling.rules.booking import day_words
from studio.rules import Reason


@dataclass(frozen=True)
class StillTeaches:
    """Lessons somebody has yet to give: how many begin later, the local day of the last, and when a running one ends.

    `last_day` is None without later lessons, `busy_until` (wall time where she stands) without a running one.
    """

    ahead: int = 0
    last_day: date | None = None
    busy_until: time | None = None


def leaving_refusals(name: str, facts: StillTeaches) -> list[Reason]:
    """Why `name` cannot leave yet, with the way out; empty when she may."""
    reasons = []
    if facts.ahead and facts.last_day:
        lessons = "1 lesson" if facts.ahead == 1 else f"{facts.ahead} lessons"
        says = f"{name} still teaches {lessons}, until {day_words(facts.last_day)}. Hand them over first."
        reasons.append(Reason("still_teaches", says, allowed="Hand the lessons over, or cancel them."))
    if facts.busy_until:
        says = (
            f"{name} is teaching just now, until {facts.busy_until:%H:%M}. Let the lesson end, so that its log is kept."
        )
        reasons.append(Reason("teaching_now", says, allowed="When the lesson has ended."))
    return reasons
