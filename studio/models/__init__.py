from studio.models.audit import AuditEntry, IdempotencyKey
from studio.models.notices import Contact, Notice, NoticeText
from studio.models.people import Invitation, Person
from studio.models.places import Business, Closure, OpeningHours, Studio

__all__ = [
    "AuditEntry",
    "Business",
    "Closure",
    "Contact",
    "IdempotencyKey",
    "Invitation",
    "Notice",
    "NoticeText",
    "OpeningHours",
    "Person",
    "Studio",
]
