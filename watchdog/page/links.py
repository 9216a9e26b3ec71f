"""Signed links: what a link in a message stands for, written so that nobody can change it or make one.

    <version 1><purpose 1><expires 4><number 8><n 1>machine<n 1>alarm<n 1>person<tag 16>
    whole numbers, most significant byte first; each text in UTF-8 behind its length n; all of it in the base64 alphabet of
    RFC 4648 section 5, without padding

The tag is HMAC-SHA256 over all that stands before it (RFC 2104), cut to its first 128 bits (section 5 there allows half of
the output); that leaves a link of some 80 characters, since an SMS has 160. A link does one thing to one occurrence, and holds
until its time is over. It is no login: whoever holds it may do that one thing, which is why it asks for a tap and expires.
"""

import hmac
import struct
from base64 import urlsafe_b64decode, urlsafe_b64encode
from enum import IntEnum
from typing import NamedTuple

PATH = "/a/"
"""where the page answers links; short, since each character counts in an SMS"""
MOST_CHARACTERS = 400
"""of a token; three texts of the longest kind take 300"""
MOST_BYTES = 64
"""of each text in UTF-8; a name in the settings has at most 40 letters"""

_VERSION = 1
_HEAD = struct.Struct(">BBIQ")
_TAG = 16  # bytes


class Purpose(IntEnum):
    """The one thing that a link does. The numbers are part of the links that are under way: never give one anew."""

    ACKNOWLEDGE = 1
    """acknowledge one occurrence of an alarm"""
    FIRST_LAYER = 2
    """say how a job's first layer looks"""
    ALLOW_OUTLAST = 3
    """allow a job to outlast the supervised hours"""


class Claim(NamedTuple):
    """What one link stands for."""

    purpose: Purpose
    machine: str
    alarm: str
    """name in the alarm table; empty where the link is about a job"""
    number: int
    """the occurrence of the alarm, or the job's number"""
    person: str
    """to whom the link was sent (a role)"""
    expires: int
    """stamp, s: from then on it is refused"""


class Key(NamedTuple):
    """What links are signed with."""

    now: bytes
    before: bytes | None = None
    """the key that `now` has replaced: links signed with it hold until they expire"""


class Refused(Exception):
    """A link that does nothing. The subclass says why; the message holds nothing of the link."""


class Damaged(Refused):
    """It has not the form of a link: cut off or changed on its way, or made up."""


class Forged(Refused):
    """It has the form, and was not signed with any key of ours that still counts."""


class Expired(Refused):
    """It was ours, and its time is over."""

    def __init__(self, claim: Claim) -> None:
        super().__init__("its time is over")
        self.claim = claim


def sign(key: Key, claim: Claim) -> str:
    """The token for `claim`. Raises ValueError when a field does not fit into a link."""
    if bool(claim.alarm) != (claim.purpose is Purpose.ACKNOWLEDGE):
        raise ValueError("an alarm belongs into a link that acknowledges, and into no other")
    try:
        head = _HEAD.pack(_VERSION, claim.purpose, claim.expires, claim.number)
    except struct.error:
        raise ValueError("the expiry or the number does not fit into a link") from None
    written = head + b"".join(map(_packed, (claim.machine, claim.alarm, claim.person)))
    return urlsafe_b64encode(written + _tag(key.now, written)).rstrip(b"=").decode("ascii")


def verify(key: Key, token: str, now: float) -> Claim:
    """What `token` stands for at the stamp `now`. Raises Damaged, Forged or Expired, and nothing else."""
    whole = _unwrapped(token)
    written, tag = whole[:-_TAG], whole[-_TAG:]
    keys = [key.now] if key.before is None else [key.now, key.before]
    fits = [hmac.compare_digest(_tag(one, written), tag) for one in keys]  # all of them: the time tells nothing
    if not any(fits):
        raise Forged("it was not signed here, or with a key that no longer counts")
    claim = _unpacked(written)
    if now >= claim.expires:
        raise Expired(claim)
    return claim


def link_for(address: str | None, key: Key | None, claim: Claim) -> str | None:
    """The whole link for a message; None when there is no page to open, or when a name is too long for a link.

    `address` is what a phone can reach: scheme, host and, where needed, port and path ("http://watch.example.org:8080").
    A message without a link still says what to do, so nothing here is worth losing one.
    """
    if address is None or key is None:
        return None
    try:
        return address.rstrip("/") + PATH + sign(key, claim)
    except ValueError:
        return None


def _tag(key: bytes, written: bytes) -> bytes:
    return hmac.digest(key, written, "sha256")[:_TAG]


def _packed(text: str) -> bytes:
    try:
        written = text.encode("utf-8")
    except UnicodeEncodeError:
        raise ValueError("a name is no text in UTF-8") from None
    if len(written) > MOST_BYTES:
        raise ValueError(f"a name is longer than {MOST_BYTES} bytes")
    return bytes([len(written)]) + written


def _unwrapped(token: str) -> bytes:
    if len(token) > MOST_CHARACTERS or not token.isascii():
        raise Damaged("it has not the form of a link")
    try:
        whole = urlsafe_b64decode(token + "=" * (-len(token) % 4))
    except ValueError:
        raise Damaged("it has not the form of a link") from None
    # the decoder passes over what is no letter of its alphabet; one claim has one spelling here
    if urlsafe_b64encode(whole).rstrip(b"=") != token.encode("ascii") or len(whole) < _HEAD.size + 3 + _TAG:
        raise Damaged("it has not the form of a link")
    return whole


def _unpacked(written: bytes) -> Claim:
    """Of what was signed here; a version that is no longer spoken ends as Damaged."""
    try:
        version, purpose, expires, number = _HEAD.unpack_from(written)
        texts, rest = [], written[_HEAD.size :]
        for _ in range(3):
            size = rest[0]
            texts.append(rest[1 : 1 + size].decode("utf-8"))
            rest = rest[1 + size :]
        claim = Claim(Purpose(purpose), texts[0], texts[1], number, texts[2], expires)
    except (ValueError, IndexError):
        raise Damaged("it was signed here and cannot be read") from None
    if version != _VERSION or rest:
        raise Damaged("it was signed here and cannot be read")
    return claim
