from clients.models.care import Care, Consent, LevelCeiling
from clients.models.forms import FormLink, HealthForm
from clients.models.people import Client
from clients.models.reference import Condition, Demand, LimitRule, RuleSet, Source
from clients.models.reviews import Review
from clients.models.screening import ConditionRecord, Limit, Screening

__all__ = [
    "Care",
    "Client",
    "Condition",
    "ConditionRecord",
    "Consent",
    "Demand",
    "FormLink",
    "HealthForm",
    "LevelCeiling",
    "Limit",
    "LimitRule",
    "Review",
    "RuleSet",
    "Screening",
    "Source",
]
