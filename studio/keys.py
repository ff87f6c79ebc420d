"""The keys of the house: from the environment in production, made once and kept under var/ otherwise."""

import base64
import json
import os
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from django.core.exceptions import ImproperlyConfigured

BEFORE = "HEALTH_KEY_BEFORE"
UNSAFE = ("change", "default", "example", "insecure", "secret", "password")


@dataclass(frozen=True)
class Keys:
    """`secret_key` signs sessions and links; `health_key` (32 bytes) wraps each client's own data key.

    `health_keys_before` open what is still wrapped by an earlier one, while the house changes it.
    """

    secret_key: str
    health_key: bytes
    secret_key_fallbacks: list[str] = field(default_factory=list)
    health_keys_before: list[bytes] = field(default_factory=list)


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
    before = [_health_key(environment.get(BEFORE, ""), BEFORE)] if environment.get(BEFORE) else []
    return Keys(secret_key, _health_key(environment["HEALTH_KEY"]), fallbacks, before)


def _health_key(text: str, name: str = "HEALTH_KEY") -> bytes:
    try:
        key = base64.urlsafe_b64decode(text)
    except ValueError as error:
        raise ImproperlyConfigured(f"{name} must be 32 random bytes in URL-safe base64") from error
    if len(key) != 32 or len(set(key)) < 8:
        raise ImproperlyConfigured(f"{name} must be 32 random bytes in URL-safe base64, not a placeholder")
    return key


def kept_in(path: Path) -> Keys:
    """Keys of a house machine: read from `path`, made on the first start; only the owner may read the file."""
    path.parent.mkdir(mode=0o700, exist_ok=True)
    if not path.exists():
        _write_once(path, json.dumps({"secret_key": secrets.token_urlsafe(64), "health_key": _fresh_health_key()}))
    kept = json.loads(path.read_text())
    before = [_health_key(kept["health_key_before"])] if kept.get("health_key_before") else []
    return Keys(kept["secret_key"], _health_key(kept["health_key"]), [], before)


def change_health_key(path: Path) -> None:
    """Put a new health key before the one of today, which stays to open what it wrapped.

    Raises ValueError while an earlier change is not finished.
    """
    kept = json.loads(path.read_text())
    if kept.get("health_key_before"):
        raise ValueError("the key before is still kept: finish that change first")
    _rewrite(path, kept | {"health_key": _fresh_health_key(), "health_key_before": kept["health_key"]})


def forget_health_key_before(path: Path) -> None:
    """Drop the key before; whatever it still wraps can then never be opened again."""
    kept = json.loads(path.read_text())
    kept.pop("health_key_before", None)
    _rewrite(path, kept)


def _fresh_health_key() -> str:
    return base64.urlsafe_b64encode(secrets.token_bytes(32)).decode()


def _rewrite(path: Path, kept: dict[str, str]) -> None:
    fresh = _private(path, json.dumps(kept))
    fresh.replace(path)


def _write_once(path: Path, text: str) -> None:
    """Write a private file whole or not at all; of two processes at once the first one's keys stay."""
    fresh = _private(path, text)
    try:
        os.link(fresh, path)
    except FileExistsError:
        pass
    finally:
        fresh.unlink()


def _private(path: Path, text: str) -> Path:
    """A file beside `path` that only its owner may read, on the disk when this returns."""
    fresh = path.with_name(f"{path.name}.{os.getpid()}")
    with os.fdopen(os.open(fresh, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as handle:
        handle.write(text)
        handle.flush()
        os.fsync(handle.fileno())
    return fresh
