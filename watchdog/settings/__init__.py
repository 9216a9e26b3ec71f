"""Settings: TOML, environment and credentials in; the rooms' own frozen limits and options out. Nothing of it goes further."""

from watchdog.settings.load import load, load_surroundings
from watchdog.settings.model import Settings
from watchdog.settings.problems import BadSettings, Problem

__all__ = ["BadSettings", "Problem", "Settings", "load", "load_surroundings"]
