"""The frames of the public face say what the command line says, on the same book, whichever database it is in."""

from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import stockroom
from stockroom.errors import StockroomError
from stockroom.frames.answers import PAID, REDONE
from stockroom.frames.reader import BookReader
from stockroom.frames.reference import SHAPES
from stockroom.store.book import Book
from tests.conftest import Fill
from tests.end_to_end.conftest import Copier
from tests.end_to_end.shop import MORNING, Indoors

WORK = (
    "sites --add kiosk",
    "settings 'open_hours=Tue-Sat 9:00-17:00'",
    "add service code=OIL machine=finisher 'what is done=Oil it' 'every days=9'",
    "add material code=OFF-BEND 'name=Bend offcuts' family=offcuts unit=dm2",
    "offcut BEND OFF-BEND '30 x 20 cm' --from-sheet",
    "offcut BEND OFF-BEND '2.5 dm2' --odd --from-sheet",
    "lend LACE-90-BLK '1 pair' --days 3",
    "move polish '2 piece' kiosk",
    "take-in full --size 'EU 44' --with sole=bend --promised 2026-12-01",
    "finish heel --price 11.50",
    "redo 2399",
    "sell zip '1 piece'",
    "sell polish '1 piece' --site kiosk",
    "sell lace '2 pair'",
    "undo",
    "change offer QUIL THREAD-BLK 'return weeks=8'",
    "order HIDE TOP-PIN=2 BEND=1",
    "order QUIL THREAD-BLK=2 ZIP-25=1",
    "receive O-0002 THREAD-BLK=1",
    "receive --from HIDE 'BEND=100 dm2:88.00' --at 2026-11-17",
    "write-off cement '20 ml'",
    "count ZIP-25=7 --sheet W48",
    "settle W48 --accept ZIP-25",
    "count POLISH-BLK=5 --sheet W49",
    "add event 'staff shoes' 2026-12-08 job=FULL jobs=12",
)
THEN = "2026-11-10"  # a day before all that
OUTLOOKS = {"run_outs", "forecast", "order_suggestions", "priced_orders", "year_ahead", "stock_or_delays"}
NEED_WORK = {"backtest"}  # refuses a book without a past, in plain words


@pytest.fixture(scope="session")
def worked(small: Fill) -> Fill:
    """Work a morning in the small shop: every kind of frame has something to show."""
    import shlex

    def fill(book: Book) -> None:
        small(book)
        desk = Indoors(book.place)
        for words in WORK:
            desk.says(*shlex.split(words))

    return fill


@pytest.fixture
def desk(kind: str, copied: Copier, worked: Fill) -> Indoors:
    return Indoors(copied(kind, worked))


@pytest.fixture(autouse=True)
def clock(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("STOCKROOM_NOW", MORNING)


@pytest.fixture
def book(desk: Indoors) -> Iterator[BookReader]:
    with stockroom.open(desk.place) as opened:
        yield opened


def plain(value: Any) -> Any:
    """Bring a frame's value to what JSON can say."""
    if isinstance(value, pd.Timestamp):
        return value.isoformat()[:10] if value == value.normalize() else value.isoformat()
    if isinstance(value, tuple):
        return list(value)
    if isinstance(value, Decimal | float | np.floating):
        return None if np.isnan(float(value)) else float(value)
    return None if value is pd.NaT or value is pd.NA or value == "" else value


def told(value: Any) -> Any:
    """Bring what JSON says to the same: decimals as numbers, an empty text as nothing."""
    if isinstance(value, str):
        try:
            return float(value)
        except ValueError:
            return value.removesuffix("T00:00:00") or None
    return value


def rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    return [{str(name): plain(value) for name, value in row.items()} for row in frame.reset_index().to_dict("records")]


def agree(frame: pd.DataFrame, said: list[dict[str, Any]], *names: str, texts: tuple[str, ...] = ()) -> None:
    """Hold a frame to a list of the command line, row by row and name by name."""
    assert len(frame) == len(said) > 0
    for mine, theirs in zip(rows(frame), said, strict=True):
        for name in names or theirs:
            wanted = theirs[name] or None if name in texts else told(theirs[name])
            if isinstance(wanted, float) or isinstance(mine[name], float):
                assert mine[name] == pytest.approx(wanted, rel=1e-9), (name, mine, theirs)
            else:
                assert mine[name] == wanted, (name, mine, theirs)


def test_shelf(desk: Indoors, book: BookReader) -> None:
    agree(book.shelf(), desk.facts("shelf")["rows"])
    agree(book.shelf(site="kiosk"), desk.facts("shelf", "--site", "kiosk")["rows"])
    agree(book.shelf(as_of=THEN), desk.facts("shelf", "--on", THEN)["rows"])


def test_run_outs(desk: Indoors, book: BookReader) -> None:
    agree(book.run_outs(), desk.facts("run-outs", "--all")["rows"])
    then = ("--on", THEN, "--weeks", "4", "--site", "main")
    agree(book.run_outs(as_of=THEN, weeks=4, site="main"), desk.facts("run-outs", "--all", *then)["rows"])


def test_events_ahead(desk: Indoors, book: BookReader) -> None:
    agree(book.events_ahead(), desk.facts("events-ahead"))


def test_forecast_is_what_run_outs_call_weekly_use(desk: Indoors, book: BookReader) -> None:
    frame = book.forecast(as_of=THEN)
    said = {row["material"]: float(row["weekly_use"]) for row in desk.facts("run-outs", "--all", "--on", THEN)["rows"]}
    assert frame["mean"].groupby("material").mean().to_dict() == pytest.approx(said, rel=1e-6)
    assert frame.filter(like="q").diff(axis=1).iloc[:, 1:].ge(0).all(axis=None), "quantiles never fall"
    assert (frame.index.get_level_values("week").unique().diff()[1:] == pd.Timedelta(days=7)).all()


def test_order_suggestions(desk: Indoors, book: BookReader) -> None:
    said = desk.facts("reorder", "--on", THEN)["suppliers"]
    lines = [
        line | {"order_by": each["order_by"], "expected": each["expected"]} for each in said for line in each["lines"]
    ]
    agree(book.order_suggestions(as_of=THEN), lines)


def test_orders_priced_as_changed_are_what_the_command_says(desk: Indoors, book: BookReader) -> None:
    suggested = book.order_suggestions(as_of=THEN).reset_index()
    first = str(suggested["material"].iloc[0])
    said = desk.facts("reorder", "--on", THEN, "--edit", f"{first}=0")
    frame = book.priced_orders({first: 0}, as_of=THEN)
    told = {name: float(said["worth"]["changed"][name]) for name in ("dearer", "risk", "risk_suggested")}
    assert frame.loc["changed", "dearer"] == pytest.approx(told["dearer"], abs=0.006)
    assert frame.loc["changed", "risk"] == pytest.approx(told["risk"], abs=0.006)
    assert frame.loc["suggested", "risk"] == pytest.approx(told["risk_suggested"], abs=0.006)
    assert frame.loc["changed", "goods"] == pytest.approx(sum(float(each["goods"]) for each in said["suppliers"]))
    assert first not in {line["material"] for each in said["suppliers"] for line in each["lines"]}


def test_the_year_ahead_is_what_the_command_says(desk: Indoors, book: BookReader) -> None:
    said = desk.facts("year-ahead", "--on", THEN)
    frame = book.year_ahead(as_of=THEN).reset_index()
    every = frame[frame["supplier"] == ""]
    assert every["month"].dt.strftime("%Y-%m").tolist() == [each["month"] for each in said["months"]]
    for name in ("goods", "carriage", "spend", "low", "high"):
        assert every[name].tolist() == pytest.approx([float(each[name]) for each in said["months"]], abs=0.006)
    own = frame[frame["supplier"] != ""]
    assert own.groupby("month")["spend"].sum().tolist() == pytest.approx(
        every[every["spend"] > 0]["spend"].tolist(), abs=0.006
    )
    assert float(said["whole"]["spend"]) == pytest.approx(every["spend"].sum(), abs=0.006)
    assert sum(float(each["spend"]) for each in said["suppliers"]) == pytest.approx(every["spend"].sum(), abs=0.02)
    assert (frame["low"] <= frame["high"]).all()


def test_stock_or_delays_is_what_the_command_says(desk: Indoors, book: BookReader) -> None:
    said = desk.facts("stock-or-delays", "--on", THEN)["points"]
    frame = book.stock_or_delays(as_of=THEN)
    assert frame.index.tolist() == [each["times"] for each in said]
    assert frame["cost"].tolist() == pytest.approx([float(each["cost"]) for each in said], abs=0.006)
    assert frame["held_up"].tolist() == pytest.approx([each["delayed_jobs"] for each in said], abs=0.001)


OWN = {"choices", "note", "left_out", "added", "used_so_far"}  # lists in JSON, texts in a frame


def test_tickets(desk: Indoors, book: BookReader) -> None:
    frame = book.tickets()
    said = desk.facts("tickets")
    agree(frame[frame["state"] == "booked"], said, *(said[0].keys() - OWN), texts=("ticket",))
    assert frame.loc[said[0]["ticket"], "choices"] == "sole=bend"
    assert "customer" not in frame


def test_documents(desk: Indoors, book: BookReader) -> None:
    said = desk.facts("documents", "--count", "1000")[::-1]
    agree(book.documents(), said, "document", "kind", "happened", "entered", "moves", "taken_back_by")


def test_moves_add_up_to_the_shelf(desk: Indoors, book: BookReader) -> None:
    assert len(book.moves()) == sum(each["moves"] for each in desk.facts("documents", "--count", "1000"))
    for words, asked in (
        ((), {}), (("--on", THEN), {"as_of": THEN}), (("--site", "kiosk"), {"site": "kiosk"}),
    ):  # fmt: skip
        said = {row["material"]: Decimal(row["on_hand"]) for row in desk.facts("shelf", *words)["rows"]}
        frame = book.moves(exact=True, **asked)  # type: ignore[arg-type]
        found = frame.groupby("material")["amount"].sum().reindex(list(said), fill_value=0)
        assert found.to_dict() == pytest.approx({code: float(amount) for code, amount in said.items()})
    assert frame["amount_nano"].sum() == 10**9, "one carton of two that went to the kiosk was sold there"


def test_sales(desk: Indoors, book: BookReader) -> None:
    frame = book.sales(money="decimal")
    assert frame["material"].tolist() == ["ZIP-25", "POLISH-BLK"], "what was taken back is no sale"
    assert frame["price"].tolist() == [Decimal("9.00"), Decimal("7.50")]
    kinds = {each["document"]: each["kind"] for each in desk.facts("documents", "--count", "1000")}
    assert {kinds[document] for document, _ in frame.index} == {"counter sale"}


def test_a_sale_taken_back_and_put_in_force_again_stands(desk: Indoors, book: BookReader) -> None:
    undone = next(each for each in desk.facts("documents") if each["kind"] == "reversal")
    desk.says("undo", str(undone["document"]))
    assert book.sales()["material"].tolist() == ["ZIP-25", "POLISH-BLK", "LACE-90-BLK"]


def test_a_delivery_taken_back_and_put_in_force_again_stands(desk: Indoors, book: BookReader) -> None:
    came = next(each["document"] for each in desk.facts("documents") if each["about"] == "O-0002" and each["moves"])
    there, before = book.deliveries(), book.orders()
    undone = desk.facts("undo", str(came))["document"]
    assert came not in book.deliveries().index.get_level_values("document")
    desk.says("undo", str(undone))
    pd.testing.assert_frame_equal(book.deliveries(), there)
    pd.testing.assert_frame_equal(book.orders(), before)
    assert book.orders().query("material == 'THREAD-BLK'")["outstanding"].tolist() == [300.0]


def test_orders(desk: Indoors, book: BookReader) -> None:
    said = [
        {"order": each["order"], "late_days": each["late_days"], "outstanding": line["outstanding"]["amount"]}
        | {name: each[name] for name in ("supplier", "state", "placed", "expected")}
        | {name: line[name] for name in ("material", "packs", "cost")}
        for each in sorted(desk.facts("orders"), key=lambda each: str(each["order"]))
        for line in each["lines"]
    ]
    agree(book.orders(), said)
    carriage = {each["order"]: float(each["carriage"]) for each in desk.facts("orders")}
    assert book.orders().groupby("order")["carriage"].sum().to_dict() == carriage
    assert book.orders(as_of=THEN).empty


def test_deliveries(desk: Indoors, book: BookReader) -> None:
    numbers = [each["document"] for each in desk.facts("documents") if each["kind"] == "delivery"]
    frame = book.deliveries(money="decimal")
    assert sorted(frame.index.get_level_values("document")) == sorted(numbers)
    thread, bend = (frame[frame["material"] == code].iloc[0] for code in ("THREAD-BLK", "BEND"))
    assert (thread["order"], thread["packs"], thread["amount"], thread["cost"]) == ("O-0002", 1, 300.0, Decimal(15))
    assert (bend["order"], bend["amount"], bend["cost"], bend["landed"]) == ("", 100.0, Decimal(88), Decimal(88))
    assert thread["landed"] == Decimal("21.5"), "with the carriage agreed"
    assert book.deliveries(as_of="2026-11-20")["material"].tolist() == ["BEND"]


def test_margins(desk: Indoors, book: BookReader) -> None:
    for by in ("job", "month"):
        said = desk.facts("margins", "2026", "--by", by)
        frame = book.margins("2026", by=by)
        agree(frame.loc[[PAID]], said["groups"], *(said["groups"][0].keys() - {"materials_share"}), texts=("name",))
        shares = [group["materials_share"] for group in said["groups"]]
        assert frame.loc[[PAID], "materials_share"].round(4).tolist() == shares
        agree(frame.loc[[REDONE]], said["redone"], "name", "count", "materials", texts=("name",))
    year = desk.facts("margins")
    assert book.margins().loc[[PAID], "income"].sum() == pytest.approx(sum(float(g["income"]) for g in year["groups"]))


def test_the_bench(desk: Indoors, book: BookReader) -> None:
    desk.says("take-in", "heel", "--number", "7001", "--promised", "2026-12-01")
    desk.says("pause", "7001", "--minutes", "14")
    desk.says("finish", "7001")
    said = desk.facts("job-minutes")
    frame = book.job_minutes().reset_index()
    assert frame[["job", "tickets"]].to_numpy().tolist() == [[each["job"], each["tickets"]] for each in said]
    assert (said[0]["job"], said[0]["mean"], frame["mean"].iloc[0]) == (frame["job"].iloc[0], 14.0, 14)
    days = desk.facts("bench-load")["days"]
    ahead = book.bench_load().reset_index()
    assert [f"{day:%Y-%m-%d}" for day in ahead["day"]] == [each["day"] for each in days]
    for name in ("open_minutes", "promised_minutes", "free_minutes"):
        assert ahead[name].tolist() == [round(each[name]) for each in days]
    (due,) = desk.facts("services")
    (row,) = book.services().reset_index().to_dict("records")
    assert {name: row[name] for name in ("service", "machine", "what", "days", "due")} == {
        name: due[name] for name in ("service", "machine", "what", "days", "due")
    }


def test_cost_layers(desk: Indoors, book: BookReader, tmp_path: Path) -> None:
    for day in (THEN, MORNING[:10]):
        said = desk.facts("stock-list", str(tmp_path / f"{day}.html"), "--on", day)
        frame = book.cost_layers(as_of=day, money="decimal")
        assert sum(frame["value"]) == Decimal(said["value"])
        assert frame.index.get_level_values("material").nunique() == said["lines"]


def test_counts_and_record_accuracy(desk: Indoors, book: BookReader) -> None:
    said = desk.facts("count-report")["accuracy"]
    accuracy, counts = book.record_accuracy(), book.counts()
    agree(accuracy, said, "period", "bins", "right", "share")
    assert (accuracy["net"] * 100).round().tolist() == [each["net_minor_units"] for each in said]
    assert accuracy["bins"].sum() == counts["state"].eq("settled").sum()
    zips = counts[counts["material"] == "ZIP-25"].iloc[0]
    assert (zips["amount"], zips["difference"], zips["state"]) == (7.0, 3.0, "settled")
    assert desk.facts("differences") == counts.loc[counts["state"] == "open", "sheet"].value_counts().to_dict()


def test_offcuts_and_what_is_lent(desk: Indoors, book: BookReader) -> None:
    said, frame = desk.facts("offcuts"), book.offcuts()
    assert [each["sides_mm"] for each in said] == [[300.0, 200.0], None]
    assert frame["long_mm"].tolist()[0] == 300
    agree(frame.reset_index(), said, "number", "sheet", "amount", "unit", texts=("sheet", "unit"))
    assert book.offcuts(as_of=THEN).empty
    (lent,) = desk.facts("lent")
    (row,) = book.lent().reset_index().to_dict("records")
    assert (row["document"], row["material"], row["amount"]) == (lent["document"], "LACE-90-BLK", float(lent["amount"]))
    assert str(row["due"].date()) == lent["due"]


def test_lessons(desk: Indoors, book: BookReader) -> None:
    said = desk.facts("lessons", "--all")["proposals"]
    names = ("job", "line", "materials", "recipe", "estimate", "low", "high", "uses", "counts", "verdict", "words")
    agree(book.lessons(), said, *names)
    assert (book.lessons()["extra_a_year"] * 100).tolist() == pytest.approx(
        [each["extra_minor_units_a_year"] for each in said]
    )


def test_may_go_back(desk: Indoors, book: BookReader) -> None:
    names = ("delivery", "supplier", "material", "amount", "unit", "credit", "came", "until", "on_approval")
    agree(book.may_go_back(), desk.facts("may-go-back"), *names)


def test_back_test(desk: Indoors, book: BookReader) -> None:
    said, frame = desk.facts("back-test", "--weeks", "4"), book.backtest(weeks=4)
    for way in said["ways"]:
        mine = frame.loc[way["name"]]
        assert [str(week.date()) for week in mine.index] == said["weeks"]
        assert mine["held_up"].tolist() == way["held_up_by_week"]
        assert mine["stock_value"].round(2).tolist() == [float(value) for value in way["stock_value_by_week"]]
        assert mine["annual_cost"].round(2).tolist() == [float(way["annual_cost"])] * 4
    assert frame.loc["As it happened"]["held_up"].tolist() == said["real"]["late_by_week"]


def asked(book: BookReader, name: str, **words: Any) -> pd.DataFrame:
    frame: pd.DataFrame = getattr(book, name)(**words)
    return frame


def test_an_empty_book_gives_empty_frames_of_the_same_columns(empty: Indoors, book: BookReader) -> None:
    with stockroom.open(empty.place) as nothing:
        for name in SHAPES.keys() - NEED_WORK:
            for words in ({}, {"exact": True, "money": "decimal"}):
                bare, full = asked(nothing, name, **words), asked(book, name, **words)
                assert len(bare) == 0 < len(full), name
                assert bare.dtypes.to_dict() == full.dtypes.to_dict(), name
                assert bare.index.names == full.index.names, name
                assert bare.index.to_frame().dtypes.to_dict() == full.index.to_frame().dtypes.to_dict(), name
        with pytest.raises(StockroomError):
            nothing.backtest()


def test_nothing_of_the_face_writes_the_book(desk: Indoors, book: BookReader) -> None:
    """Not even what the commands keep of long sums: every frame asked for, the book is as it was, to the last byte."""
    desk.figure()
    before = desk.content()
    for name in SHAPES:
        assert len(asked(book, name, **({"weeks": 4} if name in NEED_WORK else {})))
    assert desk.content() == before
    with pytest.raises(StockroomError, match="read only"), book._open.writing():
        pass
    with pytest.raises(Exception, match="can't be written"), book._open.reading() as session:
        session.exec_driver_sql("DELETE FROM month_total")
    book.close()
    assert desk.content() == before


def test_an_unknown_site_is_refused_in_plain_words(book: BookReader) -> None:
    with pytest.raises(StockroomError, match="There is no site 'koisk'") as refused:
        book.shelf(site="koisk")
    assert "kiosk" in refused.value.fix
