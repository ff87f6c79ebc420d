from clients.models.care import Care, Consent, LevelCeiling
from clients.models.forms import FormKind, FormLink, HealthForm
from clients.models.letters import Letter, LetterRequest, StoredFile
from clients.models.people import Client, ClientImport, Merge
from clients.models.reference import Condition, Demand, LimitRule, RuleChoice, RuleRun, RuleRunLine, RuleSet, Source
from clients.models.reviews import Review
from clients.models.screening import Coming, ConditionRecord, RestReading, Restriction, Screening

__all__ = [
    "Care",
    "Client",
    "ClientImport",
    "Coming",
    "Condition",
    "ConditionRecord",
    "Consent",
    "Demand",
    "FormKind",
    "FormLink",
    "HealthForm",
    "Letter",
    "LetterRequest",
    "LevelCeiling",
    "LimitRule",
    "Merge",
    "RestReading",
    "Restriction",
    "Review",
    "RuleChoice",
    "RuleRun",
    "RuleRunLine",
    "RuleSet",
    "Screening",
    "Source",
    "StoredFile",
]
