"""The words of a message: what to do first, then the facts.

Pure but for the language's file, which is read once. The words about an alarm come from its row in the alarm table or, in
another language, from that language's file; the facts come from the parcels. No message carries a person's name, none carries a
file name unless the person's settings allow it, none says 'safe' and none urges haste: going to a failed print in haste raises
exposure (NIOSH 2020-115).
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace

from watchdog.alerts.brief import brief
from watchdog.alerts.facts import facts, late, to_answer, why
from watchdog.alerts.lines import first_line, over_line, row_of
from watchdog.alerts.mail import page
from watchdog.alerts.mail_marks import by_mail
from watchdog.alerts.matters import Matter, matters
from watchdog.alerts.notices import notice_lines
from watchdog.alerts.plain import shorten
from watchdog.alerts.wording import MOST, Links, Minute, Wording, Words, mark
from watchdog.core.alarms.alarm import Alarm
from watchdog.record.parcels import Parcel


def message(
    parcels: Collection[Parcel],
    table: Mapping[str, Alarm],
    wording: Wording,
    minutes: Mapping[str, Sequence[Minute]] | None = None,
) -> Words:
    """One message for all `parcels` of one person (at least one). `minutes` holds the last minutes of each machine."""
    about = matters(parcels)
    wording = replace(wording, links=_once(wording.links), outlast_links=_once(wording.outlast_links))
    lately = late(parcels, wording)
    if len(about) > 1:
        return _several(about, lately, table, wording, minutes or {})
    (matter,) = about
    name, last = shorten(matter.machine, 40), (minutes or {}).get(matter.machine, ())
    if matter.notice:
        lines = notice_lines(matter, wording)
        return _words(about, wording, name, [*lines, *filter(None, (lately,))], last)
    row = row_of(table, matter.tell.alarm, wording)
    if matter.over:
        told = [over_line(row, matter, wording), *([lately] if lately and matter.unseen else [])]
        told += to_answer(matter, wording) if matter.asks else []
        return _words(about, wording, name, told)
    lines = [first_line(row, matter, wording), *facts(row, matter, wording), *filter(None, (lately,))]
    return _words(about, wording, name, lines, last)


def _several(
    about: Sequence[Matter],
    lately: str,
    table: Mapping[str, Alarm],
    wording: Wording,
    minutes: Mapping[str, Sequence[Minute]],
) -> Words:
    """One collapsed message: how many, the most urgent first, a line each."""
    lead, count, say = about[0], len(about), wording.language.say
    title = say("several.title", count=count)
    if lead.over:
        lines = [_line(matter, table, wording) for matter in about]
        told = [say("over.several", count=count), *lines, *filter(None, (lately,))]
        return _words(about, wording, title, told)
    more = say("first.more", count=count - 1)
    numbered = [f"{number}. {_line(matter, table, wording)}" for number, matter in enumerate(about, 1)]
    lines = [_first(lead, table, wording, MOST - len(more)) + more, say("several.lead", count=count), *numbered]
    if not lead.notice:
        lines.append(say("several.then", then=row_of(table, lead.tell.alarm, wording).then))
    lines += [*why(lead, wording), *filter(None, (lately,)), say("several.all")]
    return _words(about, wording, title, lines, minutes.get(lead.machine, ()))


def _first(matter: Matter, table: Mapping[str, Alarm], wording: Wording, room: int = MOST) -> str:
    if matter.notice:
        return notice_lines(matter, wording, room=room)[0]
    row = row_of(table, matter.tell.alarm, wording)
    return over_line(row, matter, wording) if matter.over else first_line(row, matter, wording, room=room)


def _line(matter: Matter, table: Mapping[str, Alarm], wording: Wording) -> str:
    say = wording.language.say
    line = f"{' '.join(mark(matter, wording.language))} {_first(matter, table, wording)}"
    if link := _link(matter, wording):
        return say("several.tap", line=line, link=link)
    return say("several.command", line=line, command=matter.acknowledge) if matter.asks else line


def _link(matter: Matter, wording: Wording) -> str | None:
    return wording.links(matter) if matter.asks or matter.notice else None


def _words(
    about: Sequence[Matter], wording: Wording, title: str, lines: Sequence[str], minutes: Sequence[Minute] = ()
) -> Words:
    """The message in all its forms. The first line stands alone, so that it is read alone."""
    shape, word = mark(about[0], wording.language)
    first = lines[0]
    taps = [_link(matter, wording) for matter in about]
    links = [link for link in (*taps, *map(wording.outlast_links, about)) if link]
    return Words(
        f"{shape} {word} {title}",
        f"{shape} {word} {first}",
        first,
        "\n".join((first, "", *lines[1:])) if len(lines) > 1 else first,
        page([*lines, *by_mail(about, wording)], minutes, wording.zone, wording.language, links),
        brief(word, first, taps[0]),
        brief(word, first, taps[0], two=True),
    )


def _once(links: Links) -> Links:
    """`links`, asked once for each matter: two links to the same thing differ by the moment at which they expire."""
    made: dict[int, str | None] = {}

    def link(matter: Matter) -> str | None:
        if matter.newest not in made:
            made[matter.newest] = links(matter)
        return made[matter.newest]

    return link
