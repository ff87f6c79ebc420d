"""What every door shares: who may enter, how a refusal is answered, what the page shell shows."""

from studio.doors.access import by_link, everyone, me, public, roles

__all__ = ["by_link", "everyone", "me", "public", "roles"]
