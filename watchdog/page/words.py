"""Every word of the page, one language an object; here English.

For a reading age of 12; no blame, and no word that nothing can happen.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from watchdog.page.links import Purpose


@dataclass(frozen=True, slots=True)
class Asking:
    """The words of one purpose. `{machine}`, `{what}` and `{answer}` are filled in."""

    heading: str
    caution: str | None
    """said before the button; None where the words of the alarm carry their own"""
    note: str
    """what the tap does, and what it does not"""
    buttons: tuple[tuple[str, str], ...]
    """value and label of each"""
    done: str
    already: str
    by: str
    """label of who it was"""


@dataclass(frozen=True, slots=True)
class Words:
    """One language. Pairs are a heading and what follows it."""

    lang: str
    """after BCP 47, for the page's lang attribute"""
    asking: Mapping[Purpose, Asking]
    answers: Mapping[str, str]
    refusals: Mapping[str, tuple[str, str]]
    """by the name under which the refusal is counted"""
    over: tuple[str, str]
    about: str = "About"
    since: str = "Since"
    now: str = "Now"
    sent_to: str = "This link was sent to"
    at: str = "At"
    how: str = "By way of"
    not_known: str = "not known"
    cannot_tell: str = "cannot be told"
    changed_nothing: str = "This tap changed nothing."
    nothing_at_machine: str = "Nothing was changed at the machine."
    ago: str = "{time} ({age} ago)"
    status: str = "What the watch sees"
    no_machine: str = "No machine is watched."
    repair: str = "out of service until {time}, only urgent alarms are told"
    shelved: str = "shelved until {time}: {what}"
    advisory: str = "Emberward is advisory. It is no safety device, and a missing message means nothing."
    days: tuple[str, ...] = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
    months: tuple[str, ...] = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


_STANDS = "What to do stands in the message itself."

ENGLISH = Words(
    lang="en",
    asking=MappingProxyType(
        {
            Purpose.ACKNOWLEDGE: Asking(
                heading="{machine}: {what}",
                caution=None,
                note="One tap tells the watch that you are seeing to it; its reminders stop. Nothing changes at the machine.",
                buttons=(("acknowledge", "I am seeing to it"),),
                done="Noted: you are seeing to it",
                already="Somebody is seeing to it already",
                by="Acknowledged by",
            ),
            Purpose.FIRST_LAYER: Asking(
                heading="{machine}: how does the first layer look?",
                caution="Look, do not touch: nozzle and bed are hot. If it is bad, you can stop the job at the machine.",
                note="The answer is kept with the age of the build surface. Nothing changes at the machine.",
                buttons=(("good", "Good"), ("bad", "Bad"), ("skipped", "I did not look")),
                done="Noted: {answer}",
                already="Answered already: {answer}",
                by="Answered by",
            ),
            Purpose.ALLOW_OUTLAST: Asking(
                heading="{machine}: may this job run on after hours?",
                caution="A hot machine that nobody watches can start a fire. Allow it only when somebody stays who "
                "checks on it. The school's rules govern.",
                note="The role that this link was sent to is kept with the job. Nothing changes at the machine.",
                buttons=(("allow", "Allow it for this job"),),
                done="Noted: this job may run on",
                already="This was allowed already",
                by="Allowed by",
            ),
        }
    ),
    answers=MappingProxyType({"good": "good", "bad": "bad", "skipped": "not looked at"}),
    refusals=MappingProxyType(
        {
            "damaged": (
                "This link is not complete",
                f"It may have been cut off on its way. Open it again, whole, from the message. Nothing was changed. {_STANDS}",
            ),
            "forged": (
                "This link does not count here",
                f"This watch did not make it, or has another key by now. Nothing was changed. {_STANDS}",
            ),
            "expired": (
                "This link has expired",
                f"A link holds for a while only. Nothing was changed. A later message brings another. {_STANDS}",
            ),
            "unknown": (
                "Nothing is known of this here",
                "The watch finds no such alarm or job; it may be long over. Nothing was changed.",
            ),
            "no-such-page": ("There is nothing here", "Open the link from the message, whole."),
            "wrong-method": (
                "That is not possible here",
                "A link is opened, then answered with its button. Nothing was changed.",
            ),
            "oversize": ("That was too much", "A tap sends a few letters. Nothing was changed. Open the link again."),
            "malformed": ("That was not understood", "Nothing was changed. Open the link again, and use its button."),
            "too-many": (
                "Too many questions from here",
                f"Nothing was changed. Wait a minute, then open the link again. {_STANDS}",
            ),
            "unavailable": (
                "The watch did not answer",
                f"It cannot be told whether anything was noted. Open the link again in a minute. {_STANDS}",
            ),
        }
    ),
    over=("This is over", "There is nothing left to answer."),
)
