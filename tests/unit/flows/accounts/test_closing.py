from datetime import date

import pytest

from stockroom.errors import RefusedError, StockroomError, UnknownError, UsageError
from stockroom.flows.accounts import closing
from stockroom.flows.accounts.period import make_accounts
from stockroom.flows.bench import counter, tickets
from stockroom.flows.book import safekeeping
from stockroom.flows.book.opening import change_settings, open_book
from stockroom.flows.counts import settle
from stockroom.flows.posting import undo
from stockroom.margins.period import Period, period_named
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.moves import DocumentKind
from stockroom.store import catalogue, ledger
from stockroom.store.book import Book
from tests import build
from tests.unit.flows.january import CLOSING, january


def close(book: Book, period: str, now: str, key: str = "") -> closing.Closed:
    return closing.close_period(book, period_named(period), build.stamp(now, key))


def test_closing_takes_all_that_is_open_and_says_what_it_was_worth(open_shop: Book) -> None:
    january(open_shop)
    done = close(open_shop, "2026-01", "2026-02-02", "close")
    assert (done.value, done.period.last, done.fresh) == (CLOSING, date(2026, 1, 31), True)
    assert done.cautions == ("Used before its delivery was entered, at a provisional cost: LACE-BROWN.",)
    again = close(open_shop, "2026-01", "2026-02-02", "close")
    assert (again.number, again.fresh, again.value) == (done.number, False, CLOSING)
    quarter = close(open_shop, "2026-Q1", "2026-04-02")
    assert quarter.period == Period(first=date(2026, 2, 1), last=date(2026, 3, 31), closed=True)
    assert [c.through for c in closing.state_of_periods(open_shop).closings] == [date(2026, 1, 31), date(2026, 3, 31)]


@pytest.mark.parametrize(
    ("period", "now", "what"),
    [
        ("2026-01", "2026-01-31", "The period 2026-01-01 to 2026-01-31 is not over."),
        ("2025", "2026-02-02", "The book has nothing up to 2025-12-31."),
    ],
)
def test_what_is_not_over_or_before_the_book_is_refused(open_shop: Book, period: str, now: str, what: str) -> None:
    with pytest.raises(RefusedError) as caught:
        close(open_shop, period, now)
    assert caught.value.what == what


def test_closed_is_closed(open_shop: Book) -> None:
    done = close(open_shop, "2026-02", "2026-03-02")
    with pytest.raises(RefusedError, match=r"^The books are closed through 2026-02-28\.$"):
        close(open_shop, "2026-01", "2026-03-02")
    with pytest.raises(RefusedError, match=r"^The period 2026-01-05 to 2026-02-28 stays closed") as caught:
        undo.undo(open_shop, done.number, build.stamp("2026-03-03"))
    assert caught.value.fix == "Enter what was missing: it is posted in the open period, and listed there as late."


def test_method_of_costing_is_kept_once_a_period_is_closed(open_shop: Book) -> None:
    change_settings(open_shop, {"costing": "average"})
    close(open_shop, "2026-01", "2026-02-02")
    with pytest.raises(RefusedError, match=r"^Stock is costed by 'average', and a period is closed by it\.$"):
        change_settings(open_shop, {"costing": "fifo"})
    change_settings(open_shop, {"name": "Another"})


def test_undoing_closed_work_takes_it_back_in_the_open_month(open_shop: Book) -> None:
    documents = january(open_shop)
    close(open_shop, "2026-01", "2026-02-02")
    undo.undo(open_shop, documents.heels, build.stamp("2026-02-03"))
    jan, feb = (make_accounts(open_shop, period_named(p)) for p in ("2026-01", "2026-02"))
    assert [line.count for line in jan.work.lines] == [1]
    assert [line.count for line in feb.work.lines] == [-1]
    assert feb.closing == CLOSING + 581_600


def test_counted_but_unsettled_is_a_caution(open_shop: Book) -> None:
    line = CountLine(material="TIP", amount=build.amount("50 pair"), counted=build.at("2026-01-30"))
    settle.take_count(open_shop, Count(key="S1", lines=(line,)), build.stamp("2026-01-30"))
    assert close(open_shop, "2026-01", "2026-02-02").cautions == ("Counted but not settled: sheet S1.",)


def test_closed_book_survives_export_and_import(open_shop: Book, tmp_path_factory: pytest.TempPathFactory) -> None:
    january(open_shop)
    close(open_shop, "2026-01", "2026-02-02")
    place = tmp_path_factory.mktemp("moved")
    safekeeping.export_book(open_shop, place / "files")
    safekeeping.import_book(place / "files", str(place / "other.sqlite"))
    other = open_book(str(place / "other.sqlite"))
    try:
        there, here = (make_accounts(book, period_named("2026-01")) for book in (other, open_shop))
        assert there == here
        late = counter.sell(other, "POLISH", build.amount("1 piece"), build.stamp("2026-01-30", entered="2026-02-03"))
        with other.reading() as session:
            booked = ledger.read_documents(session, numbers=[late.document])[0].booked_on
        assert booked == date(2026, 2, 1)
    finally:
        other.close()


def test_accounts_of_the_journal_take_numbers_and_lose_them(open_shop: Book) -> None:
    assert closing.account_numbers(open_shop, {"stock": "1200"})["stock"] == "1200"
    assert closing.account_numbers(open_shop, {"stock": ""})["stock"] == ""
    with pytest.raises(UnknownError) as caught:
        closing.account_numbers(open_shop, {"stok": "1"})
    assert caught.value.fix == "Did you mean 'stock'?"
    with pytest.raises(UsageError):
        closing.account_numbers(open_shop, {"stock": "1" * 41})


@pytest.mark.parametrize(
    ("day", "rate", "item"), [("2026-01-31", "10", ""), ("2026-02-01", "101", ""), ("2026-02-01", "1", "X")]
)
def test_tax_rates_of_closed_days_or_of_nothing_are_refused(open_shop: Book, day: str, rate: str, item: str) -> None:
    close(open_shop, "2026-01", "2026-02-02")
    with pytest.raises(StockroomError):
        closing.dated_tax_rates(open_shop, date.fromisoformat(day), rate, item=item)
    assert closing.dated_tax_rates(open_shop) == ()


def test_closing_is_a_document_without_moves(open_shop: Book) -> None:
    done = close(open_shop, "2026-01", "2026-02-02")
    tickets.finish_at_once(open_shop, tickets.Wanted(job="HEELS"), build.stamp("2026-02-03"))
    with open_shop.reading() as session:
        document = ledger.read_documents(session, numbers=[done.number])[0]
    assert (document.kind, document.moves, document.booked_on) == (DocumentKind.PERIOD, (), date(2026, 2, 2))


def test_an_account_keeps_the_number_it_had_under_its_older_name(open_shop: Book) -> None:
    with open_shop.writing() as session:  # as an earlier version wrote it
        catalogue.save_note(session, "account:drawings", "3300")
    assert closing.account_numbers(open_shop)["owner's drawings"] == "3300"
    assert closing.account_numbers(open_shop, {"drawings": "3301"})["owner's drawings"] == "3301"
