"""For the accountant: the workbook, closed periods, the year-end list, account numbers, tax rates, corrected prices."""

from pathlib import Path

import click

from stockroom.cli import desk
from stockroom.cli.desk import Counter, TypedEntry
from stockroom.cli.margins import asked_period, period_options
from stockroom.errors import UsageError
from stockroom.margins.period import Period, period_named
from stockroom.stock.money import MILLI, major


@click.command()
@desk.opted(*period_options)
@desk.renamed("--compare-with", "against", was="--against", metavar="PERIOD",
              help="The period to compare margins with [the one of the same length before].")  # fmt: skip
@click.option("--into", "folder", type=click.Path(file_okay=False, path_type=Path), default=Path("accounts"),
              show_default=True, help="Folder for the files.")  # fmt: skip
@desk.view
def workbook(
    counter: Counter,
    *,
    period: str | None,
    first: str | None,
    last: str | None,
    against: str | None,
    folder: Path,
    as_json: bool,
) -> None:
    """Write the accountant's workbook of a period, with its journal and sheets as CSV.

    PERIOD is a month, a quarter or a year: 2026-10, 2026-Q4, 2026. Without one: the last twelve months.
    """
    from stockroom.flows.accounts.period import against_before, write_workbook

    asked = asked_period(period, first, last)
    other = period_named(against) if against else against_before(counter.book, asked)
    made, written = write_workbook(counter.book, asked, folder, against=other)
    facts = {
        "from": made.period.first,
        "to": made.period.last,
        "closed": made.period.closed,
        "opening": _major(made.opening, counter),
        "closing": _major(made.closing, counter),
        "files": [str(path) for path in written],
    }
    state = "closed" if made.period.closed else "open: figures can still change"
    value = f"Stock from {counter.formats.milli(made.opening)} to {counter.formats.milli(made.closing)}; {state}."
    shown = [*map(str, written[:2]), f"{written[2].parent}: {len(written) - 2} sheets as CSV"]
    desk.tell(facts, "\n".join([value, *shown]), as_json=as_json)


@click.command()
@click.argument("period")
@desk.entry
def close_period(counter: Counter, entry: TypedEntry, *, period: str) -> None:
    """Close a month, quarter or year: its figures stand from then on.

    PERIOD is such as 2026-01, 2026-Q1 or 2026; everything still open before its end is closed with it. Documents
    entered later for closed days are posted in the open period, and listed there as late. There is no reopening.
    """
    from stockroom.flows.accounts.closing import close_period as close

    done = close(counter.book, period_named(period), entry.stamp)
    value = counter.formats.milli(done.value)
    facts = {
        "from": done.period.first,
        "through": done.period.last,
        "value": _major(done.value, counter),
        "document": done.number,
        "new": done.fresh,
        "cautions": list(done.cautions),
    }
    again = "" if done.fresh else " It was closed already; nothing changed."
    days = f"{counter.formats.day(done.period.first)} to {counter.formats.day(done.period.last)}"
    said = f"Closed: {days}, stock {value} (document {done.number}).{again}"
    entry.tell(facts, "\n".join([said, *done.cautions]))


@click.command()
@desk.view
def periods(counter: Counter, *, as_json: bool) -> None:
    """List the closed periods, and the documents that came too late for them."""
    from stockroom.flows.accounts.closing import state_of_periods

    found = state_of_periods(counter.book)
    formats = counter.formats
    facts = {
        "closed": [
            {"from": c.first, "through": c.through, "value": _major(c.value, counter), "document": c.number}
            for c in found.closings
        ],
        "late": [
            {"document": d.id, "kind": str(d.kind), "happened": d.happened, "booked_on": d.booked_on}
            for d in found.late
        ],
    }
    lines = [
        f"{formats.day(c.first)} to {formats.day(c.through)}: closed, stock {formats.milli(c.value)} "
        f"(document {c.number})"
        for c in found.closings
    ]
    lines += [
        f"  late: document {d.id}, {d.called} of {formats.day(d.happened.date())}, "
        f"posted on {formats.day(d.booked_on or d.happened.date())}"
        for d in found.late
    ]
    desk.tell(facts, "\n".join(lines or ["No period is closed yet."]), as_json=as_json)


@click.command()
@click.argument("file", type=click.Path(dir_okay=False, path_type=Path), default=Path("stock-list.html"))
@desk.renamed("--as-of", "on", was="--on", metavar="DAY", help="At the end of this day [today].")
@desk.view
def stock_list(counter: Counter, *, file: Path, on: str | None, as_json: bool) -> None:
    """Write the list of stock on a day, to be counted by hand and signed.

    FILE ends in .html, to print, or in .xlsx.
    """
    from stockroom.flows.accounts.period import make_accounts
    from stockroom.show.stock_list import stock_list_html, stock_list_xlsx

    if file.suffix.lower() not in (".html", ".xlsx"):
        raise UsageError(f"'{file}' is neither a page nor a spreadsheet.", fix="Name it ….html or ….xlsx.")
    day = desk.day(on) if on else desk.now().date()
    made = make_accounts(counter.book, Period(first=day, last=day))
    content = stock_list_xlsx(made) if file.suffix.lower() == ".xlsx" else stock_list_html(made).encode()
    file.write_bytes(content)
    value = counter.formats.milli(made.closing)
    facts = {"file": str(file), "day": day, "lines": len(made.valued), "value": _major(made.closing, counter)}
    facts["on_approval"] = desk.price(made.on_approval, counter.shop)
    approval = counter.formats.money(made.on_approval)
    apart = f" Of it on approval, not bought yet: {approval}." if made.on_approval else ""
    desk.tell(facts, f"{file}: {len(made.valued)} materials, {value} at cost.{apart}", as_json=as_json)


@click.command()
@click.argument("delivery", type=click.IntRange(1))
@click.argument("costs", nargs=-1, metavar="[MATERIAL=COST]...")
@click.option("--carriage", help="Carriage invoiced after the delivery, before tax.")
@click.option("--credit", help="Money credited on the delivery, before tax.")
@desk.entry
def correct_price(
    counter: Counter,
    entry: TypedEntry,
    *,
    delivery: int,
    costs: tuple[str, ...],
    carriage: str | None,
    credit: str | None,
) -> None:
    """Correct what goods of a delivery cost, once the invoice says otherwise.

    DELIVERY is its document; COST is what all of the MATERIAL in it cost, before tax and without carriage. Carriage
    invoiced later is entered with --carriage, a credit that is not for goods sent back with --credit: they spread
    over the delivery's goods. Where the shop is not registered for tax, the tax on it is added.
    """
    from stockroom.flows.posting.price_corrections import correct_price as correct

    if bool(carriage) + bool(credit) + bool(costs) != 1:
        raise UsageError("Say one thing: what goods cost, --carriage, or --credit.", fix="Such as: LACE-90=11.80.")
    if carriage or credit:
        _charge(counter, entry, delivery, ("carriage", carriage) if carriage else ("credit", credit or ""))
        return
    asked = {code: desk.money(cost, counter.shop) for code, cost in desk.choices(costs).items()}
    done = correct(counter.book, delivery, asked, entry.stamp)
    facts = {
        "document": done.number,
        "new": done.fresh,
        "delivery": done.delivery,
        "changes": {
            code: {"was": desk.price(was, counter.shop), "is": desk.price(now, counter.shop)}
            for code, (was, now) in done.changes.items()
        },
    }
    lines = [
        f"{code}: {counter.formats.money(was)} -> {counter.formats.money(now)}"
        for code, (was, now) in done.changes.items()
    ]
    again = "" if done.fresh else " That was entered already; nothing changed."
    entry.tell(facts, "\n".join([f"Delivery {delivery} corrected (document {done.number}).{again}", *lines]))


def _charge(counter: Counter, entry: TypedEntry, delivery: int, typed: tuple[str, str]) -> None:
    from stockroom.flows.posting.price_corrections import charge_later

    what, amount = typed
    done = charge_later(counter.book, delivery, {what: desk.money(amount, counter.shop)}, entry.stamp)
    facts = {
        "document": done.number,
        "new": done.fresh,
        "delivery": delivery,
        what: desk.price(done.amount, counter.shop),
    }
    again = "" if done.fresh else " That was entered already; nothing changed."
    much = counter.formats.money(done.amount)
    entry.tell(
        facts, f"{what.capitalize()} of {much} entered against delivery {delivery} (document {done.number}).{again}"
    )


@click.command()
@click.argument("changes", nargs=-1, metavar="[NAME=NUMBER]...")
@desk.view
def account_numbers(counter: Counter, *, changes: tuple[str, ...], as_json: bool) -> None:
    """Show the accounts the journal uses, or give them your accountant's numbers."""
    from stockroom.flows.accounts.closing import account_numbers as numbers

    if not changes:
        desk.looked()
    found = numbers(counter.book, desk.choices(changes))
    words = "\n".join(f"{name} = {number or '(no number yet)'}" for name, number in found.items())
    desk.tell(found, words, as_json=as_json)


@click.command()
@click.argument("day", required=False)
@click.argument("rate", required=False)
@click.option("--item", default="", help="A material's or job's code [all that have no rate of their own].")
@desk.view
def tax_rates(counter: Counter, *, day: str | None, rate: str | None, item: str, as_json: bool) -> None:
    """Show the tax rates by date, or add one.

    Such as: stockroom tax-rates 2027-01-01 23. The shop's first rate is its setting tax_rate.
    """
    from stockroom.flows.accounts.closing import dated_tax_rates

    if bool(day) != bool(rate):
        raise UsageError("A rate needs its first day, and a day its rate.", fix="stockroom tax-rates 2027-01-01 23")
    if not day:
        desk.looked()
    found = dated_tax_rates(counter.book, desk.day_ahead(day) if day else None, rate or "", item=item, at=desk.now())
    facts = [{"from": each.valid_from, "per_cent": str(each.per_cent), "item": each.item or None} for each in found]
    lines = [f"{counter.shop.tax_rate}% from the first day"]
    lines += [
        f"{each.per_cent} % from {counter.formats.day(each.valid_from)}{f' for {each.item}' if each.item else ''}"
        for each in found
    ]
    desk.tell(facts, "\n".join(lines), as_json=as_json)


def _major(milli: int, counter: Counter) -> str:
    return f"{major(milli, counter.shop.currency_digits) / MILLI:f}"
