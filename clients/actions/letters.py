"""Clinicians' letters as the rules read them, and the letter that is waited for."""

from collections.abc import Iterable
from datetime import date, datetime
from uuid import uuid4

from clients import models
from clients.actions import seals
from clients.rules.facts import LetterTerms
from clients.rules.outcomes import Outcome
from clients.rules.reasons import ScreenReason
from clients.rules.reference import Intensity
from studio import models as studio_models
from studio.actions import audit, notices

State = models.Letter.State
BY_RULES = "the rules"


def terms_of(client: models.Client) -> tuple[LetterTerms, ...]:
    """The terms of each confirmed letter that nobody has ended, also of those past their day: what one forbids stays.

    The client's row is locked by the caller. Raises SealBroken.
    """
    rows = client.letters.filter(state=State.CONFIRMED, ended_at=None).order_by("confirmed_at", "pk")
    return tuple(_terms(row, client) for row in rows)


def follow(
    client: models.Client,
    reasons: Iterable[ScreenReason],
    *,
    now: datetime,
    by: studio_models.Person | None,
) -> models.LetterRequest | None:
    """Wait for a letter while a rule asks for one, and for no longer; the open request, if any.

    The client's row is locked by the caller.
    """
    asks = [{"rule_id": one.rule_id, "asks": one.says} for one in reasons if one.outcome is Outcome.REFER]
    waiting = client.letter_requests.filter(closed_at=None).first()
    if not asks:
        if waiting is not None:
            waiting.closed_at, waiting.closed_why = now, "not asked any more"
            waiting.save(update_fields=["closed_at", "closed_why"])
            _wrote("close_letter_request", waiting, by, now)
            notices.withdraw(about=f"letterrequest:{waiting.pk}", now=now)
        return None
    is_new = waiting is None
    request = waiting or models.LetterRequest(id=uuid4(), client=client, opened_at=now)
    if is_new or seals.opened(request, "sealed_asks", client=client) != asks:
        request.sealed_asks = seals.sealed(asks, row=request, column="sealed_asks", client=client)
        request.save()
    if is_new:
        _wrote("open_letter_request", request, by, now)
    return request


def day_or_none(text: str | None) -> date | None:
    """A local day as sealed words hold it."""
    return date.fromisoformat(text) if text else None


def _terms(row: models.Letter, client: models.Client) -> LetterTerms:
    terms = seals.opened(row, "sealed_terms", client=client)
    told = terms.get("told")
    if row.holds_until is None:
        raise ValueError("a confirmed letter has a last day")
    return LetterTerms(
        letter_id=str(row.pk),
        dated=day_or_none(terms["dated"]),
        holds_until=row.holds_until,
        answers=frozenset(terms["answers"]),
        effort=Intensity(terms["effort"]) if terms["effort"] else None,
        allows=frozenset(terms["allows"]),
        forbids=frozenset(terms["forbids"]),
        is_named=bool(terms["clinician"]),
        told=None if told is None else frozenset(told),
    )


def _wrote(verb: str, row: models.LetterRequest, by: studio_models.Person | None, now: datetime) -> None:
    audit.wrote(verb, row, by=by, now=now, actor="" if by else BY_RULES, client_key=row.client_id)
