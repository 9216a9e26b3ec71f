"""What a message's link, or the mark of a mail, stands for."""

from collections.abc import Mapping

from watchdog.alerts.matters import Matter
from watchdog.core.effects import TellKind
from watchdog.core.notices.notice import FIRST_LAYER
from watchdog.page.links import Claim, Purpose
from watchdog.service.watching import Watching


def to_answer(person: str, matter: Matter, expires: float) -> Claim | None:
    """The answer of `person` to `matter`; None where there is nothing to answer. `expires` is a stamp."""
    if matter.tell.kind is not TellKind.NOTICE:
        alarm = matter.tell.alarm
        return Claim(Purpose.ACKNOWLEDGE, matter.machine, alarm, matter.tell.occurrence, person, int(expires))
    if matter.tell.alarm != FIRST_LAYER:
        return None
    return Claim(Purpose.FIRST_LAYER, matter.machine, "", matter.tell.occurrence, person, int(expires))


def to_allow(person: str, matter: Matter, expires: float, workers: Mapping[str, Watching]) -> Claim | None:
    """That `person` allows the job of `matter` to outlast the supervised hours; None where that is not the matter."""
    worker = workers.get(matter.machine)
    if worker is None or matter.tell.alarm != "outlasts-supervision":
        return None
    job = worker.seen().job
    if job is None or job.ended is not None:
        return None
    return Claim(Purpose.ALLOW_OUTLAST, matter.machine, "", job.number, person, int(expires))
