"""The keys of the house: from the environment in production, made once and kept under var/ otherwise."""

import base64
import json
import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

UNSAFE = ("change", "default", "example", "insecure", "secret", "password")


@dataclass(frozen=True)
class Keys:
    """`secret_key` signs sessions and links; `health_key` (32 bytes) wraps each client's own data key."""

    secret_key: str
    health_key: bytes
    secret_key_fallbacks: list[str] = field(default_factory=list)


def require(environment: Mapping[str, str], *names: str) -> None:
    """Raise ImproperlyConfigured naming every variable of `names` that is missing or empty."""
    if missing := [name for name in names if not environment.get(name, "").strip()]:
        raise ImproperlyConfigured(f"production needs these variables, see .env.example: {', '.join(missing)}")


def from_environment(environment: Mapping[str, str]) -> Keys:
    """Keys of a production start. Raises ImproperlyConfigured when one is missing, short or a placeholder."""
    require(environment, "SECRET_KEY", "HEALTH_KEY", "ALLOWED_HOSTS")
    secret_key = environment["SECRET_KEY"]
    if len(secret_key) < 50 or len(set(secret_key)) < 12 or any(word in secret_key.lower() for word in UNSAFE):
        raise ImproperlyConfigured("SECRET_KEY must be at least 50 random characters, not a placeholder")
    fallbacks = [key for key in environment.get("SECRET_KEY_FALLBACKS", "").split(",") if key]
    return Keys(secret_key, _health_key(environment["HEALTH_KEY"]), fallbacks)


def _health_key(text: str) -> bytes:
    try:
        key = base64.urlsafe_b64decode(text)
    except ValueError as error:
        raise ImproperlyConfigured("HEALTH_KEY must be 32 random bytes in URL-safe base64") from error
    if len(key) != 32 or len(set(key)) < 8:
        raise ImproperlyConfigured("HEALTH_KEY must be 32 random bytes in URL-safe base64, not a placeholder")
    return key


def kept_in(path: Path) -> Keys:
    """Keys of a house machine: read from `path`, made on the first start; only the owner may read the file."""
    path.parent.mkdir(mode=0o700, exist_ok=True)
    if not path.exists():
        made = {
            "secret_key": secrets.token_urlsafe(64),
            "health_key": base64.urlsafe_b64encode(secrets.token_bytes(32)).decode(),
        }
        _write_once(path, json.dumps(made))
    kept = json.loads(path.read_text())
    return Keys(kept["secret_key"], _health_key(kept["health_key"]))


def _write_once(path: Path, text: str) -> None:
    """Write a private file whole or not at all; of two processes at once the first one's keys stay."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as handle:
        handle.write(text)
    try:
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        fresh.unlink()
