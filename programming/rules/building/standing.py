"""Which findings keep a template from being used, and which stand with a reason."""

from collections.abc import Collection, Sequence

from programming.rules.validation import Finding, Severity
from studio.rules import Reason


def key_of(finding: Finding) -> int:
    """The key of the line a finding is about; 0 for the whole template."""
    return int(finding.line) if finding.line else 0


def stands(finding: Finding, reasoned: Collection[tuple[str, int]]) -> bool:
    """Whether somebody let this warning stand with a reason, for this line or the whole."""
    return finding.severity is Severity.WARN and (finding.rule, key_of(finding)) in reasoned


def against_use(findings: Sequence[Finding], reasoned: Collection[tuple[str, int]]) -> tuple[Reason, ...]:
    """What has to be put right first: every block; when there is none, every warning that has no reason."""
    blocking = [one for one in findings if one.severity is Severity.BLOCK]
    if blocking:
        return tuple(Reason(one.rule.lower(), _sentence(one.says), "lines", "") for one in blocking)
    return tuple(
        Reason(one.rule.lower(), _sentence(one.says), "lines", "It may stand with a reason.")
        for one in findings
        if not stands(one, reasoned)
    )


def _sentence(says: str) -> str:
    return says[:1].upper() + says[1:] + ("" if says.endswith(".") else ".")
