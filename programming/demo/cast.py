"""Who comes here: every client of the scenario with a kind, an age, a first day and a habit, drawn from a seed."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from random import Random

from programming.demo.scenario import ClientRow, Persona, Scenario

NEW_SHARE = 0.2
BY_LINK_SHARE = 0.04
OFTEN_SHARE = 0.4
STEADY_SHARE = 0.35
STOPPED = 4
RUNS_OUT = 3
COMES_BACK_CHANGED = 2
OF_AGE = 18


@dataclass(frozen=True)
class Member:
    """One client as the story has it.

    `weekly` lessons, 0 for who does not come; `by_link` filled the form in herself; `is_steady` is signed for more
    than the first level; `is_logged` has her lessons logged; `stopped` is the day from which she is not seen again;
    `changed` means that a form filled in two days ago asks for a letter.
    """

    number: int
    row: ClientRow
    persona: Persona
    born_on: date
    joined: date
    wish: str
    note: str
    emergency: str
    weekly: int
    by_link: bool
    is_steady: bool
    is_logged: bool
    stopped: date | None = None
    changed: bool = False

    def comes_on(self, day: date) -> bool:
        return self.joined < day and (self.stopped is None or day < self.stopped)

    def is_minor(self, day: date) -> bool:
        return (day - self.born_on).days < OF_AGE * 365.25


def members(scenario: Scenario, *, today: date, seed: str, number: int, weeks: int, logged: float) -> list[Member]:
    """The first `number` clients of the scenario; the same for the same seed and day."""
    rng = Random(f"{seed}:members")
    personas = _personas(scenario, rng, number)
    plain = [at for at, one in enumerate(personas) if one.may_book and not one.is_fresh]
    special = rng.sample(plain, min(len(plain), STOPPED + RUNS_OUT + COMES_BACK_CHANGED))
    found = []
    for at, persona in enumerate(personas):
        place = special.index(at) if at in special else len(special)
        found.append(_member(scenario, rng, at, persona, place, today=today, weeks=weeks, logged=logged))
    return found


def _personas(scenario: Scenario, rng: Random, number: int) -> Sequence[Persona]:
    """A persona for each client: all kinds come up, however few the clients; some are of one sex only."""
    rows = scenario.clients[:number]
    pool = [one for one in scenario.personas for _ in range(one.count)]
    if number < len(pool):
        pool = [*scenario.personas, *rng.sample(pool, len(pool))][:number]
    rng.shuffle(pool)
    pool.sort(key=lambda one: not one.sex)
    given: dict[int, Persona] = {}
    for persona in pool:
        free = [at for at, row in enumerate(rows) if at not in given and persona.sex in ("", row.sex)]
        given[rng.choice(free)] = persona
    return [given[at] for at in range(len(rows))]


def _member(
    scenario: Scenario, rng: Random, at: int, persona: Persona, place: int, *, today: date, weeks: int, logged: float
) -> Member:
    words = scenario.words
    runs_out = STOPPED <= place < STOPPED + RUNS_OUT
    joined = _joined(rng, persona, today, weeks)
    age = timedelta(days=int(rng.randint(*persona.ages) * 365.25) + rng.randint(0, 364))
    return Member(
        number=at,
        row=scenario.clients[at],
        persona=persona,
        born_on=today - age,
        joined=today - timedelta(days=rng.randint(346, 362)) if runs_out else joined,
        wish=rng.choice(words["wishes"]),
        note=rng.choice(words["notes"]) if rng.random() < 0.2 else "",
        emergency=rng.choice(words["emergency"]),
        weekly=(2 if rng.random() < OFTEN_SHARE else 1) if persona.may_book else 0,
        by_link=rng.random() < BY_LINK_SHARE or persona.stops is not None,
        is_steady=rng.random() < STEADY_SHARE,
        is_logged=rng.random() < logged,
        stopped=_stopped(rng, persona, place, today),
        changed=STOPPED + RUNS_OUT <= place < STOPPED + RUNS_OUT + COMES_BACK_CHANGED,
    )


def _stopped(rng: Random, persona: Persona, place: int, today: date) -> date | None:
    if persona.away is not None:
        return today - timedelta(days=persona.away)
    return today - timedelta(days=rng.randint(15, 40)) if place < STOPPED else None


def _joined(rng: Random, persona: Persona, today: date, weeks: int) -> date:
    if persona.is_today:
        return today
    if persona.joined is not None:
        return today - timedelta(days=persona.joined)
    if persona.away is not None:
        return today - timedelta(weeks=weeks, days=40)
    if persona.stops is not None:
        return today - timedelta(days=rng.randint(1, 6))
    if persona.is_fresh:
        return today - timedelta(days=rng.randint(4, 13))
    if rng.random() < NEW_SHARE:
        return today - timedelta(days=rng.randint(5, weeks * 7))
    return today - timedelta(days=weeks * 7 + rng.randint(3, 190))
