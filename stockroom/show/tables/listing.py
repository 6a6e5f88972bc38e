"""The lists as text for a terminal, with an empty-state sentence and words for stock below zero."""

from collections.abc import Iterable, Sequence
from datetime import date
from typing import TYPE_CHECKING

from stockroom.show.formats import Formats, unit_word
from stockroom.show.layout import Head, TableLine, draw, plain_text, wrap
from stockroom.stock.lists import CountSheet, ReorderLine, ReorderList, RunOutRow, SheetLine, ShelfRow
from stockroom.stock.quantities import NANO

if TYPE_CHECKING:
    from stockroom.buying.caution import CautionPoint

BELOW_ZERO = "!"  # stands before the figure, so that colour is never the only sign
_BREAK = "*"  # stands after packs that are so many for a better price
USUAL_CAUSE = "a delivery or a count is probably not entered yet"

_SHELF = (
    Head(text="Code"),
    Head(text="Material", flexible=True),
    Head(text="On hand", right=True),
    Head(text="Reserved", right=True),
    Head(text="Available", right=True),
    Head(text="On order", right=True),
    Head(text="Unit"),
    Head(text="Location"),
)
_RUN_OUT = (
    Head(text="Code"),
    Head(text="Material", flexible=True),
    Head(text="Available", right=True),
    Head(text="A week", right=True),
    Head(text="Unit"),
    Head(text="Days left", right=True),
    Head(text="Runs out", right=True),
    Head(text="Order by", right=True),
)
_REORDER = (
    Head(text="Packs", right=True),
    Head(text="Pack", flexible=True),
    Head(text="Their code"),
    Head(text="Material", flexible=True),
    Head(text="Cost", right=True),
)
_IN_SHORT = (
    Head(text="Packs", right=True),
    _REORDER[1],
    _REORDER[3],
    _REORDER[4],
    Head(text="Runs out", right=True),
    Head(text="Risk", right=True),
    Head(text="Lasts until", right=True),
)
_CAUTION = (
    Head(text="Counted", right=True),
    Head(text="Orders now", right=True),
    Head(text="Tied up", right=True),
    Head(text="Delayed jobs", right=True),
    Head(text="Stock and carriage", right=True),
    Head(text="Delays and lost sales", right=True),
    Head(text="In all", right=True),
)
_YEAR = (
    Head(text="Month"),
    Head(text="Orders", right=True),
    Head(text="Expected", right=True),
    Head(text="1 in 10 less than", right=True),
    Head(text="1 in 10 more than", right=True),
)
_YEAR_SUPPLIERS = (
    Head(text="Supplier", flexible=True),
    _YEAR[1],
    _YEAR[2],
    Head(text="Carriage", right=True),
    *_YEAR[3:],
)
_SHEET = (
    Head(text="Location"),
    Head(text="Code"),
    Head(text="Material", flexible=True),
    Head(text="Unit"),
    Head(text="Counting method", flexible=True),
    Head(text="Book", right=True),
    Head(text="Amount"),
)


def heading(title: str, *, width: int | None = 80) -> str:
    """Write a title on a line of its own."""
    return wrap(plain_text(title), width)


def table(
    title: str,
    heads: Sequence[Head],
    lines: Sequence[TableLine],
    *,
    empty: str = "Nothing to show.",
    width: int | None = 80,
) -> str:
    """Draw any list under its title; an empty one says so in a sentence."""
    body = draw(heads, lines, width=width) if lines else wrap(empty, width)
    return f"{heading(title, width=width)}\n\n{body}\n"


def shelf_table(rows: Sequence[ShelfRow], formats: Formats, *, as_of: date, width: int | None = 80) -> str:
    """Draw what is on the shelf."""
    below = sum(row.below_zero for row in rows)
    drawn = table(
        f"On hand on {formats.weekday(as_of)}",
        _SHELF,
        [_shelf_line(row, formats) for row in rows],
        empty="The shelf is empty: no material is in the book yet.",
        width=width,
    )
    return f"{drawn}\n{wrap(_below_sentence(below), width)}\n" if below else drawn


def run_out_table(rows: Sequence[RunOutRow], formats: Formats, *, as_of: date, width: int | None = 80) -> str:
    """Draw what runs out and when, if nothing more is ordered."""
    return table(
        f"Stock running out, as seen on {formats.weekday(as_of)}",
        _RUN_OUT,
        [_run_out_line(row, formats) for row in rows],
        empty="Nothing is expected to run out within the outlook.",
        width=width,
    )


def reorder_table(
    lists: Iterable[ReorderList],
    formats: Formats,
    *,
    as_of: date,
    width: int | None = 80,
    why: bool = False,
    title: str = "Suggested orders",
) -> str:
    """Draw what to order, supplier by supplier, a line a material, the most urgent first.

    Where `why` is asked for, with all that is known of each line.
    """
    shown = sorted((each for each in lists if each.lines or each.notes), key=lambda each: each.order_by or date.max)
    parts = [
        _supplier_part(each, formats, width) if why else _in_short(each, formats, width, as_of=as_of) for each in shown
    ]
    marked = not why and any(line.better_price_from for each in shown for line in each.lines)
    parts += [wrap(f"{_BREAK} So many because a pack is cheaper then.", width)] if marked else []
    head = heading(f"{title}, as seen on {formats.weekday(as_of)}", width=width)
    return "\n\n".join([head, *(parts or [wrap("Nothing needs ordering now.", width)])]) + "\n"


def caution_table(points: "Sequence[CautionPoint]", formats: Formats, *, width: int | None = 80) -> str:
    """Draw a year at several degrees of caution, the shop's own marked."""

    def money(value: float) -> str:
        return formats.round_money(value)

    lines = [
        TableLine(
            cells=(
                f"{'> ' if each.times == 1.0 else ''}{formats.number(each.times)} x",
                money(each.today),
                money(each.stock),
                formats.number(each.held_up, 1),
                money(each.paid),
                money(each.delays),
                money(each.cost),
            )
        )
        for each in points
    ]
    return table(
        "A year, if a delayed job counted so many times as dear (> as it does now)", _CAUTION, lines, width=width
    )


def year_table(
    months: "Sequence[tuple[str, float, float, float, float]]",
    suppliers: "Sequence[tuple[str, float, float, float, float, float]]",
    formats: Formats,
    *,
    width: int | None = 80,
) -> str:
    """Draw a year ahead: by month (name, orders, spend, low, high), and by supplier (… carriage, low, high)."""
    by_month = [
        TableLine(cells=(name, formats.number(orders, 1), *map(formats.round_money, money)))
        for name, orders, *money in months
    ]
    by_supplier = [
        TableLine(cells=(name, formats.number(orders, 1), *map(formats.round_money, money)))
        for name, orders, *money in suppliers
    ]
    first = table("Goods and carriage by the month they come in", _YEAR, by_month, width=width)
    return "\n".join([first, table("By supplier, over the whole time", _YEAR_SUPPLIERS, by_supplier, width=width)])


def sheet_table(sheet: CountSheet, formats: Formats, *, width: int | None = 80) -> str:
    """Draw a count sheet to read out or write on."""
    lines = [_sheet_line(line, formats) for group in sheet.by_place.values() for line in group]
    title = f"Count sheet {sheet.key}, {formats.moment(sheet.made)}"
    return table(title, _SHEET, lines, empty="Nothing to count.", width=width)


def below_zero_note(row: ShelfRow) -> str:
    """Say that the book holds less than nothing, and the likely cause."""
    cause = (row.cause or USUAL_CAUSE).rstrip(".")
    return f"{BELOW_ZERO} Below zero: {cause}." if row.below_zero else ""


def run_out_note(row: RunOutRow, formats: Formats) -> str:
    """Say in words how sure the run-out day is and which tickets it holds up."""
    parts = [_range(row, formats), _at_risk(row), row.why]
    return " ".join(_sentence(part) for part in parts if part)


def _shelf_line(row: ShelfRow, formats: Formats) -> TableLine:
    amounts = [row.on_hand, row.set_aside, row.free, row.on_order]
    figures: list[str] = [formats.bare(nano, row.unit) for nano in amounts]
    figures[0] = f"{BELOW_ZERO} {figures[0]}" if row.below_zero else figures[0]
    shown = [*figures[:1], _unless_zero(row.set_aside, figures[1]), figures[2], _unless_zero(row.on_order, figures[3])]
    cells = (row.material, row.name, *shown, unit_word(row.unit), row.place)
    return TableLine(cells=cells, notes=(below_zero_note(row), _short_note(row, formats), _lent_note(row, formats)))


def _short_note(row: ShelfRow, formats: Formats) -> str:
    short = row.free < 0 <= row.on_hand
    return f"{BELOW_ZERO} Open tickets need {formats.amount(-row.free, row.unit)} more than there is." if short else ""


def _lent_note(row: ShelfRow, formats: Formats) -> str:
    return f"{formats.amount(row.lent, row.unit)} of it lent out." if row.lent else ""


def _unless_zero(nano: int, figure: str) -> str:
    return figure if nano else ""


def _below_sentence(below: int) -> str:
    noun = "material is" if below == 1 else "materials are"
    return f"{BELOW_ZERO} {below} {noun} below zero in the book: work was entered before the goods were."


def _run_out_line(row: RunOutRow, formats: Formats) -> TableLine:
    cells = (
        row.material,
        row.name,
        formats.bare(row.free, row.unit),
        formats.bare(round(row.weekly_use * NANO), row.unit),
        unit_word(row.unit),
        "" if row.days_left is None else formats.number(row.days_left),
        formats.day(row.runs_out) if row.runs_out else "later",
        formats.day(row.order_by) if row.order_by else "",
    )
    return TableLine(cells=cells, notes=(run_out_note(row, formats),))


def _range(row: RunOutRow, formats: Formats) -> str:
    if row.earliest and row.earliest == row.latest:
        return ""
    if row.earliest and row.latest:
        return f"In 8 of 10 cases between {formats.day(row.earliest)} and {formats.day(row.latest)}"
    if row.earliest:
        return f"Could be as early as {formats.day(row.earliest)}"
    return f"Risk of running short within the outlook {formats.percent(row.chance)}" if row.chance_by_week else ""


def _at_risk(row: RunOutRow) -> str:
    tickets = row.tickets_at_risk
    shown = ", ".join(tickets[:6]) + (f" and {len(tickets) - 6} more" if len(tickets) > 6 else "")  # noqa: PLR2004 -- as many as fit a line
    return f"{'Ticket' if len(tickets) == 1 else 'Tickets'} at risk: {shown}" if tickets else ""


def _sentence(text: str) -> str:
    """Begin with a capital and end with a full stop."""
    begun = text[:1].upper() + text[1:]
    return begun if not begun or begun.endswith((".", "!", "?")) else f"{begun}."


def hazards_named(lists: Iterable[ReorderList]) -> str:
    """Name what is to be ordered and carries a hazard; nothing where nothing does."""
    names = dict.fromkeys(line.name for each in lists for line in each.lines if line.cautions)
    return f"With hazards: {'; '.join(names)}." if names else ""


def _in_short(order: ReorderList, formats: Formats, width: int | None, *, as_of: date) -> str:
    title = wrap(plain_text(f"{order.name} ({order.supplier}){_when(order, formats)}"), width)
    head = [title, wrap(_totals(order, formats), width)] if order.lines else [title]
    if order.next_day and order.next_comes and any(line.risk_if_left for line in order.lines):
        by, day = formats.weekday(order.next_comes), formats.weekday(order.next_day)
        head.append(wrap(f"Risk: of running short by {by}, when an order of {day} would come.", width))
    lines = [_short_line(line, formats, as_of) for line in sorted(order.lines, key=_urgency)]
    body = [draw(_IN_SHORT, lines, width=width)] if lines else []
    return "\n".join([*head, *body, *(wrap(plain_text(note), width, indent="  ") for note in order.notes)])


def _urgency(line: ReorderLine) -> tuple[date, str]:
    return line.runs_out or date.max, line.name


def _short_line(line: ReorderLine, formats: Formats, as_of: date) -> TableLine:
    pack = line.pack_name or formats.amount(line.pack, line.unit)
    packs = formats.number(line.packs) + (f" {_BREAK}" if line.better_price_from else "")
    runs_out = formats.near_day(line.runs_out, as_of) if line.runs_out else "later"
    lasts = formats.near_day(line.lasts_until, as_of) if line.lasts_until else "–"
    risk = "" if line.risk_if_left is None else formats.percent(line.risk_if_left)
    risk = "too late" if line.warning else risk
    cells = (packs, pack, line.name, formats.money(line.cost), runs_out, risk, lasts)
    return TableLine(cells=cells, notes=(f"{BELOW_ZERO} {line.warning}" if line.warning else "", line.note))


def _supplier_part(order: ReorderList, formats: Formats, width: int | None) -> str:
    title = wrap(plain_text(f"{order.name} ({order.supplier}){_when(order, formats)}"), width)
    lines = [_reorder_line(line, formats) for line in sorted(order.lines, key=_urgency)]
    body = [draw(_REORDER, lines, width=width), wrap(_totals(order, formats), width)] if lines else []
    return "\n".join([title, *body, *(wrap(plain_text(note), width, indent="  ") for note in order.notes)])


def _when(order: ReorderList, formats: Formats) -> str:
    by = f": order by {formats.weekday(order.order_by)}" if order.order_by else ""
    return by + (f", expected {formats.weekday(order.expected)}" if order.expected else "")


def _reorder_line(line: ReorderLine, formats: Formats) -> TableLine:
    pack = line.pack_name or formats.amount(line.pack, line.unit)
    cells = (formats.number(line.packs), pack, line.supplier_code, line.name, formats.money(line.cost))
    late = f"{BELOW_ZERO} {line.warning}" if line.warning else ""
    reason = _sentence(" ".join(each for each in (line.reason, line.more) if each))
    return TableLine(cells=cells, notes=(late, reason, *(f"Hazard: {caution}" for caution in line.cautions)))


def _totals(order: ReorderList, formats: Formats) -> str:
    free = order.carriage_free_over
    over = f" (free over {formats.money(free)})" if free is not None else ""
    short = f" Below the minimum order of {formats.money(order.minimum_order)}." * (order.goods < order.minimum_order)
    carriage = f"carriage {formats.money(order.carriage)}{over}"
    paid = f", {formats.money(order.total + order.tax)} with tax" if order.tax else ""
    return (
        f"Goods {formats.money(order.goods)}, {carriage}, total {formats.money(order.total)} before tax{paid}.{short}"
    )


def _sheet_line(line: SheetLine, formats: Formats) -> TableLine:
    book = "" if line.book is None else formats.bare(line.book, line.unit)
    cells = (line.place, line.material, line.name, unit_word(line.unit), line.aid, book, "________")
    return TableLine(cells=cells, notes=(line.hint,))
