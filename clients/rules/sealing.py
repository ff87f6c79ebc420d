"""Sealing of health words: AES-256-GCM, bound to the very cell they belong to.

A sealed blob is one byte of version, four bytes that tell the key, a random nonce of 96 bits, then the cipher text
with its tag. The version and the key's mark are bound in as well, so that neither can be changed unseen.
"""

import hashlib
import hmac
import os

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

VERSION = b"\x01"
KEY_BYTES = 32
MARK_BYTES = 4
NONCE_BYTES = 12
HEAD_BYTES = len(VERSION) + MARK_BYTES
SHORTEST = HEAD_BYTES + NONCE_BYTES + 16


class SealBroken(Exception):
    """The blob was not sealed with this key for this place, or was changed since."""


def new_data_key() -> bytes:
    """A fresh key of 256 bits for one client's words."""
    return AESGCM.generate_key(bit_length=8 * KEY_BYTES)


def bound_to(table: str, column: str, pk: object) -> str:
    """The name of a cell, to bind a seal to it. Raises ValueError when a part holds the sign that joins them."""
    parts = (table, column, str(pk))
    if any("|" in part for part in parts):
        raise ValueError("a part of a cell's name may not hold |")
    return "|".join(parts)


def wrap(data_key: bytes, master: bytes, bound_to: str) -> bytes:
    """The data key, sealed with the master key. Raises ValueError for a key of the wrong length."""
    _check(data_key)
    return _sealed(master, data_key, bound_to)


def unwrap(wrapped: bytes, master: bytes, bound_to: str) -> bytes:
    """The data key again. Raises SealBroken."""
    data_key = _opened(master, wrapped, bound_to)
    if len(data_key) != KEY_BYTES:
        raise SealBroken("what was wrapped is not a key")
    return data_key


def seal(key: bytes, text: str, bound_to: str) -> bytes:
    """The text, sealed; the same text never gives the same blob twice. Raises ValueError for a wrong key length."""
    return _sealed(key, text.encode(), bound_to)


def unseal(key: bytes, blob: bytes, bound_to: str) -> str:
    """The text again. Raises SealBroken."""
    try:
        return _opened(key, blob, bound_to).decode()
    except UnicodeDecodeError as error:
        raise SealBroken("what was sealed is not text") from error


def seal_bytes(key: bytes, content: bytes, bound_to: str) -> bytes:
    """The bytes of a file, sealed. Raises ValueError for a wrong key length."""
    return _sealed(key, content, bound_to)


def unseal_bytes(key: bytes, blob: bytes, bound_to: str) -> bytes:
    """The bytes again. Raises SealBroken."""
    return _opened(key, blob, bound_to)


def mark(key: bytes, words: str) -> str:
    """64 hexadecimal signs: the same for the same words under the same key (HMAC-SHA-256, RFC 2104)."""
    _check(key)
    return hmac.new(key, b"mark" + words.encode(), hashlib.sha256).hexdigest()


def key_mark(key: bytes) -> bytes:
    """Four bytes that tell one key from another, and nothing about it."""
    return hashlib.sha256(b"key mark" + key).digest()[:MARK_BYTES]


def is_marked(blob: bytes, key: bytes) -> bool:
    """Whether a blob says that it was sealed or wrapped with this key; nothing is opened."""
    return blob[:HEAD_BYTES] == VERSION + key_mark(key)


def _sealed(key: bytes, content: bytes, place: str) -> bytes:
    _check(key)
    head, nonce = VERSION + key_mark(key), os.urandom(NONCE_BYTES)
    return head + nonce + AESGCM(key).encrypt(nonce, content, head + place.encode())


def _opened(key: bytes, blob: bytes, place: str) -> bytes:
    _check(key)
    # A binary column may hand back a memoryview.
    blob = bytes(blob)
    head, nonce = blob[:HEAD_BYTES], blob[HEAD_BYTES : HEAD_BYTES + NONCE_BYTES]
    if len(blob) < SHORTEST or head != VERSION + key_mark(key):
        raise SealBroken("sealed with another key, or not sealed")
    try:
        return AESGCM(key).decrypt(nonce, blob[HEAD_BYTES + NONCE_BYTES :], head + place.encode())
    except InvalidTag as error:
        raise SealBroken("changed, or bound to another place") from error


def _check(key: bytes) -> None:
    if len(key) != KEY_BYTES:
        raise ValueError("a key has 32 bytes")
