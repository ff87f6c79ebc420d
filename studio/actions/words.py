"""The owner's own words for each kind of letter; without them the house's usual ones are sent."""

from dataclasses import replace
from datetime import datetime

from django.db import transaction

from studio import models
from studio.actions import audit
from studio.rules import Refused, notices
from studio.rules.notice_texts import DEFAULT_WORDS


def write(kind: str, *, subject: str, body: str, by: models.Person, now: datetime) -> models.NoticeText | None:
    """Say these words in every letter of the kind from now on; None when they are the usual ones again.

    Raises Refused: no subject, no words, no {link} where the letter is sent for it. Raises NoticeText.DoesNotExist
    for a kind the house does not send.
    """
    usual = DEFAULT_WORDS.get(kind)
    if usual is None:
        raise models.NoticeText.DoesNotExist(f"no letters of kind {kind}")
    wanted = replace(usual, subject=" ".join(subject.split()), body="\n".join(body.strip().splitlines()) + "\n")
    if reasons := notices.words_reasons(wanted):
        raise Refused(reasons)
    with transaction.atomic():
        row, _ = models.NoticeText.objects.update_or_create(
            pk=kind, defaults={"subject": wanted.subject, "body": wanted.body}
        )
        audit.wrote("write words" if wanted != usual else "take usual words", row, by=by, now=now)
        if wanted != usual:
            return row
        row.delete()
    return None
