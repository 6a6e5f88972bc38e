"""Machines: what is due to be done to them, and that it was done."""

from typing import Any

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.flows.bench import machines as flows
from stockroom.stock.machines import MINUTES, ServiceState


@click.command()
@desk.view
def services(counter: Counter, *, as_json: bool) -> None:
    """List what is to be done to your machines, what is due first.

    A service goes by the hours its machine ran, which recipes state, or by days. One is listed by: stockroom add
    service code=OIL machine=finisher "what is done=Oil the bearings" "every hours=20"
    """
    found = flows.services(counter.book, desk.now())
    lines = [line for each in found for line in _lines(each, counter)]
    lines += ["Done one: stockroom serviced CODE"] if found else ["No service is listed: stockroom add service"]
    desk.tell([service_facts(each) for each in found], "\n".join(lines), as_json=as_json)


@click.command()
@click.argument("service")
@desk.entry
def serviced(counter: Counter, entry: TypedEntry, *, service: str) -> None:
    """Enter that a service of a machine was done; its hours and days are counted anew.

    SERVICE is its code, or enough of what is done: stockroom serviced OIL
    """
    done = flows.serviced(counter.book, service, entry.stamp)
    again = "" if done.fresh else " That was entered already; nothing changed."
    facts = {"service": done.service.code, "document": done.document, "new": done.fresh}
    entry.tell(facts, f"{done.service.name} ({done.service.machine}): done (document {done.document}).{again}")


def service_facts(state: ServiceState) -> dict[str, Any]:
    """Give where a service stands to a program."""
    each = state.service
    return {
        "service": each.code,
        "machine": each.machine,
        "what": each.name,
        "every_hours": each.every_hours,
        "every_days": each.every_days,
        "since": state.since.isoformat(timespec="minutes"),
        "done_before": state.done_before,
        "hours": round(float(state.minutes) / MINUTES, 2),
        "days": state.days,
        "used": round(float(state.used), 4),
        "due": state.due,
    }


def _lines(state: ServiceState, counter: Counter) -> list[str]:
    each, write = state.service, counter.formats
    parts = []
    if each.every_hours:
        parts.append(f"{write.number(round(float(state.minutes) / MINUTES, 1))} of {each.every_hours} h")
    if each.every_days:
        parts.append(f"{state.days} of {each.every_days} days")
    since = f"since {write.day(state.since.date())}" if state.done_before else "never entered as done"
    due = "  <- due" if state.due else ""
    said = [f"{each.code}: {each.name} ({each.machine}), {', '.join(parts)}, {since}{due}"]
    if each.every_hours and not state.runs:
        said.append(f"  No recipe says how long {each.machine} runs: fill in 'machine' and 'machine minutes'.")
    return said
