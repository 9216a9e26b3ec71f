"""Links: what was signed comes back, and nothing else does. A forged one could silence an alarm over a hot machine."""

import hashlib
import hmac
from base64 import urlsafe_b64decode, urlsafe_b64encode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from watchdog.page.links import (
    MOST_BYTES,
    MOST_CHARACTERS,
    Claim,
    Damaged,
    Expired,
    Forged,
    Key,
    Purpose,
    Refused,
    link_for,
    sign,
    verify,
)

NOW = 1772443867.0
KEY, OTHER = Key(b"k" * 32), Key(b"o" * 32)
CLAIM = Claim(Purpose.ACKNOWLEDGE, "doorway-1", "hot-idle", 3, "workshop-lead", int(NOW) + 100)

names = st.text(max_size=MOST_BYTES).filter(
    lambda text: len(text.encode("utf-8", "surrogatepass")) <= MOST_BYTES and text.isprintable()
)
keys = st.binary(min_size=32, max_size=32)


@st.composite
def claims(draw: st.DrawFn) -> Claim:
    purpose = draw(st.sampled_from(Purpose))
    alarm = draw(names.filter(bool)) if purpose is Purpose.ACKNOWLEDGE else ""
    number = draw(st.integers(0, 2**64 - 1))
    return Claim(purpose, draw(names), alarm, number, draw(names), draw(st.integers(int(NOW) + 1, 2**32 - 1)))


@given(claims(), keys)
def test_what_was_signed_comes_back(claim: Claim, key: bytes) -> None:
    token = sign(Key(key), claim)
    assert len(token) <= MOST_CHARACTERS
    assert set(token) <= set("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_")
    assert verify(Key(key), token, NOW) == claim


def test_a_usual_link_is_short_enough_for_an_sms() -> None:
    """160 characters (3GPP TS 23.040) less some 50 for the words."""
    link = link_for("http://10.0.0.7:8080", KEY, CLAIM)
    assert link is not None
    assert len(link) <= 110


def test_the_tag_is_the_one_of_the_standard() -> None:
    """Worked out here step by step after RFC 2104 section 2, apart from the library's own function."""
    whole = urlsafe_b64decode(sign(KEY, CLAIM) + "==")
    written, tag = whole[:-16], whole[-16:]
    padded = KEY.now.ljust(64, b"\0")
    inner = hashlib.sha256(bytes(b ^ 0x36 for b in padded) + written).digest()
    assert hashlib.sha256(bytes(b ^ 0x5C for b in padded) + inner).digest()[:16] == tag


@given(claims(), st.integers(0, 400 * 8))
def test_a_single_changed_bit_is_noticed(claim: Claim, which: int) -> None:
    whole = bytearray(urlsafe_b64decode(sign(KEY, claim) + "=="))
    which %= len(whole) * 8
    whole[which // 8] ^= 1 << which % 8
    with pytest.raises(Forged):
        verify(KEY, urlsafe_b64encode(bytes(whole)).rstrip(b"=").decode(), NOW)


@given(claims(), keys.filter(lambda key: key != KEY.now))
def test_another_key_signs_nothing_for_us(claim: Claim, key: bytes) -> None:
    with pytest.raises(Forged):
        verify(KEY, sign(Key(key), claim), NOW)


@given(claims(), claims())
def test_parts_of_two_links_make_no_third(one: Claim, other: Claim) -> None:
    """Else somebody with two links could aim one at the alarm of the other."""
    first, second = (urlsafe_b64decode(sign(KEY, claim) + "==") for claim in (one, other))
    mixed = first[:-16] + second[-16:]
    token = urlsafe_b64encode(mixed).rstrip(b"=").decode()
    if first == second:
        assert verify(KEY, token, NOW) == one
    else:
        with pytest.raises(Forged):
            verify(KEY, token, NOW)


@given(claims())
def test_names_that_run_together_alike_are_told_apart(claim: Claim) -> None:
    """'loft' + '1-x' is not 'loft1' + '-x'."""
    moved = claim._replace(machine=claim.machine + claim.person[:1], person=claim.person[1:])
    if moved != claim and len(moved.machine.encode()) <= MOST_BYTES:
        assert sign(KEY, moved) != sign(KEY, claim)


def test_a_link_holds_until_its_time_and_not_at_it() -> None:
    token = sign(KEY, CLAIM)
    assert verify(KEY, token, CLAIM.expires - 0.001) == CLAIM
    with pytest.raises(Expired) as old:
        verify(KEY, token, CLAIM.expires)
    assert old.value.claim == CLAIM


def test_a_forged_link_that_is_also_old_is_forged() -> None:
    """What an unsigned link says of itself, its time included, is worth nothing."""
    with pytest.raises(Forged):
        verify(OTHER, sign(KEY, CLAIM), CLAIM.expires + 1)


def test_after_the_key_was_renewed_links_under_way_still_hold() -> None:
    token = sign(KEY, CLAIM)
    once = Key(b"n" * 32, KEY.now)
    assert verify(once, token, NOW) == CLAIM
    assert sign(once, CLAIM) != token
    with pytest.raises(Expired):
        verify(once, token, CLAIM.expires)
    with pytest.raises(Forged):
        verify(Key(b"m" * 32, once.now), token, NOW)


@given(st.text(max_size=2 * MOST_CHARACTERS) | st.binary(max_size=600).map(lambda raw: raw.decode("latin-1")))
def test_whatever_comes_as_a_link_is_refused_and_nothing_else(token: str) -> None:
    with pytest.raises(Refused):
        verify(KEY, token, NOW)


@given(st.binary(max_size=280))
def test_whatever_is_well_wrapped_is_refused_and_nothing_else(whole: bytes) -> None:
    with pytest.raises(Refused):
        verify(KEY, urlsafe_b64encode(whole).rstrip(b"=").decode(), NOW)


@given(st.binary(max_size=200))
def test_even_signed_nonsense_is_refused_and_nothing_else(written: bytes) -> None:
    """As another version of ours could have signed it."""
    whole = written + hmac.digest(KEY.now, written, "sha256")[:16]
    token = urlsafe_b64encode(whole).rstrip(b"=").decode()
    try:
        claim = verify(KEY, token, NOW)
    except Refused:
        return
    assert sign(KEY, claim) == token


@pytest.mark.parametrize("change", ["{}=", "{}==", "{}\n", " {}", "{}%", "{}.", "A{}", "{}A", "{}é"])
def test_one_claim_has_one_spelling(change: str) -> None:
    with pytest.raises(Refused):
        verify(KEY, change.format(sign(KEY, CLAIM)), NOW)


def test_a_link_that_was_cut_off_anywhere_is_refused() -> None:
    """Mail programs break long lines."""
    token = sign(KEY, CLAIM)
    for length in range(len(token)):
        with pytest.raises((Damaged, Forged)):
            verify(KEY, token[:length], NOW)


@pytest.mark.parametrize(
    "changes",
    [
        {"machine": "x" * 65},
        {"person": "ü" * 33},
        {"person": "\ud800"},
        {"number": -1},
        {"number": 2**64},
        {"expires": 2**32},
        {"alarm": ""},
        {"purpose": Purpose.FIRST_LAYER},
    ],
)
def test_what_does_not_fit_is_not_signed(changes: dict[str, object]) -> None:
    claim = CLAIM._replace(**changes)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"link|name"):
        sign(KEY, claim)
    assert link_for("http://watch.example.org", KEY, claim) is None


def test_a_link_leads_to_the_page() -> None:
    token = sign(KEY, CLAIM)
    assert link_for("http://watch.example.org:8080", KEY, CLAIM) == f"http://watch.example.org:8080/a/{token}"
    assert link_for("https://school.example.org/watch/", KEY, CLAIM) == f"https://school.example.org/watch/a/{token}"


def test_without_a_page_there_is_no_link() -> None:
    assert link_for(None, KEY, CLAIM) is None
    assert link_for("http://watch.example.org", None, CLAIM) is None


def test_what_a_refusal_says_holds_nothing_of_the_link() -> None:
    """It ends in logs, and whoever holds a link can use it."""
    token = sign(KEY, CLAIM)
    for key, shown, now in ((OTHER, token, NOW), (KEY, token[:-1], NOW), (KEY, token, NOW + 1e6)):
        with pytest.raises(Refused) as refused:
            verify(key, shown, now)
        assert token[:20] not in str(refused.value)
        assert "doorway" not in str(refused.value)
