"""How much one address may ask of the page: a bucket of tokens for each, in bounded memory."""

from collections import OrderedDict
from ipaddress import IPv6Address, ip_address

MOST_ADDRESSES = 1024
"""remembered at once; a school has fewer phones, and it takes 200 kB"""
_SUBNET = 64  # bits: one phone may have any number of IPv6 addresses within its network (RFC 4291 section 2.5.1)


class Rationing:
    """`burst` requests at once, then `refill` a second. Forgets who has been away longest when too many have come."""

    def __init__(self, burst: int, refill: float) -> None:
        self._burst = float(burst)
        self._refill = refill
        self._buckets: OrderedDict[str, tuple[float, float]] = OrderedDict()

    def __len__(self) -> int:
        return len(self._buckets)

    def allows(self, address: str, elapsed: float) -> bool:
        """Whether `address` may ask once more at `elapsed` (s, never stepping back). Counts it when it may."""
        who = group(address)
        left, since = self._buckets.pop(who, (self._burst, elapsed))
        left = min(self._burst, left + max(0.0, elapsed - since) * self._refill)
        allowed = left >= 1.0
        self._buckets[who] = (left - 1.0 if allowed else left, elapsed)
        while len(self._buckets) > MOST_ADDRESSES:
            self._buckets.popitem(last=False)
        return allowed


def group(address: str) -> str:
    """Whom `address` counts for: itself, or the network of an IPv6 address."""
    try:
        read = ip_address(address.partition("%")[0])
    except ValueError:
        return "unknown"
    if not isinstance(read, IPv6Address):
        return str(read)
    if read.ipv4_mapped is not None:
        return str(read.ipv4_mapped)
    return str(IPv6Address(int(read) >> _SUBNET << _SUBNET))
