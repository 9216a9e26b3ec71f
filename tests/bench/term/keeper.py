"""What people enter beside their jobs: spools, build surfaces, upkeep, and what they say of parts and alarms."""

from datetime import date
from math import pi
from random import Random

from tests.bench.term import house
from tests.bench.term.entries import Entered
from tests.bench.term.stand import Stand
from watchdog.core.events import SpoolSet
from watchdog.core.materials import MATERIALS
from watchdog.core.timetable import presence

SPOOL, EMPTY = 1000.0, 240.0
"""g of filament on a new spool, and of the spool alone"""
DIAMETER = 1.75
"""mm"""


def grams(mm: float) -> float:
    """Weight of so much filament."""
    return pi / 4 * DIAMETER**2 * mm * MATERIALS["PLA"].density / 1000


class Keeper:
    """Keeps account of one machine's spools and sheets as people do, and enters it."""

    def __init__(self, stand: Stand, random: Random) -> None:
        self.stand, self.random = stand, random
        self.left = 0.0
        """g on the spool"""
        self.on_sheet = self.sheet_lasts = 0
        """jobs that have begun on the sheet, and after how many it is changed"""
        self.spools = self.sheets = 0

    def enter(self, verb: str, /, **what: object) -> None:
        """Enter it now, by whoever is there."""
        self.stand.entries.append(Entered(self.stand.now.stamp, verb, self.stand.name, self._somebody(), what))

    def load_spool(self, note: str) -> None:
        """A new spool; its filament is measured, and the watch hears what is on it."""
        self.spools += 1
        self.left = SPOOL
        density, mm = MATERIALS["PLA"].density, round(self.random.gauss(DIAMETER, 0.015), 2)
        kind = {"material": "PLA", "density": density, "diameter": DIAMETER, "net": SPOOL, "empty": EMPTY}
        self.enter("spool", **kind, note=note, measured=mm)
        self.stand.feed(SpoolSet(self.stand.now, SPOOL / grams(1.0), self._somebody()))

    def new_sheet(self, why: str | None) -> None:
        """Another build surface."""
        self.sheets += 1
        self.on_sheet, self.sheet_lasts = 0, self.random.randint(20, 30)
        self.enter("sheet", why=why)

    def upkeep(self, day: date) -> None:
        """What is done on Mondays."""
        week = (day - house.FIRST).days // 7
        if week % 3 == 0:
            self.enter("done", item="nozzle-height", note="0.1 mm")
        if week % 6 == 0:
            self.enter("done", item="lubrication", note="rods oiled")
        if week == 8:
            self.enter("done", item="nozzle", note="0.4 mm, brass")
        if week % 4 == 2:
            self.enter("weigh", net=round(self.left))

    def _somebody(self) -> str:
        timetable = self.stand.watch.timetable
        here = None if timetable is None else presence(timetable, self.stand.now.stamp)
        return house.TUTOR if here is not None and house.TUTOR in here.on_duty else house.LEAD
