"""What one address may ask: enough for a school behind one address, too little to keep the watch busy."""

from hypothesis import given
from hypothesis import strategies as st

from watchdog.page.rationing import MOST_ADDRESSES, Rationing, group


def test_a_burst_then_one_for_each_that_time_gives_back() -> None:
    ration = Rationing(burst=3, refill=0.5)
    assert [ration.allows("10.0.0.7", 0.0) for _ in range(4)] == [True, True, True, False]
    assert not ration.allows("10.0.0.7", 1.9)
    assert ration.allows("10.0.0.7", 3.9)
    assert not ration.allows("10.0.0.7", 3.9)


def test_one_phone_takes_nothing_from_another() -> None:
    ration = Rationing(burst=1, refill=1)
    assert ration.allows("10.0.0.7", 0)
    assert not ration.allows("10.0.0.7", 0)
    assert ration.allows("10.0.0.8", 0)


def test_never_more_than_the_burst_however_long_it_was_quiet() -> None:
    ration = Rationing(burst=2, refill=1)
    ration.allows("10.0.0.7", 0)
    assert [ration.allows("10.0.0.7", 1e9) for _ in range(3)] == [True, True, False]


def test_all_addresses_of_one_phone_in_a_network_of_version_6_count_together() -> None:
    assert group("fd00::1") == group("fd00::ffff:2") == "fd00::"
    assert group("fd00:0:0:1::1") != group("fd00::1")
    assert group("fe80::1%eth0") == "fe80::"
    assert group("::ffff:10.0.0.7") == group("10.0.0.7") == "10.0.0.7"
    assert group("") == group("nonsense") == "unknown"


@given(st.lists(st.ip_addresses().map(str), max_size=50), st.text(max_size=20))
def test_whoever_asks_is_judged(addresses: list[str], odd: str) -> None:
    ration = Rationing(burst=1, refill=0)
    assert all(ration.allows(address, 0.0) for address in {group(address): address for address in addresses}.values())
    ration.allows(odd, 0.0)


def test_memory_stays_bounded_and_the_last_to_come_are_kept() -> None:
    ration = Rationing(burst=1, refill=0)
    for number in range(3 * MOST_ADDRESSES):
        assert ration.allows(f"10.{number >> 16}.{number >> 8 & 255}.{number & 255}", 0.0)
    assert len(ration) == MOST_ADDRESSES
    last = 3 * MOST_ADDRESSES - 1
    assert not ration.allows(f"10.{last >> 16}.{last >> 8 & 255}.{last & 255}", 0.0)
