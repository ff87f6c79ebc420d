"""The instructor's day: her places in order, and which need a look at the brief before they start."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from uuid import UUID

from clients import queries as client_queries
from clients.rules.outcomes import DeskWord
from programming import models
from scheduling import queries as scheduling_queries
from scheduling.queries import PlaceFacts
from studio.models import Person


@dataclass(frozen=True)
class FloorPlace:
    """One lesson of hers. `marks` are names of marks, what needs a look first; `stage` is "", begun or finished."""

    place: PlaceFacts
    marks: tuple[str, ...]
    program_id: UUID | None
    planned: str
    stage: str
    is_now: bool
    is_past: bool
    to_fit_again: bool = False

    @property
    def needs_a_look(self) -> bool:
        return bool(self.marks)


@dataclass(frozen=True)
class FloorDay:
    """Her lessons on a local day, in order; `upcoming` is the one that runs now or comes next."""

    day: date
    is_today: bool
    places: tuple[FloorPlace, ...]

    @property
    def before(self) -> date:
        return self.day - timedelta(days=1)

    @property
    def after(self) -> date:
        return self.day + timedelta(days=1)

    @property
    def upcoming(self) -> FloorPlace | None:
        return next((place for place in self.places if not place.is_past), None)


def floor_day(person: Person, day: date, *, now: datetime) -> FloorDay:
    """Her day; the number of queries does not depend on how many lessons it has."""
    places = scheduling_queries.places_of_day(person.pk, day, now=now)
    client_ids = [place.client_id for place in places]
    forms = client_queries.form_standings(client_ids, on=day)
    due = {review.client_id for review in client_queries.open_reviews(on=day, person=person, limit=500)}
    programs = _programs([place.place_id for place in places])
    stages = _stages([place.place_id for place in places])
    rows = []
    for place in places:
        program_id, name, differs = programs.get(place.place_id, (None, "", False))
        marks = _marks(place, forms[place.client_id], place.client_id in due)
        rows.append(
            FloorPlace(
                place=place,
                marks=marks,
                program_id=program_id,
                planned=name,
                stage=stages.get(place.place_id, ""),
                is_now=place.span.start <= now < place.span.end,
                is_past=now >= place.span.end,
                to_fit_again=differs and place.place_id not in stages and now < place.span.end,
            )
        )
    return FloorDay(day, day == client_queries.house_day(now), tuple(rows))


def _marks(place: PlaceFacts, form: client_queries.FormStanding, review_due: bool) -> tuple[str, ...]:
    found = []
    if form.word is not DeskWord.CURRENT:
        found.append(form.mark)
    if place.first_visit:
        found.append("new")
    if review_due:
        found.append("due")
    return tuple(found)


def _programs(place_ids: list[UUID]) -> dict[UUID, tuple[UUID, str, bool]]:
    """Program, template, and whether it is to be fitted again: found by night, or on another machine since."""
    rows = models.Program.objects.filter(place_id__in=place_ids, replaced_at=None)
    told = rows.values_list("place_id", "id", "template__name", "differs_since", "apparatus_id", "place__apparatus_id")
    return {
        place: (key, name, since is not None or fitted_for != taught_on)
        for place, key, name, since, fitted_for, taught_on in told
    }


def _stages(place_ids: list[UUID]) -> dict[UUID, str]:
    rows = models.Log.objects.filter(place_id__in=place_ids).values_list("place_id", "finished_at")
    return {place: "finished" if finished else "begun" for place, finished in rows}
