"""Signed notes and verifier keys (C2SP signed-note v1.0.0), Ed25519 only and strict."""

import base64
import binascii
import hashlib
import re
from dataclasses import dataclass

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from .findings import FormatError

ED25519 = 0x01
FIELD_PRIME = 2**255 - 19
GROUP_ORDER = 2**252 + 27742317777372353535851937790883648493

# The y coordinates of the eight points of small order (RFC 8032 curve): orders 1, 2, 4, and the two
# of order 8. Under such a key one signature fits many messages, and OpenSSL, which `cryptography`
# calls, accepts it. The test of this module derives the list from the curve.
_Y8 = int.from_bytes(
    bytes.fromhex("26e8958fc2b227b045c3f489f2ef98f0d5dfac05d3c63339b13802886d53fc05"), "little"
)
SMALL_ORDER_Y = frozenset({0, 1, FIELD_PRIME - 1, _Y8, FIELD_PRIME - _Y8})

_CONTROL = re.compile("[\x00-\x09\x0b-\x1f]")
_SIGNATURE_LINE = re.compile("\u2014 (\\S+) (\\S+)")


def strict_base64(text):
    """Decodes standard padded base64, refusing every spelling but the canonical one."""
    try:
        raw = base64.b64decode(text.encode("ascii"), validate=True)
    except (ValueError, binascii.Error):
        raise FormatError("not base64") from None
    if base64.b64encode(raw).decode("ascii") != text:
        raise FormatError("base64 in a form that is not the canonical one")
    return raw


def point_is_sound(encoded):
    """Whether 32 bytes are a canonical encoding of a point that is not of small order. (Whether it
    is on the curve at all is left to the signature check, which fails for it.)"""
    y = int.from_bytes(encoded, "little") & (2**255 - 1)
    return y < FIELD_PRIME and y not in SMALL_ORDER_Y


def _name_is_sound(name):
    return bool(name) and "+" not in name and not any(c.isspace() for c in name)


@dataclass(frozen=True)
class VerifierKey:
    """A public key with its name, as a C2SP vkey writes it."""

    text: str
    name: str
    key_id: bytes
    public: bytes

    @classmethod
    def parse(cls, text):
        """Reads `name+hexid+base64`; the id must be the one that belongs to name and key."""
        parts = text.split("+", 2)
        if len(parts) != 3 or not _name_is_sound(parts[0]):
            raise FormatError("not a verifier key (name+id+key)")
        name, id_hex, key_text = parts
        if not re.fullmatch("[0-9a-f]{8}", id_hex):
            raise FormatError("the id of a verifier key must be 8 hex digits")
        raw = strict_base64(key_text)
        if len(raw) != 33 or raw[0] != ED25519:
            raise FormatError("a verifier key that is not Ed25519 (type 1, 32 bytes)")
        expected = hashlib.sha256(name.encode() + b"\n" + raw).digest()[:4]
        if expected.hex() != id_hex:
            raise FormatError("the id of a verifier key does not belong to its name and key")
        if not point_is_sound(raw[1:]):
            raise FormatError("a weak or wrongly written Ed25519 key")
        return cls(text, name, expected, raw[1:])

    def verifies(self, message, signature):
        """Strict Ed25519: 64 bytes, S reduced, neither key nor R of small order."""
        if len(signature) != 64 or not point_is_sound(signature[:32]):
            return False
        if int.from_bytes(signature[32:], "little") >= GROUP_ORDER:
            return False
        try:
            Ed25519PublicKey.from_public_bytes(self.public).verify(signature, message)
        except (InvalidSignature, ValueError):
            return False
        return True


@dataclass(frozen=True)
class Signature:
    """One signature line: key name, 4-byte key id, and what follows it."""

    name: str
    key_id: bytes
    value: bytes

    def is_of(self, key):
        """Whether name and key id are those of `key`; says nothing about the signature."""
        return self.name == key.name and self.key_id == key.key_id


@dataclass(frozen=True)
class Note:
    """A signed note: the signed text with its last line end, and the signature lines."""

    text: bytes
    signatures: tuple

    @classmethod
    def parse(cls, data):
        """Splits a note at its last empty line. Verifies nothing."""
        try:
            whole = data.decode("utf-8")
        except UnicodeDecodeError:
            raise FormatError("a signed note that is not UTF-8") from None
        if _CONTROL.search(whole):
            raise FormatError("a signed note with control characters")
        at = whole.rfind("\n\n")
        if at < 0 or not whole.endswith("\n"):
            raise FormatError("a signed note without signature lines")
        signatures = []
        for line in whole[at + 2 : -1].split("\n"):
            match = _SIGNATURE_LINE.fullmatch(line)
            if not match or not _name_is_sound(match[1]):
                raise FormatError("a line that is not a signature line")
            raw = strict_base64(match[2])
            if len(raw) < 5:
                raise FormatError("a signature line that is too short")
            signatures.append(Signature(match[1], raw[:4], raw[4:]))
        return cls(whole[: at + 1].encode(), tuple(signatures))

    def signed_by(self, key):
        """Whether `key` signed: at least one line of it, and every line of it good."""
        lines = [s for s in self.signatures if s.is_of(key)]
        return bool(lines) and all(key.verifies(self.text, s.value) for s in lines)


def lines_of(text):
    """The lines of a text that ends with a line end."""
    decoded = text.decode("utf-8")
    if not decoded.endswith("\n"):
        raise FormatError("text that does not end with a line end")
    return decoded[:-1].split("\n")


def number(text):
    """A decimal number as FORMAT.md writes it: no sign, no leading zero."""
    if not re.fullmatch("0|[1-9][0-9]{0,18}", text):
        raise FormatError("not a plain decimal number")
    return int(text)
