"""How each controller family speaks, and what else differs between them."""

from watchdog.simulator.voices.common import Heats, Voice, clock_text
from watchdog.simulator.voices.independent import Independent
from watchdog.simulator.voices.one_vendor import OneVendor

__all__ = ["FAMILIES", "Heats", "Voice", "clock_text"]

FAMILIES: dict[str, type[Voice]] = {voice.family: voice for voice in (Voice, OneVendor, Independent)}
"""by the letter that the options and the command line use"""
