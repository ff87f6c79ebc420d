"""Letters from clinicians: handed in by anybody on the staff, read and put into terms by a teacher in her own name."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.db import transaction

from clients import models, queries
from clients.actions import care, chasing, files, letters, locks, reading, screening, seals
from clients.actions.people import contact_at
from clients.rules import adjusting
from clients.rules import files as file_rules
from clients.rules import letters as letter_rules
from clients.rules import screening as screening_rules
from clients.rules import terms as rules
from clients.rules.facts import LetterTerms, ScreeningFacts
from clients.rules.reference import Intensity
from clients.rules.screening import Screened
from clients.rules.terms import Doing, Entered
from studio import models as studio_models
from studio.actions import audit, notices
from studio.rules import Reason, Refused, Role

State = models.Letter.State
# Whoever a letter is routed to may read what it is about until she has read it, but not for ever.
READ_WITHIN = timedelta(days=30)
LONGEST_WORDS = 1000


@dataclass(frozen=True)
class PageKept:
    """A page of a letter, or all of them in one PDF."""

    id: UUID
    is_picture: bool
    page: int
    size: int


@dataclass(frozen=True)
class Ask:
    """What a rule asks a letter for; `is_open` says that no letter answers it yet."""

    rule_id: str
    says: str
    is_open: bool


@dataclass(frozen=True)
class ReadLetter:
    """A letter with its pages, what is asked, which movements are limited now, and its terms when it has some.

    `limited` are ids of demands, `set_aside_why` the words of whoever laid it aside, `usual_days` how long a letter
    holds that names no end, `is_past` whether its last day is over.
    """

    id: UUID
    client_id: UUID
    client_name: str
    state: str
    arrived_on: date
    arrived_by: str
    pages: tuple[PageKept, ...]
    asks: tuple[Ask, ...]
    limited: tuple[str, ...]
    usual_days: int
    terms: Entered | None
    set_aside_why: str
    read_by: str
    read_on: date | None
    holds_until: date | None
    is_past: bool
    ended_by: str
    ended_on: date | None


def hand_in(
    client_id: UUID, *, pages: Sequence[bytes], routed_to: int | None, by: studio_models.Person, now: datetime
) -> models.Letter:
    """Keep a letter, one PDF or photographs of its pages, and lay it before a teacher: the chosen one, or the usual.

    It decides nothing yet. Raises Refused with a reason beside `file` or `routed_to`.
    """
    with transaction.atomic():
        client = locks.client(client_id)
        teacher = _teacher(client, routed_to)
        if reason := file_rules.together_reason([len(one) for one in pages], len(pages)):
            raise Refused(reason)
        letter = models.Letter(id=uuid4(), client=client, arrived_by=by, arrived_at=now, routed_to=teacher)
        letter.file = _keep(client, pages, by=by, now=now)
        letter.save(force_insert=True)
        audit.wrote("hand_in_letter", letter, by=by, now=now, client_key=client.pk)
        chasing.stop_reminding(client, now=now)
        if teacher is not None:
            _route(letter, teacher, by=by, now=now)
    return letter


def route_letter(letter_id: UUID, *, to: int, by: studio_models.Person, now: datetime) -> models.Letter:
    """Lay an unread letter before another teacher. Raises Refused `read_already`, `no_teacher`."""
    with transaction.atomic():
        client, letter = _locked_letter(letter_id)
        _check_unread(letter)
        teacher = _teacher(client, to)
        if teacher is not None and teacher.pk != letter.routed_to_id:
            care.take_back_care(source=_source(letter), now=now)
            _route(letter, teacher, by=by, now=now)
    return letter


def read_letter(letter_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> ReadLetter:
    """A letter as a teacher reads it. Raises Letter.DoesNotExist, and Refused as `read_limits` does."""
    with transaction.atomic():
        client, letter = _locked_letter(letter_id)
        why = reading.allowed(client, by=by, now=now, why=why)
        audit.read(files.OPEN_LETTER, letter, by=by, now=now, client_key=client.pk, why=why)
        found = _screened(client, by=by, now=now)
        return _read(letter, client, found, now)


def read_back(
    letter_id: UUID, *, entered: Entered, by: studio_models.Person, now: datetime, why: str = ""
) -> tuple[Entered, Doing]:
    """What confirming these terms would do; nothing is stored. Raises Refused as `confirm_letter` does."""
    with transaction.atomic():
        client, letter = _unread_letter(letter_id, by=by, now=now, why=why)
        entered, found = _tidy(entered), _screened(client, by=by, now=now)
        _check(entered, found, on=queries.day_of(now, client))
        return entered, _doing(letter, client, entered, found, now)


def confirm_letter(
    letter_id: UUID, *, entered: Entered, by: studio_models.Person, now: datetime, why: str = ""
) -> models.Letter:
    """Put a letter into terms in the name of who read it, and screen anew.

    What it answers is asked no more and what it allows is relaxed until its last day; what it leaves out stays until a
    named person ends it. Raises Refused: `read_already`, a reason beside each wrong term, or as `read_limits` does.
    """
    with transaction.atomic():
        client, letter = _unread_letter(letter_id, by=by, now=now, why=why)
        entered, found = _tidy(entered), _screened(client, by=by, now=now)
        _check(entered, found, on=queries.day_of(now, client))
        letter.state, letter.confirmed_by, letter.confirmed_at = State.CONFIRMED, by, now
        letter.holds_until = _until(entered, now=now, client=client)
        terms = asdict(entered) | {"told": sorted(_told(entered, found))}
        terms |= {name: sorted(terms[name]) for name in ("answers", "allows", "forbids")}
        letter.sealed_terms = seals.sealed(terms, row=letter, column="sealed_terms", client=client)
        letter.save()
        audit.wrote("confirm_letter", letter, by=by, now=now, client_key=client.pk)
        care.take_back_care(source=_source(letter), now=now)
        chasing.stop_reminding(client, now=now)
        screening.screen_again(client, asked_for="letter", by=by, now=now)
    return letter


def end_letter(letter_id: UUID, *, by: studio_models.Person, now: datetime, why: str = "") -> models.Letter | None:
    """A named person ends a confirmed letter: what it leaves out, and with it all else. Ended already: None.

    Raises Refused `not_confirmed`, or as `read_limits` does.
    """
    with transaction.atomic():
        client, letter = _locked_letter(letter_id)
        reading.allowed(client, by=by, now=now, why=why)
        if letter.state != State.CONFIRMED:
            raise Refused(Reason("not_confirmed", "Nothing of this letter is in force."))
        if letter.ended_at is not None:
            return None
        letter.ended_by, letter.ended_at = by, now
        letter.save(update_fields=["ended_by", "ended_at"])
        audit.wrote("end_letter", letter, by=by, now=now, client_key=client.pk)
        screening.screen_again(client, asked_for="letter", by=by, now=now)
    return letter


def set_aside(
    letter_id: UUID, *, because: str, by: studio_models.Person, now: datetime, why: str = ""
) -> models.Letter:
    """Lay a letter aside that says nothing of use or is not hers, and why. Raises Refused as `confirm_letter` does."""
    with transaction.atomic():
        client, letter = _unread_letter(letter_id, by=by, now=now, why=why)
        because = " ".join(because.replace("\x00", "").split())[:LONGEST_WORDS]
        if not because:
            raise Refused(Reason("missing", "Write a few words for whoever reads it next.", "because"))
        letter.state = State.SET_ASIDE
        words = {"because": because, "by": by.name, "on": queries.day_of(now, client)}
        letter.sealed_terms = seals.sealed(words, row=letter, column="sealed_terms", client=client)
        letter.save()
        audit.wrote("set_aside_letter", letter, by=by, now=now, client_key=client.pk)
        care.take_back_care(source=_source(letter), now=now)
    return letter


@dataclass(frozen=True)
class _Found:
    """The client screened without the letter, and the facts it rests on; both None while no form is signed."""

    facts: ScreeningFacts | None
    screened: Screened | None
    asks: tuple[Ask, ...]


def _screened(client: models.Client, *, by: studio_models.Person, now: datetime) -> _Found:
    known = screening.facts_of(client, asked_for="letter", by=by, now=now)
    if known is None:
        return _Found(None, None, ())
    found = _screen(client, known, now)
    asks: dict[str, Ask] = {}
    for one in rules.answerable(found.reasons, queries.rules_in_force().rulebook):
        said = asks.get(one.rule_id, Ask(one.rule_id, "", False))
        says = said.says if one.says in said.says else f"{said.says} {one.says}".strip()
        asks[one.rule_id] = Ask(one.rule_id, says, said.is_open or not one.answered_by)
    return _Found(known, found, tuple(asks.values()))


def _screen(client: models.Client, known: ScreeningFacts, now: datetime) -> Screened:
    book, choices = queries.rules_in_force().rulebook, queries.choices()
    return screening_rules.screen(known, book, on=queries.day_of(now, client), choices=choices)


def _check(entered: Entered, found: _Found, *, on: date) -> None:
    asked = {one.rule_id for one in found.asks}
    demands = queries.rules_in_force().rulebook.demands if queries.has_rules() else {}
    if reasons := rules.refusals(entered, asked=asked, demands=demands, on=on):
        raise Refused(reasons)


def _doing(letter: models.Letter, client: models.Client, entered: Entered, found: _Found, now: datetime) -> Doing:
    book, until = queries.rules_in_force().rulebook, _until(entered, now=now, client=client)
    after = None
    if found.facts is not None:
        terms = LetterTerms(
            letter_id=str(letter.pk),
            dated=entered.dated,
            holds_until=until,
            answers=entered.answers,
            effort=entered.effort,
            allows=entered.allows,
            forbids=entered.forbids,
            is_named=bool(entered.clinician),
            told=_told(entered, found),
        )
        after = _screen(client, replace(found.facts, letters=(*found.facts.letters, terms)), now)
    return rules.doing(entered, before=found.screened, after=after, until=until, rulebook=book)


def _told(entered: Entered, found: _Found) -> frozenset[str]:
    """What the answered reasons are about today: what is told later, this letter does not answer."""
    reasons = found.screened.reasons if found.screened else ()
    return frozenset(word for one in reasons if one.rule_id in entered.answers for word in one.about)


def _until(entered: Entered, *, now: datetime, client: models.Client) -> date:
    book = adjusting.adjusted(queries.rules_in_force().rulebook, queries.choices())
    dated = entered.dated or queries.day_of(now, client)
    return letter_rules.holds_until(dated=dated, own_end=entered.until, rulebook=book)


def _tidy(entered: Entered) -> Entered:
    def line(text: str) -> str:
        return " ".join(text.replace("\x00", "").split())[:120]

    words = entered.words.replace("\x00", "").strip()[:LONGEST_WORDS]
    return replace(entered, clinician=line(entered.clinician), profession=line(entered.profession), words=words)


def _keep(
    client: models.Client, pages: Sequence[bytes], *, by: studio_models.Person, now: datetime
) -> models.StoredFile:
    kept: list[models.StoredFile] = []
    for number, content in enumerate(pages, 1):
        after = kept[0] if kept else None
        kept.append(
            files.keep(client, kind=files.Kind.LETTER, content=content, by=by, now=now, after=after, page=number)
        )
    return kept[0]


def _teacher(client: models.Client, chosen: int | None) -> studio_models.Person | None:
    """The teacher a letter is laid before: the chosen one, else the usual, else nobody yet."""
    wanted = chosen if chosen is not None else client.usual_instructor_id
    found: studio_models.Person | None = studio_models.Person.objects.filter(pk=wanted, is_active=True).first()
    if found is not None and found.has_role(Role.INSTRUCTOR):
        return found
    if chosen is None:
        return None
    raise Refused(Reason("no_teacher", "That person does not teach here. Choose somebody who does.", "routed_to"))


def _route(letter: models.Letter, teacher: studio_models.Person, *, by: studio_models.Person, now: datetime) -> None:
    letter.routed_to = teacher
    letter.save(update_fields=["routed_to"])
    # Nobody opens a client's health for herself by laying a paper before herself.
    if teacher.pk != by.pk or teacher.pk == letter.client.usual_instructor_id:
        _let_read(letter, teacher, now=now)
    audit.wrote("route_letter", letter, by=by, now=now, client_key=letter.client_id)
    contact = contact_at(teacher.email)
    if contact is not None and teacher.pk != by.pk:
        key = f"letter:{letter.pk}"
        values = {"name": teacher.name}
        once = f"letter_arrived:{letter.pk}:{teacher.pk}"
        notices.put(kind="letter_arrived", contact=contact, values=values, about=key, due_at=now, now=now, once=once)


def _let_read(letter: models.Letter, teacher: studio_models.Person, *, now: datetime) -> None:
    day = queries.day_of(now, letter.client)
    care.give_care(
        person=teacher,
        client=letter.client,
        first_day=day,
        last_day=day + READ_WITHIN,
        why="a letter to read",
        source=_source(letter),
        now=now,
    )


def _source(letter: models.Letter) -> str:
    return f"letter:{letter.pk}"


def _check_unread(letter: models.Letter) -> None:
    if letter.state == State.CONFIRMED and letter.confirmed_by is not None:
        raise Refused(Reason("read_already", f"{letter.confirmed_by.name} has put it into terms already."))
    if letter.state != State.UNREAD:
        raise Refused(Reason("read_already", "It was set aside already."))


def _unread_letter(
    letter_id: UUID, *, by: studio_models.Person, now: datetime, why: str
) -> tuple[models.Client, models.Letter]:
    """The client and a letter that this person may read and nobody has read yet. Raises Refused."""
    client, letter = _locked_letter(letter_id)
    reading.allowed(client, by=by, now=now, why=why)
    _check_unread(letter)
    return client, letter


def _locked_letter(letter_id: UUID) -> tuple[models.Client, models.Letter]:
    """The client, locked first, and the letter as it is now."""
    client = locks.client(models.Letter.objects.values_list("client_id", flat=True).get(pk=letter_id))
    people = ("file", "routed_to", "arrived_by", "confirmed_by", "ended_by")
    letter = client.letters.select_related(*people).get(pk=letter_id)
    letter.client = client
    return client, letter


def _read(letter: models.Letter, client: models.Client, found: _Found, now: datetime) -> ReadLetter:
    terms = _words_of(letter, client)
    days = adjusting.adjusted(queries.rules_in_force().rulebook, queries.choices()).intervals
    confirmed, aside = letter.state == State.CONFIRMED, letter.state == State.SET_ASIDE
    return ReadLetter(
        id=letter.pk,
        client_id=client.pk,
        client_name=client.name,
        state=letter.state,
        arrived_on=queries.day_of(letter.arrived_at, client),
        arrived_by=letter.arrived_by.name if letter.arrived_by else "",
        pages=tuple(
            PageKept(one.pk, one.media_type != file_rules.PDF, one.page, one.size)
            for one in (files.pages_of(letter.file) if letter.file else ())
        ),
        asks=found.asks,
        limited=tuple(dict.fromkeys(limit.demand for limit in found.screened.limits)) if found.screened else (),
        usual_days=days[letter_rules.LETTER_INTERVAL].days or 0,
        terms=_entered(terms) if confirmed else None,
        set_aside_why=terms["because"] if aside else "",
        read_by=_name(letter.confirmed_by) or (terms["by"] if aside else ""),
        read_on=_day(letter.confirmed_at, client) or (date.fromisoformat(terms["on"]) if aside else None),
        holds_until=letter.holds_until,
        is_past=letter.holds_until is not None and letter.holds_until < queries.day_of(now, client),
        ended_by=_name(letter.ended_by),
        ended_on=_day(letter.ended_at, client),
    )


def _words_of(letter: models.Letter, client: models.Client) -> dict[str, Any]:
    if not letter.sealed_terms:
        return {}
    return dict(seals.opened(letter, "sealed_terms", client=client))


def _entered(terms: dict[str, Any]) -> Entered:
    return Entered(
        clinician=terms["clinician"],
        profession=terms["profession"],
        dated=letters.day_or_none(terms["dated"]),
        until=letters.day_or_none(terms["until"]),
        answers=frozenset(terms["answers"]),
        effort=Intensity(terms["effort"]) if terms["effort"] else None,
        allows=frozenset(terms["allows"]),
        forbids=frozenset(terms["forbids"]),
        words=terms["words"],
    )


def _name(person: studio_models.Person | None) -> str:
    return person.name if person else ""


def _day(at: datetime | None, client: models.Client) -> date | None:
    return queries.day_of(at, client) if at else None
