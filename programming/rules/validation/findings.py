"""What a rule found, and how much it weighs."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """A block keeps a template from being saved as active; a warning keeps the teacher's reason."""

    BLOCK = "block"
    WARN = "warn"


@dataclass(frozen=True)
class Finding:
    """One rule that is not met: `line` is the planned id it is about, None when it is about the whole program.

    `is_waivable` marks a block that a named teacher may set aside with a reason (V1 only).
    """

    rule: str
    severity: Severity
    line: str | None
    says: str
    is_waivable: bool = False


def blocks(findings: Sequence[Finding]) -> bool:
    return any(finding.severity is Severity.BLOCK for finding in findings)
