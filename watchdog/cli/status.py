"""`status`: what each machine does, which alarms stand, and whether the watch itself is well."""

import argparse
import json
from datetime import datetime, tzinfo
from typing import Any

from watchdog.cli.common import DONE, FOUND_WRONG, Stop, ask_service, complain, paint, say, span, surroundings_of
from watchdog.cli.status_watch import computer, network, people
from watchdog.core.sensors import ON_OR_OFF
from watchdog.core.snapshot import SensorKind
from watchdog.settings.fill import zone_of
from watchdog.settings.places import of_caller

MARKS = {"urgent": ("▲ URGENT", "red"), "high": ("■ HIGH", "yellow"), "low": ("● LOW", "blue")}


def run(asked: argparse.Namespace) -> int:
    """Print the running service's answer. Exit status 1 when an alarm stands or the service does not answer."""
    try:
        settings = surroundings_of(asked)
        facts = ask_service(of_caller(settings.places), {"do": "status"})
    except Stop as stop:
        complain(str(stop))
        return stop.status
    stands = [alarm for machine in [*facts["machines"], facts["watch"]] for alarm in machine["alarms"]]
    if asked.json:
        say(json.dumps(facts, indent=2))
    else:
        for line in lines(facts, zone_of(settings)):
            say(line)
    return FOUND_WRONG if any(alarm["phase"] not in {"normal", "shelved"} for alarm in stands) else DONE


def lines(facts: dict[str, Any], zone: tzinfo) -> list[str]:
    """The answer as text, its times in `zone`."""
    shown = []
    for machine in facts["machines"]:
        shown += [*_machine(machine, zone), ""]
    watch = facts["watch"]
    shown.append(paint("the watch itself", "bold") + f"   running for {span(facts['running_for_s'])}")
    tells = ", ".join(watch["people"]) or "nobody: no alert can reach anyone"
    shown.append(f"  tells      {tells}")
    shown += [f"  {line}" for line in people(watch, datetime.fromisoformat(facts["at"]).astimezone(zone))]
    files = watch["job_files"]
    if files is not None:
        refused = f", {len(files['refused'])} could not be planned" if files["refused"] else ""
        shown.append(f"  job files  {files['trouble'] or str(files['planned']) + ' planned' + refused}")
    shown += [f"  {line}" for line in (*network(watch.get("mqtt")), *computer(watch.get("computer")))]
    shown += [f"  impaired   {sentence}" for sentence in watch["impairments"]]
    shown += [f"  {line}" for alarm in watch["alarms"] for line in _alarm(alarm)]
    if not watch["impairments"]:
        shown.append("  record and delivery work")
    return shown


def _machine(facts: dict[str, Any], zone: tzinfo) -> list[str]:
    state = facts["execution"] if facts["execution"] != "unavailable" else "not known"
    heard = facts["heard_ago_s"]
    last = "nothing heard yet" if heard is None else f"heard {span(heard)} ago"
    shown = [
        paint(facts["machine"], "bold")
        + f"   {state} for {span(facts['execution_for_s'])} · link {facts['link']} · {last}"
    ]
    shown.append(f"  nozzle     {_heat(facts['nozzle'])} · {facts['hotend']}      bed  {_heat(facts['bed'])}")
    if facts.get("out_of_service_for_s") is not None:
        why = _set_aside(facts["out_of_service_by"], facts["out_of_service_why"])
        shown.append(f"  repair     out of service for another {span(facts['out_of_service_for_s'])}{why}")
    if facts["job"] is not None and facts["job"]["ended"] is None:
        shown.append(f"  job        {_job(facts['job'], zone)}")
    if facts["alarms"]:
        shown += [f"  {line}" for alarm in facts["alarms"] for line in _alarm(alarm)]
    else:
        blind = " · cannot tell much while nothing is heard" if facts["execution"] == "unavailable" else ""
        shown.append(f"  alarms     none stand{blind}")
    if facts["usual"]:
        habits = ", ".join(
            f"{habit['subject']} {habit['usual']:.3g} {habit['unit'].split(',')[0]}" for habit in facts["usual"]
        )
        shown.append(f"  usual      {habits} (of {max(habit['jobs'] for habit in facts['usual'])} jobs)")
    shown += [f"  sensor     {_sensor(one)}" for one in facts.get("sensors", ())]
    if facts["unparsed"]:
        shown.append(f"  traffic    {facts['unparsed']} of {facts['lines']} lines not understood")
    if facts.get("dropped"):
        shown.append(f"  traffic    {facts['dropped']} lines let go: more came than could be looked at")
    return shown


def _sensor(told: dict[str, Any]) -> str:
    ago = told["heard_ago_s"]
    last = "nothing heard yet" if ago is None else f"heard {span(ago)} ago"
    if told["stale"]:
        return f"{told['sensor']} ({told['measures']})  not known: quiet for too long · {last}"
    return f"{told['sensor']} ({told['measures']})  {_value(told)} · {last}"


def _value(told: dict[str, Any]) -> str:
    value = told["value"]
    if value is None:
        return "not known"
    words = ON_OR_OFF.get(SensorKind(told["measures"]))
    if words is not None:
        return words[value >= 0.5]
    if told["measures"] == SensorKind.SMOKE and value in {0, 1}:
        return "smoke" if value else "no smoke"
    return f"{value:g} {told['unit']}".strip()


def _heat(facts: dict[str, Any]) -> str:
    now = "not known" if facts["now"] is None else f"{facts['now']:.0f} °C"
    target = facts["target"]
    aim = "target not known" if target is None else ("off" if target == 0 else f"target {target:.0f} °C")
    return f"{now}, {aim}"


def _job(job: dict[str, Any], zone: tzinfo) -> str:
    told = f"{job['origin']}, running for {span(job['elapsed_s'])}"
    if job["held_s"]:
        told += f" (held {span(job['held_s'])})"
    if job["size"] and job["progress"] is not None:
        told += f", {100 * job['progress'] / job['size']:.0f} % of its bytes read"
    if job["expected_s"] is not None:
        told += f", expected {span(job['expected_s'])} ({job['expected_by']})"
    if job["left_s"] is not None:
        finish, latest = _clock(job["finish"], zone), _clock(job["finish_at_the_latest"], zone)
        told += f", {span(job['left_s'])} left: done about {finish}, at the latest {latest}"
    elif job["expected_s"] is None:
        told += ", no plan and no expected duration"
    if job.get("may_outlast"):
        told += ", allowed to run on after the hours"
    return told


def _clock(stamp: str, zone: tzinfo) -> str:
    return f"{datetime.fromisoformat(stamp).astimezone(zone):%H:%M}"


def _alarm(alarm: dict[str, Any]) -> list[str]:
    mark, colour = MARKS[alarm["priority"]]
    if alarm["shelved_for_s"] is not None:
        why = _set_aside(alarm["shelved_by"], alarm["shelved_why"])
        return [f"○ SHELVED  {alarm['id']}  comes back in {span(alarm['shelved_for_s'])}{why}"]
    taken = f"taken on by {alarm['acknowledged_by']}" if alarm["acknowledged_by"] else "not answered"
    first = f"{paint(mark, colour, 'bold')}  {alarm['id']}  {alarm['what']}, for {span(alarm['for_s'] or 0)} · {taken}"
    return [first, f"           {alarm['do']}"]


def _set_aside(by: str | None, why: str | None) -> str:
    """By whom and for what reason something is silenced for a while."""
    return f", by {by or 'somebody'}: {why or 'no reason given'}"
