"""What can be chosen about the page. Light: whoever only needs the options loads no web server."""

from dataclasses import dataclass
from zoneinfo import ZoneInfo


@dataclass(frozen=True, slots=True)
class Options:
    """Where the page listens, what stands in the links, and how much it puts up with."""

    host: str
    """address of this computer to listen on, as numbers; 0.0.0.0 or :: for all of them"""
    port: int
    """0: any free one"""
    address: str
    """what stands before a link's path in a message: scheme, host and, where needed, port and path"""
    zone: ZoneInfo
    """local time of the people who read"""
    links_last: float = 12 * 3600.0
    """s; the day on which the message came, not the next one"""
    status: bool = False
    """whether / lists the machines and their alarms to everybody who can reach the page"""
    patience: float = 10.0
    """s that a question to the service may take; then the page says that it cannot tell. Common practice, no source"""
    burst: int = 30
    """requests that one address may make at once; a link takes two, and a school may have one address for all phones"""
    refill: float = 1.0
    """requests a second that it may make in the long run; common practice, no source"""
    connections: int = 64
    """open at the same time; a page takes milliseconds"""
    connections_each: int = 16
    """of these for one address, so that one phone cannot take them all; a browser opens 6. Common practice, no source"""
    connection_lasts: float = 20.0
    """s after which a connection is ended, that none is held open for good"""
    first_pause: float = 1.0
    """s before it is tried again to listen; doubled from there"""
    longest_pause: float = 60.0
    """s between two tries at the most"""
