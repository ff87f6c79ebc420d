"""Clients: added once, changed on their card."""

import re
import unicodedata
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from uuid import UUID, uuid4

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from clients import models, queries
from clients.actions import locks, seals
from clients.rules.names import name_key
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused

# Signs that steer a terminal or a line of text, never part of a name.
UNSEEN = re.compile(r"[\x00-\x1f\x7f\u2028\u2029]+")
UNSEEN_IN_NOTES = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]+")
OLDEST = timedelta(days=366 * 120)
# The longest text of each word on a card.
LONGEST = {
    "name": 120,
    "email": 254,
    "phone": 40,
    "pronoun": 40,
    "say_it": 120,
    "guardian_name": 120,
    "emergency_name": 120,
    "emergency_phone": 40,
    "notes": 2000,
}
KEY_LENGTH = 160


class LooksLike(Refused):
    """Somebody of this name or address is here already; `rows` are the cards to look at."""

    def __init__(self, rows: "list[queries.ClientRow]") -> None:
        self.rows = tuple(rows)
        super().__init__([_looks_like(row) for row in rows])


def add_client(
    *,
    name: str,
    email: str = "",
    phone: str = "",
    pronoun: str = "",
    say_it: str = "",
    born_on: date | None = None,
    guardian_name: str = "",
    emergency_name: str = "",
    emergency_phone: str = "",
    notes: str = "",
    home_id: int | None = None,
    by: studio_models.Person | None,
    now: datetime,
    different_from: tuple[UUID, ...] = (),
) -> models.Client:
    """A new client, with a data key of her own.

    Raises Refused: `looks_like` (a LooksLike with the cards) unless every look-alike is named in `different_from`;
    `missing`, `too_long`, `not_an_address`, `impossible_date` or `unknown_studio` beside the field.
    """
    given = {"name": name, "email": email, "phone": phone, "pronoun": pronoun, "say_it": say_it, "notes": notes}
    given |= {"guardian_name": guardian_name, "emergency_name": emergency_name, "emergency_phone": emergency_phone}
    words = checked(given, born_on=born_on, home_id=home_id, now=now)
    client = models.Client(id=uuid4(), made_by=by, made_at=now, home_id=home_id, born_on=born_on)
    with transaction.atomic():
        # Of two desks that add the same person at once, the second sees the first one's card.
        locks.alone("add_client")
        alike = queries.look_alikes(words["name"], words["email"])
        if unlike_none := [row for row in alike if row.id not in different_from]:
            raise LooksLike(unlike_none)
        client.wrapped_key = seals.fresh_wrapped_key(client.pk)
        _write(client, words)
        client.save(force_insert=True)
        audit.wrote("add_client", client, by=by, now=now, client_key=client.pk)
    return client


def change_client(
    client_id: UUID,
    *,
    by: studio_models.Person | None,
    now: datetime,
    born_on: date | None,
    home_id: int | None,
    **words: str,
) -> models.Client:
    """The card with these words (the names of LONGEST; those not named stay). Raises Refused as adding does."""
    if unknown := set(words) - set(LONGEST):
        raise TypeError(f"a card has no {', '.join(sorted(unknown))}")
    with transaction.atomic():
        client = models.Client.objects.select_for_update(of=("self",)).select_related("contact").get(pk=client_id)
        if client.merged_into_id is not None:
            raise Refused(
                Reason("merged", "This card is one with another now. Open that one to change it.", field="name")
            )
        kept = {key: getattr(client, key) for key in LONGEST if key != "email"}
        kept["email"] = client.contact.address if client.contact else ""
        before = kept | {"born_on": client.born_on, "home_id": client.home_id}
        tidy = checked(kept | words, born_on=born_on, home_id=home_id, now=now)
        client.born_on, client.home_id = born_on, home_id
        _write(client, tidy)
        client.save()
        after = tidy | {"born_on": born_on, "home_id": home_id}
        changed = sorted(key for key in after if after[key] != before[key])
        audit.wrote("change_client", client, by=by, now=now, client_key=client.pk, detail={"changed": changed})
    return client


def _looks_like(row: "queries.ClientRow") -> Reason:
    address = f" ({row.email})" if row.email else ""
    says = f"{row.name}{address} is here already."
    return Reason("looks_like", says, field="name", allowed=f"that card, or different_from naming {row.id}")


def _write(client: models.Client, words: dict[str, str]) -> None:
    for key, text in words.items():
        if key != "email":
            setattr(client, key, text)
    client.name_key = name_key(words["name"])[:KEY_LENGTH]
    client.contact = contact_at(words["email"])


def contact_at(address: str) -> studio_models.Contact | None:
    """The contact of a mail address, made when there is none; a family may share one."""
    if not address:
        return None
    found = studio_models.Contact.objects.filter(address__iexact=address).order_by("pk").first()
    return found or studio_models.Contact.objects.create(address=address)


def checked(given: dict[str, str], *, born_on: date | None, home_id: int | None, now: datetime) -> dict[str, str]:
    """The words of a card (all of LONGEST), tidied. Raises Refused with every fault beside its field."""
    words = {key: _tidy(key, text) for key, text in given.items()}
    faults = [*_faults(words), *_faults_of_birth(born_on, now)]
    if home_id is not None and not studio_models.Studio.objects.filter(pk=home_id).exists():
        faults.append(Reason("unknown_studio", "There is no such location.", field="home_id"))
    if faults:
        raise Refused(faults)
    return words


def _tidy(key: str, text: str) -> str:
    text = unicodedata.normalize("NFC", text.encode("utf-8", "replace").decode("utf-8"))
    if key == "notes":
        return UNSEEN_IN_NOTES.sub(" ", text).strip()
    return " ".join(UNSEEN.sub(" ", text).split())


def _faults(words: dict[str, str]) -> Iterator[Reason]:
    if not name_key(words["name"]):
        yield Reason("missing", "A card needs a name.", field="name", allowed="any name that can be read")
    for key, longest in LONGEST.items():
        if len(words[key]) > longest:
            yield Reason("too_long", "That is too long.", field=key, allowed=f"at most {longest} signs")
    if words["email"] and not _is_address(words["email"]):
        yield Reason("not_an_address", "That is not an e-mail address.", field="email", allowed="name@place.example")


def _is_address(text: str) -> bool:
    try:
        validate_email(text)
    except ValidationError:
        return False
    return True


def _faults_of_birth(born_on: date | None, now: datetime) -> Iterator[Reason]:
    if born_on is None:
        return
    # A day of leeway: the studio's day may be ahead of the clock's zone.
    if born_on > now.date() + timedelta(days=1):
        yield Reason("impossible_date", "That day is still to come.", field="born_on", allowed="a day in the past")
    elif born_on < now.date() - OLDEST:
        yield Reason("impossible_date", "That is more than 120 years ago.", field="born_on", allowed="a later year")
