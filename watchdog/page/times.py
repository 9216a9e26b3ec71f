"""Times and ages as people read them."""

from datetime import datetime, tzinfo

from watchdog.page.words import Words


def clock_time(stamp: float, zone: tzinfo, now: float, words: Words) -> str:
    """Local time of `stamp`; with its day where that is not the day of `now`."""
    when, today = datetime.fromtimestamp(stamp, zone), datetime.fromtimestamp(now, zone)
    time = f"{when:%H:%M}"
    if when.date() == today.date():
        return time
    return f"{words.days[when.weekday()]} {when.day} {words.months[when.month - 1]}, {time}"


def age(seconds: float) -> str:
    """How long `seconds` are; less than none, as after a stepped clock, counts as none."""
    minutes = int(max(0.0, seconds) // 60)
    hours, minutes = divmod(minutes, 60)
    days, hours = divmod(hours, 24)
    if days:
        return f"{days} d {hours} h"
    return f"{hours} h {minutes} min" if hours else f"{minutes} min"
