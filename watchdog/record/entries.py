"""What people enter: labels, what was seen to, sheets and spools. Each is one transaction; times are stamps."""

from contextlib import AbstractContextManager

from watchdog.record import labels, names, sheets, spools, upkeep
from watchdog.record.labels import Words
from watchdog.record.pen import Pen
from watchdog.record.term_rows import Subject


class Entries:
    """The part of a `Record` that takes what people say. The same entry a second time changes nothing, but for labels and
    measurements, which are said anew."""

    def _entering(self) -> AbstractContextManager[Pen]:
        raise NotImplementedError

    def label(self, kind: Subject, subject: int, words: Words, *, at: float, by: str, how: str) -> int:
        """Say something of a job, an incident, an alarm's occurrence or a job's first layer (by `id`); the label's id.

        What is not said leaves an earlier word as it is. `labels.BadLabel` when it says nothing or what cannot be said of
        that; `labels.UnknownSubject` when there is no such thing.
        """
        with self._entering() as pen:
            return labels.put(pen, kind, subject, words, at, by, how)

    def done(self, machine: str, item: str, *, at: float, by: str, note: str = "") -> None:
        """`item` of the machine was seen to: its counters begin anew."""
        with self._entering() as pen:
            upkeep.done(pen, machine, item, at, by, note)

    def new_sheet(self, machine: str, *, at: float, by: str, why: str | None = None, note: str = "") -> int:
        """Another build surface is on; the one before came off because of `why`. Its id. `sheets.OutOfOrder` when a later
        entry contradicts it."""
        with self._entering() as pen:
            return sheets.begin(pen, machine, at, by, why, note)

    def sheet_off(self, machine: str, *, at: float, by: str, why: str | None = None) -> bool:
        """The build surface was taken off and none is on; whether one was."""
        with self._entering() as pen:
            return sheets.end(pen, machine, at, by, why) > 0

    def load_spool(
        self,
        machine: str,
        *,
        at: float,
        by: str,
        material: str,
        density: float,
        diameter: float,
        net: float | None = None,
        empty: float | None = None,
        note: str = "",
    ) -> int:
        """A spool was loaded; its id. `density` g/cm³, `diameter` mm as noted, `net` g of filament, `empty` g of the spool
        alone; None where that is not known. `sheets.OutOfOrder` when a later entry contradicts it."""
        with self._entering() as pen:
            return spools.load(pen, machine, at, by, material, density, diameter, net, empty, note)

    def unload_spool(self, machine: str, *, at: float) -> bool:
        """The spool was taken off; whether there was one."""
        with self._entering() as pen:
            return spools.unload(pen, machine, at) > 0

    def weigh_spool(self, spool: int, *, at: float, by: str, weight: float, note: str = "") -> None:
        """Correct the account of a spool: it weighs `weight` g with what is on it. `spools.UnknownSpool`;
        `spools.UnknownWeight` when nobody said what the empty spool weighs."""
        with self._entering() as pen:
            spools.weigh(pen, spool, at, by, weight, note)

    def measure_filament(
        self, machine: str, *, at: float, by: str, mm: float, spool: int | None = None, note: str = ""
    ) -> None:
        """Filament was measured: of `spool`, or of the one that is loaded."""
        with self._entering() as pen:
            spools.measure(pen, machine, at, by, mm, spool, note)

    def forget_names(self) -> int:
        """Put a hash in the place of each file's name that was kept; how many jobs that were."""
        with self._entering() as pen:
            return names.forget(pen)
