"""Who may read a client's health now, and with what reason it is recorded."""

from datetime import datetime

from clients import models, queries
from studio import models as studio_models
from studio.rules import Reason, Refused, Role


def allowed(client: models.Client, *, by: studio_models.Person | None, now: datetime, why: str) -> str:
    """The reason to record: the one given, or that she cares for the client today.

    Without a person (`by` None) the house itself reads, with its reason. Raises Refused `not_open`, `say_why`.
    """
    why = " ".join(why.split())[:200]
    if by is not None and not by.has_role(Role.INSTRUCTOR, Role.OWNER):
        raise Refused(Reason("not_open", "Only those who teach this client read these answers."))
    if by is not None and queries.may_read_health(by, client.pk, on=queries.day_of(now, client)):
        return why or "care"
    if not why:
        says = "You have no lesson with this client now. Say why you need to look; it is recorded with your name."
        raise Refused(Reason("say_why", says, field="why", allowed="a few words"))
    return why
