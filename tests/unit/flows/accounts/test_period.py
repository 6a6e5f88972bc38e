"""A worked month through the flows, against figures worked out by hand; and what a closed one may not be moved by."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import pandas as pd
import pytest

from stockroom.errors import BookError
from stockroom.flows.accounts import closing
from stockroom.flows.accounts.period import against_before, make_accounts, write_workbook
from stockroom.flows.bench import counter, tickets
from stockroom.flows.book.opening import change_settings
from stockroom.flows.posting.price_corrections import correct_price
from stockroom.margins.accounts import Accounts
from stockroom.margins.period import period_named
from stockroom.show.accounts_csv import csv_files
from stockroom.store import catalogue
from stockroom.store.book import Book
from tests import build
from tests.unit.flows.january import BOUGHT, CLOSING, OPENED, SOLD, USED, WASTED, deliver, january

JAN, FEB = period_named("2026-01"), period_named("2026-02")


def flows(made: Accounts) -> dict[str, int]:
    """Sum the columns of the summary, thousandths of the minor unit."""
    sums: dict[str, int] = {}
    for roll in made.rolls:
        for name, (_, value) in roll.flows.items():
            sums[name] = sums.get(name, 0) + value
    return {name: value for name, value in sums.items() if value}


def close(book: Book, period: str = "2026-01", now: str = "2026-02-02") -> closing.Closed:
    return closing.close_period(book, period_named(period), build.stamp(now))


def test_worked_month_comes_to_the_figures_made_by_hand(open_shop: Book) -> None:
    january(open_shop)
    made = make_accounts(open_shop, JAN)
    assert flows(made) == {
        "opening stock entered": OPENED,
        "purchases": BOUGHT,
        "waste": WASTED,
        "used on jobs": USED,
        "cost of goods sold": SOLD,
    }
    assert (made.opening, made.closing) == (0, CLOSING)
    (job,) = made.margins
    assert (job.income, job.materials) == (5_950_000, -USED)  # 72.00 with 21 % in it: 12.4958… is tax
    assert {v.material.code: v.waiting for v in made.valued if v.waiting} == {"LACE-BROWN": -400_000}
    assert [w.reason for w in made.write_offs] == ["rusted"]


def test_what_comes_too_late_is_booked_and_listed_in_the_open_month(open_shop: Book) -> None:
    """Twelve pairs for 420 (35 each): five were sold at 80 provisionally, so 5 x 45 comes back."""
    january(open_shop)
    close(open_shop)
    late = deliver(open_shop, "LACE-BROWN", "12 pair", 420, "2026-01-25", entered="2026-02-03")
    made = make_accounts(open_shop, FEB)
    assert flows(made) == {"purchases": 420_000, "cost of goods sold": 225_000}
    assert (made.opening, made.closing) == (CLOSING, CLOSING + 645_000)
    assert [document.id for document in made.late] == [late]
    brown = next(v for v in made.valued if v.material.code == "LACE-BROWN")
    assert (brown.nano, brown.value) == (build.nano("7 pair"), 245_000)
    assert [d.id for d in closing.state_of_periods(open_shop).late] == [late]


def test_corrected_price_and_a_named_return_fall_in_the_open_month(open_shop: Book) -> None:
    """40 pairs cost 4800, not 4000: 39 lie on the shelf, one was used (20 each). Four go back at 130, for 500."""
    documents = january(open_shop)
    close(open_shop)
    correct_price(open_shop, documents.tips, {"tip": 4800}, build.stamp("2026-02-05"))
    assert flows(make_accounts(open_shop, FEB)) == {"purchases": 800_000, "used on jobs": -20_000}
    four, facts = build.amount("4 pair"), {"supplier": "north", "credit": 500}
    counter.send_back(open_shop, "TIP", four, build.stamp("2026-02-06"), delivery=documents.tips, **facts)  # type: ignore[arg-type]
    assert flows(make_accounts(open_shop, FEB)) == {
        "purchases": 800_000,
        "used on jobs": -20_000,
        "returned to suppliers": -500_000,
        "price differences": -20_000,
    }


def test_closed_month_comes_out_the_same_whatever_changes_later(open_shop: Book) -> None:
    january(open_shop)
    close(open_shop)
    before = csv_files(make_accounts(open_shop, JAN))
    deliver(open_shop, "LACE-BROWN", "12 pair", 420, "2026-01-25", entered="2026-02-03")
    counter.write_off(open_shop, "BEND", build.amount("3 dm2"), build.stamp("2026-01-30", entered="2026-02-03"))
    change_settings(open_shop, {"tax_rate": "10", "name": "Another", "margin_floor": "90", "locale": "de_DE"})
    closing.account_numbers(open_shop, {"stock": "1200"})
    with open_shop.writing() as session:
        renamed = [
            replace(m, name="Renamed", family="other", place="", usual_cost=9999, sell_price=1)
            for m in build.materials()
        ]
        catalogue.save_materials(session, renamed)
        catalogue.save_jobs(session, [replace(job, name="Other", bench_minutes=99) for job in build.jobs()])
    assert csv_files(make_accounts(open_shop, JAN)) == before
    made = make_accounts(open_shop, FEB)
    assert made.opening == CLOSING
    assert {v.material.name for v in made.valued} == {"Renamed"}


def test_usual_cost_of_what_was_never_closed_may_still_be_mended(open_shop: Book) -> None:
    close(open_shop, "2026-01")
    with open_shop.writing() as session:
        newer = [build.material("NEW", usual_cost=300), replace(build.materials()[0], usual_cost=99)]
        catalogue.save_materials(session, newer)
    counter.write_off(open_shop, "NEW", build.amount("1 piece"), build.stamp("2026-02-03", sure=True))
    counter.write_off(open_shop, "BEND", build.amount("1 dm2"), build.stamp("2026-02-03"))
    found = {w.material: w.value for w in make_accounts(open_shop, FEB).write_offs}
    assert found == {"NEW": -300_000, "BEND": -55_000}


def test_redone_work_and_work_taken_back_stand_apart(open_shop: Book) -> None:
    documents = january(open_shop)
    tickets.redo_ticket(open_shop, documents.ticket, build.stamp("2026-01-22"))
    made = make_accounts(open_shop, JAN)
    assert [line.redo for line in made.work.lines] == [False, True]
    assert made.margins[0].count == 1
    assert flows(made)["guarantee work"] == -(6 * 110_000 + 21_600)


def test_tax_rate_changes_on_its_day_only(open_shop: Book) -> None:
    closing.dated_tax_rates(open_shop, date(2026, 1, 20), "10")
    closing.dated_tax_rates(open_shop, date(2026, 1, 20), "0", item="LACES")
    for day in ("2026-01-19 10:00", "2026-01-20 10:00"):
        for job in ("HEELS", "LACES"):
            chosen = {"colour": "black"} if job == "LACES" else {}
            wanted = tickets.Wanted(job=job, price=1210, chosen=chosen)
            tickets.finish_at_once(open_shop, wanted, build.stamp(day))
    lines = make_accounts(open_shop, JAN).work.lines
    assert sorted((line.day.day, line.job, line.net) for line in lines) == [
        (19, "HEELS", 1000),
        (19, "LACES", 1000),
        (20, "HEELS", 1100),
        (20, "LACES", 1210),
    ]


def test_shops_account_numbers_and_write_down_settings_are_used(open_shop: Book) -> None:
    january(open_shop)
    closing.account_numbers(open_shop, {"stock": "1200", "waste and expiry": "5300"})
    change_settings(open_shop, {"idle_days": "20", "idle_keeps": "25"})
    made = make_accounts(open_shop, JAN)
    assert {"1200", "5300", "cost of goods sold"} <= {line.account for line in made.journal}
    bend = next(w for w in made.write_downs if w.valued.material.code == "BEND")
    assert (bend.cost, bend.realisable) == (9_900_000, 2_475_000)


def test_value_that_no_longer_comes_out_is_said_not_shown(open_shop: Book, monkeypatch: pytest.MonkeyPatch) -> None:
    close(open_shop)
    monkeypatch.setattr(
        "stockroom.flows.accounts.period._priced_as", lambda *_: {"BEND": build.material("BEND", "dm2")}
    )
    with pytest.raises(BookError, match=r"^The stock closed on 2026-01-31 no longer comes to the value"):
        make_accounts(open_shop, JAN)


def test_files_for_the_accountant_agree_with_the_ledger(open_shop: Book, tmp_path: Path) -> None:
    january(open_shop)
    made, written = write_workbook(open_shop, JAN, tmp_path / "into", against=against_before(open_shop, JAN))
    assert made.moved is None  # nothing was in the book in December
    names = [path.name for path in written]
    assert names[:2] == ["accounts-2026-01-01-to-2026-01-31.xlsx", "journal-2026-01-01-to-2026-01-31.csv"]
    journal = pd.read_csv(written[1], dtype=str).fillna("0")
    stock = journal[journal["Account"] == "stock"]
    assert sum(map(Decimal, stock["Debit"])) - sum(map(Decimal, stock["Credit"])) == Decimal("383.58")
    assert sum(map(Decimal, journal["Debit"])) == sum(map(Decimal, journal["Credit"]))
    again, _ = write_workbook(open_shop, FEB, tmp_path / "into", against=against_before(open_shop, FEB))
    assert again.moved is not None
    assert (again.moved.before, again.moved.after) == (made.work.lines[0].margin, 0)
