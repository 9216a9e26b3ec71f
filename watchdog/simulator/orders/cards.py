"""M20 M21 M22 M23 M24 M25 M26 M27 M524 M31 M73 M75–M78: the card and its job."""

from __future__ import annotations

from typing import TYPE_CHECKING

from watchdog.simulator.card import short_names
from watchdog.simulator.chatter import card_progress
from watchdog.simulator.gcode import Order
from watchdog.simulator.orders.kinds import Handler, nothing
from watchdog.simulator.voices import clock_text

if TYPE_CHECKING:
    from watchdog.simulator.controller import Controller


def listing(controller: Controller, order: Order) -> None:
    card = controller.card
    if not card.present:
        controller.say("echo:No media")
        return
    names = short_names(tuple(card.files))
    lines = [
        f"{short} {len(card.files[long])}{' ' + long if order.text == 'L' else ''}" for long, short in names.items()
    ]
    controller.say("Begin file list", *lines, "End file list")


def mount(controller: Controller, order: Order) -> None:
    controller.say("echo:SD card ok" if controller.card.present else "echo:No SD card")


def unmount(controller: Controller, order: Order) -> None:
    if not controller.card.running:
        controller.card.close()
        controller.say("echo:SD card released")


def choose(controller: Controller, order: Order) -> None:
    """A running file is closed first: the order that must never be sent in a job."""
    card = controller.card
    if card.running:
        controller.job.drop()
    if card.choose(order.text):
        controller.say(*controller.voice.opened(card.short().lower(), card.size))
    else:
        controller.say(*controller.voice.not_opened(order.text))


def start(controller: Controller, order: Order) -> None:
    controller.job.start()


def pause(controller: Controller, order: Order) -> None:
    controller.job.pause()


def seek(controller: Controller, order: Order) -> None:
    controller.card.seek(int(order.number("S") or 0))


def progress(controller: Controller, order: Order) -> None:
    card = controller.card
    if "C" in order.words:
        current = f"{card.short()} {card.open}" if card.open else "(no file)"
        controller.say(f"Current file: {current}")
    elif (every := order.number("S")) is not None:
        if controller.voice.reports_card_itself:
            controller.chatter.report_card(min(60.0, max(0.0, every)))
    else:
        controller.say(*card_progress(controller))


def abort(controller: Controller, order: Order) -> None:
    if controller.card.running:
        controller.job.stop()
        controller.say(*controller.voice.stopped(), everywhere=True)


def elapsed(controller: Controller, order: Order) -> None:
    controller.say(f"echo:Print time: {clock_text(controller.job.elapsed())}")


def percent(controller: Controller, order: Order) -> None:
    told = order.number("P")
    if told is not None:
        controller.percent = (told, order.number("R"))
    elif order.number("R") is not None and controller.percent is not None:
        controller.percent = (controller.percent[0], order.number("R"))
    if controller.percent is not None and (not order.words or controller.voice.tells_percent_when_set):
        controller.say(*controller.voice.percent(*controller.percent))


def statistics(controller: Controller, order: Order) -> None:
    controller.say(
        "Stats: Prints: 120, Finished: 96, Failed: 23",
        "Stats: Total time: 41d 7h 2m 11s, Longest job: 19h 0m 4s",
        "Stats: Filament used: 3120.55m",
    )


HANDLERS: dict[str, Handler] = {
    "M20": listing, "M21": mount, "M22": unmount, "M23": choose, "M24": start, "M25": pause, "M26": seek,
    "M27": progress, "M524": abort, "M31": elapsed, "M73": percent, "M75": nothing, "M76": nothing, "M77": nothing,
    "M78": statistics,
}  # fmt: skip
