"""Write the lists as spreadsheets, JSON and charts into a folder."""

from datetime import date, datetime, timedelta
from pathlib import Path

import numpy as np

from stockroom.flows.accounts.margins import money_pictures
from stockroom.flows.bench.shelf import rows as shelf_rows
from stockroom.flows.loading.load import Progress
from stockroom.flows.ordering.plan import OrderPlan, plan_order
from stockroom.flows.outlook.run_outs import Outlook, run_out_rows
from stockroom.show.charts.facts import StockOutlook
from stockroom.show.formats import Formats, formats_of
from stockroom.stock.lists import RunOutRow, ShelfRow
from stockroom.stock.quantities import NANO
from stockroom.store import ledger
from stockroom.store.book import Book

CHARTS = 6  # materials drawn: those soonest to run out
LOOK_BACK = 26  # weeks of history in a chart


def write_reports(
    book: Book, moment: datetime, folder: Path, *, plan: OrderPlan | None = None, progress: Progress | None = None
) -> list[Path]:
    """Write shelf, run-outs and reorder list (XLSX and JSON) and charts; gives the files written."""
    plan = plan or plan_order(book, moment)
    with book.reading() as session:
        shelf = shelf_rows(session, at=moment)
    formats = formats_of(plan.outlook.known.shop)
    runs = run_out_rows(plan.outlook)
    texts = _lists(plan, shelf, runs, formats, moment)
    pictures = _pictures(book, plan.outlook, runs, formats, progress) | money_pictures(book, moment.date(), formats)
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for name, content in (texts | pictures).items():
        path = folder / name
        path.write_bytes(content)
        written.append(path)
    return written


def _lists(
    plan: OrderPlan, shelf: list[ShelfRow], runs: list[RunOutRow], formats: Formats, moment: datetime
) -> dict[str, bytes]:
    from stockroom.show.tables import files, schema  # noqa: PLC0415 -- spreadsheets are slow to import

    day = moment.date()
    return {
        "shelf.xlsx": files.shelf_xlsx(shelf, formats, as_of=day),
        "shelf.json": schema.shelf_json(shelf, as_of=day).encode(),
        "run-outs.xlsx": files.run_out_xlsx(runs, formats, as_of=day),
        "run-outs.json": schema.run_out_json(runs, as_of=day).encode(),
        "reorder.xlsx": files.reorder_xlsx(plan.lists, formats, as_of=day),
        "reorder.json": schema.reorder_json(plan.lists, formats, as_of=day).encode(),
    }


def _pictures(
    book: Book, seen: Outlook, runs: list[RunOutRow], formats: Formats, progress: Progress | None
) -> dict[str, bytes]:
    from stockroom.show.charts import stock as charts  # noqa: PLC0415 -- charts are slow to import

    chosen = [row for row in runs if row.runs_out and row.free > 0][:CHARTS]
    drawn = {"run-outs.png": charts.run_out_chart(runs, formats, as_of=seen.known.day)}
    for done, row in enumerate(chosen, start=1):
        drawn[f"stock-{row.material}.png"] = charts.stock_chart(stock_outlook(book, seen, row), formats)
        if progress:
            progress("drawing", done, len(chosen))
    return drawn


def stock_outlook(book: Book, seen: Outlook, row: RunOutRow) -> StockOutlook:
    """Gather one material's past stock and its futures for a chart."""
    n = seen.futures.codes.index(row.material)
    item = seen.question.problem.items[n]
    steps = seen.futures.use.shape[2]
    ends = [7.0 * (step + 1) for step in range(steps)]
    stock = np.broadcast_to(item.on_hand, seen.futures.use.shape[0])[:, None] - seen.futures.use[:, n].cumsum(axis=1)
    for coming in item.coming:
        stock = stock + coming.quantity * (coming.arrives[:, None] <= np.array(ends))
    low, middle, high = np.quantile(stock, [0.1, 0.5, 0.9], axis=0)
    return StockOutlook(
        name=row.name,
        unit=row.unit,
        as_of=seen.known.day,
        history=_history(book, seen, row.material),
        weeks=tuple(seen.known.day + timedelta(days=int(end)) for end in ends),
        low=tuple(map(float, low)),
        middle=tuple(map(float, middle)),
        high=tuple(map(float, high)),
        runs_out=row.runs_out,
        earliest=row.earliest,
        latest=row.latest,
        order_by=row.order_by,
        deliveries=tuple((seen.known.day + timedelta(days=int(np.median(c.arrives))), c.quantity) for c in item.coming),
    )


def _history(book: Book, seen: Outlook, material: str) -> tuple[tuple[date, float], ...]:
    since = seen.known.moment - timedelta(weeks=LOOK_BACK)
    with book.reading() as session:
        on_hand = ledger.balances(session, at=since, material=material).get(material, 0)
        moves = ledger.moves_of_material(session, material, since=since)
    by_day = {since.date(): on_hand}
    for _, move in moves:
        if move.happened <= seen.known.moment:
            on_hand += move.nano
            by_day[move.happened.date()] = on_hand
    by_day[seen.known.day] = on_hand
    return tuple((day, nano / NANO) for day, nano in sorted(by_day.items()))
