"""Clients arrive: a card at the desk, the health form by link or told to the desk, signed, and signed again later."""

from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import Any
from uuid import UUID

from clients import actions as client_actions
from clients import queries as client_queries
from programming.demo.answers import Telling
from programming.demo.cast import Member
from programming.demo.founding import House
from programming.demo.scenario import Scenario
from studio.rules import zones

ARRIVES = time(9, 20)
SCREEN_TAKES = timedelta(seconds=25)
SIGNED_AGAIN_BEFORE = timedelta(days=2)
NEW_SIGN = {"S2": "yes"}
# Of so many clients one agrees to no messages, one to no touch.
SILENT = 12
HANDS_OFF = 7


def enrol(member: Member, house: House, scenario: Scenario, *, now: datetime) -> UUID:
    """The client's card and whatever her form came to on the day she joined, at the latest an hour before `now`."""
    arrives = zones.at(member.joined, ARRIVES, scenario.zone_of(member.row.home)).instant
    arrives = min(arrives + timedelta(minutes=member.number), now - timedelta(hours=1))
    client_id = _card(member, house, arrives)
    _agrees(member, house, client_id, arrives)
    if member.persona.stops == 0:
        client_actions.make_form_link(client_id, by=house.desk, now=arrives)
    elif member.by_link:
        _by_link(member, house, scenario, client_id, arrives)
    else:
        _as_told(member, house, scenario, client_id, arrives)
    return client_id


def sign_again(member: Member, house: House, scenario: Scenario, client_id: UUID, *, now: datetime) -> None:
    """She fills the form in anew and tells of a sign that a doctor should see first."""
    changed = replace(member, persona=replace(member.persona, tells={**member.persona.tells, **NEW_SIGN}, stops=None))
    _by_link(changed, house, scenario, client_id, now - SIGNED_AGAIN_BEFORE)


def who_signs(member: Member, now: datetime) -> str:
    """The client's own name, or a minor's guardian's."""
    return _signature(member, now)[0]


def _card(member: Member, house: House, now: datetime) -> UUID:
    row = member.row
    card: dict[str, Any] = {"email": row.email, "say_it": row.say_it, "pronoun": row.pronoun, "notes": member.note}
    card |= {"born_on": member.born_on, "home_id": house.studios[row.home], **_words(member, now)}
    try:
        client = client_actions.add_client(name=row.name, **card, by=house.desk, now=now)
    except client_actions.LooksLike as looks:
        # Two people of one name: the desk has looked at the other card and says so.
        others = tuple(alike.id for alike in looks.rows)
        client = client_actions.add_client(name=row.name, **card, by=house.desk, now=now, different_from=others)
    return client.pk


def _agrees(member: Member, house: House, client_id: UUID, now: datetime) -> None:
    """Told at the desk with the card: most agree to messages and to guiding touch, some to neither."""
    name, _ = _signature(member, now)
    kinds = ["messages"] * (member.number % SILENT != 0) + ["touch"] * (member.number % HANDS_OFF != 0)
    for kind in kinds:
        client_actions.give_consent(client_id, kind=kind, given_by=name, by=house.desk, now=now)


def _words(member: Member, now: datetime) -> dict[str, str]:
    family = member.row.name.split()[-1]
    near = f"{member.emergency} {family}"
    return {
        # Numbers kept free for stories (from memory: 01632 960000 to 960999).
        "phone": f"+44 1632 960{member.number:03d}",
        "emergency_name": near,
        "emergency_phone": f"+44 1632 960{500 + member.number:03d}",
        "guardian_name": near if member.is_minor(now.date()) else "",
    }


def _telling(member: Member, scenario: Scenario, now: datetime) -> Telling:
    tells = {"H18": member.wish, **member.persona.tells}
    on = zones.local_day(now, scenario.zone_of(member.row.home))
    return Telling(tells, on, member.born_on)


def _signature(member: Member, now: datetime) -> tuple[str, str]:
    if guardian := _words(member, now)["guardian_name"]:
        return guardian, "guardian"
    return member.row.name, "client"


def _by_link(member: Member, house: House, scenario: Scenario, client_id: UUID, now: datetime) -> None:
    # The link is opened on the studio's own tablet: nothing is mailed about a day that has passed.
    token = client_actions.make_form_link(client_id, by=house.desk, now=now).token
    rulebook = client_actions.open_form(token, now=now).rulebook
    stops = member.persona.stops
    for number, (screen, posted) in enumerate(_telling(member, scenario, now).screens(rulebook)):
        if stops is not None and number >= stops:
            return
        now += SCREEN_TAKES
        client_actions.save_screen(token, screen_id=screen.id, posted=posted, now=now)
    if stops is None:
        name, signed_as = _signature(member, now)
        client_actions.sign_form(token, name=name, signed_as=signed_as, now=now + SCREEN_TAKES)


def _as_told(member: Member, house: House, scenario: Scenario, client_id: UUID, now: datetime) -> None:
    answers = _telling(member, scenario, now).answers(client_queries.rules_in_force().rulebook)
    name, _ = _signature(member, now)
    client_actions.write_form(client_id, answers=answers, name=name, by=house.desk, now=now + SCREEN_TAKES)
