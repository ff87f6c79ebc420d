"""Words every app shares: spans of time, refusals, roles and kinds of apparatus."""

from studio.rules.apparatus import ApparatusKind
from studio.rules.refusals import Reason, Refused
from studio.rules.roles import Role
from studio.rules.spans import Span

__all__ = ["ApparatusKind", "Reason", "Refused", "Role", "Span"]
