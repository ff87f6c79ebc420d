"""Erasing one client: her key destroyed, her words and files gone, her card blanked; what was used stays counted."""

import json
import secrets
from collections.abc import Iterable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import transaction
from django.db.models import Q, TextField
from django.db.models.functions import Cast

from clients import models, queries
from clients.actions import erased_list
from clients.actions import files as kept_files
from clients.queries import rights as held
from clients.rules import rights as rules
from clients.rules.names import name_key
from studio import models as studio_models
from studio.actions import audit
from studio.rules import Reason, Refused, Role

BLANK: dict[str, Any] = {
    "say_it": "",
    "pronoun": "",
    "born_on": None,
    "guardian_name": "",
    "contact": None,
    "phone": "",
    "emergency_name": "",
    "emergency_phone": "",
    "notes": "",
    "usual_instructor": None,
    "photograph": None,
    "imported_in": None,
    "wrapped_key": b"",
}
FRESH = timedelta(hours=1)
AGAIN = "restored from a backup"
UNFINISHED = models.ClientImport.State.LOOKED_AT


def erase_client(client_id: UUID, *, typed: str, why: str, by: studio_models.Person, now: datetime) -> str:
    """Erase a client and every card merged into hers; the pseudonym that is left.

    `typed` is the name on the card, written by whoever confirms. Raises Client.DoesNotExist, and Refused
    (`not_open`, `erased`, `merged`, `still_booked`, `typed`, `missing`, `too_long`, `names_her`).
    """
    if not by.has_role(Role.OWNER):
        raise Refused(Reason("not_open", "Only the owner erases a record."))
    with transaction.atomic():
        cards = _locked(held.cards_of(client_id))
        client = next(card for card in cards if card.pk == client_id)
        facts = rules.Erasing(
            name=client.name,
            typed=typed,
            why=why,
            is_erased=client.erased_at is not None,
            is_merged=client.merged_into_id is not None,
            coming=held.still_booked([card.pk for card in cards], now=now),
        )
        if reasons := rules.erasing_refusals(facts):
            raise Refused(reasons)
        name = _erase(cards, now)
        audit.wrote("erase_client", client, by=by, now=now, client_key=client.pk, why=" ".join(why.split()))
        # The last step: what is on the list is erased again after every restore.
        erased_list.add([card.pk for card in cards], now=now)
    return name


def erase_again(*, now: datetime) -> int:
    """Erase whoever is on the list and in the database all the same, as after a restore; how many cards.

    Lessons that the older backup still has ahead keep their places, under the pseudonym.
    """
    again = 0
    for client_id in erased_list.read():
        with transaction.atomic():
            cards = _locked(_left_of(client_id))
            if not cards:
                continue
            _erase(cards, now)
            for card in cards:
                audit.wrote("erase_client", card, by=None, now=now, actor=AGAIN, client_key=card.pk)
            again += len(cards)
    return again


def _left_of(client_id: UUID) -> list[UUID]:
    """The cards that are still to be erased; empty when there is none."""
    left = models.Client.objects.filter(pk__in=held.cards_of(client_id), erased_at=None)
    return list(left.values_list("pk", flat=True))


def sweep_files(*, now: datetime) -> int:
    """Take away kept files that no row speaks of: their erasing was cut short after the commit. How many.

    A file younger than an hour may belong to a row that is not committed yet.
    """
    old = (now - FRESH).timestamp()
    folder: Path = settings.FILES_DIR
    found = {path.name: path for path in folder.glob("??/*") if _is_key(path.name) and path.stat().st_mtime < old}
    known = models.StoredFile.objects.filter(pk__in=found).values_list("pk", flat=True)
    lost = set(found) - {str(key) for key in known}
    _remove(found[name] for name in lost)
    return len(lost)


def _locked(client_ids: Iterable[UUID]) -> list[models.Client]:
    cards = models.Client.objects.select_for_update(of=("self",)).select_related("contact").filter(pk__in=client_ids)
    return list(cards.order_by("pk"))


def _erase(cards: list[models.Client], now: datetime) -> str:
    """The pseudonym. Every statement but the files, which go once it is committed."""
    keys = [card.pk for card in cards]
    paths = _paths_of_files(keys)
    _forget_letters(cards)
    _forget_answers(cards)
    _forget_imports(cards)
    name = rules.pseudonym("".join(secrets.choice(rules.PSEUDONYM_LETTERS) for _ in range(4)))
    contacts = {card.contact_id for card in cards if card.contact_id}
    _empty_rows(keys)
    for card in cards:
        blank = BLANK | {"name": name, "name_key": name_key(name), "erased_at": now}
        models.Client.objects.filter(pk=card.pk).update(**blank, archived_at=card.archived_at or now)
    _forget_contacts(contacts)
    transaction.on_commit(lambda: _remove(paths))
    return name


def _empty_rows(keys: list[UUID]) -> None:
    """Rows that go are deleted, in the order of the list; of those that stay every sealed column is emptied."""
    found = {table.label: table for table in held.tables()}
    for holding in rules.HOLDINGS:
        if holding.fate is rules.Fate.GONE and holding.table in found:
            found[holding.table].rows(keys).delete()
    for table in found.values():
        for column in table.sealed:
            rows = table.rows(keys).values("pk")
            table.model._base_manager.filter(pk__in=rows).update(**{column.name: None if column.null else b""})


def _paths_of_files(keys: list[UUID]) -> list[Path]:
    files = models.StoredFile.objects.filter(client__in=keys).values_list("pk", flat=True)
    return [kept_files.path_of(key) for key in files]


def _remove(paths: Iterable[Path]) -> None:
    for path in paths:
        path.unlink(missing_ok=True)


def _is_key(name: str) -> bool:
    try:
        return str(UUID(name)) == name
    except ValueError:
        return False


def _forget_letters(cards: list[models.Client]) -> None:
    """Notices about her say nothing any more, and those that nobody was sent yet are taken back."""
    keys, state = [card.pk for card in cards], studio_models.Notice.State
    about = Q(about__in=_abouts(keys)) | Q(rests_on__in=[queries.leave_for_messages(key) for key in keys])
    words = [*(str(key) for key in keys), *_own_names(cards)]
    told = studio_models.Notice.objects.annotate(told=Cast("values", TextField())).filter(_holding(words))
    named = [one.pk for one in told if any(word in one.values.values() for word in words)]
    found = list(studio_models.Notice.objects.filter(about | Q(pk__in=named)).values_list("pk", flat=True))
    rows = studio_models.Notice.objects.filter(pk__in=found)
    rows.filter(state__in=[state.WAITING, state.CLAIMED]).update(state=state.WITHDRAWN, lease_until=None)
    rows.update(values={}, trouble="")


def _abouts(keys: list[UUID]) -> list[str]:
    """The keys that notices about a client or about any row of hers go by."""
    abouts = [f"{word}:{key}" for word in ("client", "form") for key in keys]
    for table in held.tables():
        word = table.model._meta.model_name
        abouts += [f"{word}:{key}" for key in table.rows(keys).values_list("pk", flat=True)]
    return abouts


def _own_names(cards: list[models.Client]) -> set[str]:
    """The names on her cards that nobody else bears."""
    names = {card.name for card in cards}
    others = models.Client.objects.filter(name__in=names).exclude(pk__in=[card.pk for card in cards])
    return names - set(others.values_list("name", flat=True))


def _holding(words: Iterable[str]) -> Q:
    """Rows whose JSON, as text in `told`, holds one of these words; the server writes it without escapes."""
    found = Q()
    for word in words:
        found |= Q(told__contains=json.dumps(word, ensure_ascii=False)[1:-1])
    return found


def _forget_answers(cards: list[models.Client]) -> None:
    """Answers kept for repeated requests, and what sessions still hold of her."""
    keys = [str(card.pk) for card in cards]
    kept = studio_models.IdempotencyKey.objects.annotate(told=Cast("answer", TextField()))
    kept.filter(_holding(keys)).update(answer={})
    for session in Session.objects.all().iterator():
        held_there = session.get_decoded()
        left = {key: value for key, value in held_there.items() if not _names([key, value], [*keys, *_names_of(cards)])}
        if left != held_there:
            session.session_data = Session.objects.encode(left)
            session.save(update_fields=["session_data"])


def _names_of(cards: list[models.Client]) -> list[str]:
    return [card.name for card in cards]


def _names(entry: list[Any], words: list[str]) -> bool:
    """Whether a session's entry names her. Who is logged in stays so: those entries hold nothing of a client."""
    text = json.dumps(entry, ensure_ascii=False, default=str)
    return not entry[0].startswith("_auth") and any(word in text for word in words)


def _forget_imports(cards: list[models.Client]) -> None:
    """Her line in a list that is still being looked at."""
    words = {word.casefold() for card in cards for word in (card.name, _address(card)) if word}
    for made in models.ClientImport.objects.filter(state=UNFINISHED).exclude(rows=[]):
        left = [row for row in made.rows if not words & {str(word).casefold() for word in row["words"].values()}]
        if left != made.rows:
            made.rows = left
            made.save(update_fields=["rows"])


def _address(card: models.Client) -> str:
    return card.contact.address if card.contact else ""


def _forget_contacts(contact_ids: set[int]) -> None:
    """Addresses that nobody else here is written to at, with the letters that went there."""
    for contact in studio_models.Contact.objects.filter(pk__in=contact_ids):
        others = [one for one in contact._meta.related_objects if one.related_model is not studio_models.Notice]
        if not any(one.related_model._base_manager.filter(**{one.field.name: contact}).exists() for one in others):
            contact.notices.all().delete()
            contact.delete()
