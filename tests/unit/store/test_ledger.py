import random
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import pytest
import sqlalchemy as sa

from stockroom.errors import UsageError
from stockroom.stock.moves import DocumentKind, MoveKind
from stockroom.store import integrity, ledger
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker


def fill(book: Book, count: int = 60) -> list[tuple[str, str, datetime, int]]:
    """Post documents of random moves over three months; gives what they moved."""
    rng = random.Random(7)
    start, moved, documents = build.at("2026-01-31 22:00"), [], []
    for n in range(count):
        moves = []
        for _ in range(rng.randint(0, 4)):
            when = start + timedelta(minutes=rng.randint(-50_000, 50_000))
            code, site, nano = (
                rng.choice(["TIP", "BEND", "CEMENT"]),
                rng.choice(["main", "second"]),
                rng.randint(-(10**12), 10**12),
            )
            moves.append(
                build.move(code, "1 g", kind=rng.choice(list(MoveKind)))._replace(nano=nano, site=site, happened=when)
            )
            moved.append((code, site, when, nano))
        documents.append(build.document(*moves, key=f"document-{n}"))
    with book.writing() as session:
        ledger.append(session, documents)
    return moved


def test_balances_are_the_sums_of_moves_at_any_moment_and_site(shop: Book) -> None:
    moved = fill(shop)
    moments: list[datetime | date | None] = [None, build.at("2025-12-01"), date(2026, 1, 31), date(2026, 2, 28)]
    moments += [when for _, _, when, _ in moved[::7]]
    with shop.reading() as session:
        for at in moments:
            end = at if isinstance(at, datetime) or at is None else datetime.combine(at, datetime.max.time())
            for site in (None, "main", "second"):
                wanted: dict[str, int] = {}
                for code, place, when, nano in moved:
                    if site in (None, place) and (end is None or when <= end):
                        wanted[code] = wanted.get(code, 0) + nano
                found = ledger.balances(session, at=at, site=site)
                assert {c: n for c, n in found.items() if n} == {c: n for c, n in wanted.items() if n}
                one = ledger.balances(session, at=at, site=site, material="TIP")
                assert one.get("TIP", 0) == wanted.get("TIP", 0)
                if site and isinstance(at, datetime):
                    assert ledger.bin_balance(session, "TIP", site, at) == wanted.get("TIP", 0)


def test_the_month_totals_are_the_sums_of_the_months_moves(shop: Book) -> None:
    fill(shop)
    summed = sa.text(
        "SELECT site, material, substr(happened, 1, 7) AS month, sum(nano) AS nano FROM move GROUP BY 1, 2, 3 ORDER BY 1, 2, 3"
    )
    kept = sa.text("SELECT site, material, month, nano FROM month_total ORDER BY 1, 2, 3")
    with shop.reading() as session:
        assert [tuple(r) for r in session.execute(kept)] == [tuple(r) for r in session.execute(summed)]


def test_a_document_reads_back_as_it_was_written(shop: Book) -> None:
    moves = (
        build.move(
            "CEMENT",
            "2.5 l",
            "2026-02-28 23:59",
            kind=MoveKind.DELIVERY,
            value=-(10**14),
            lot="7/β",
            expiry=date(2027, 2, 28),
        ),
        build.move("TIP", "-1 piece", kind=MoveKind.JOB_USE, recipe_line="tips", ticket="1001", site="second"),
    )
    document = build.document(
        *moves, key="k", kind=DocumentKind.DELIVERY, subject="O-0001", who="Ada", note="two 'quoted' \"words\"; ü\n",
        site="second", content={"lines": [{"cost": 5, "code": "é"}], "carriage": 0}, booked_on=date(2026, 3, 1),
    )  # fmt: skip
    with shop.writing() as session:
        [number] = ledger.append(session, [document])
    with shop.reading() as session:
        assert ledger.read_documents(session, numbers=[number]) == [replace(document, id=number)]
        assert ledger.read_documents(session, subject="O-0001", kinds=[DocumentKind.DELIVERY]) == [
            replace(document, id=number)
        ]
        assert ledger.known_keys(session, ["k", "other"]) == {"k": number}
        assert ledger.newest_documents(session, 5)[0].id == number


def test_moments_are_kept_to_the_second_and_without_zone(shop: Book) -> None:
    moment = build.at("2026-01-05").astimezone()

    def write() -> None:
        with shop.writing() as session:
            ledger.append(session, [replace(build.document(), happened=moment)])

    with pytest.raises(ValueError, match="has a time zone"):
        write()


@pytest.mark.parametrize("nano", [1.0, True])
def test_an_amount_that_would_be_rounded_or_cut_is_refused(shop: Book, nano: object) -> None:
    def write() -> None:
        with shop.writing() as session:
            ledger.append(session, [build.document(build.move("TIP", "1 piece")._replace(nano=nano))])  # type: ignore[arg-type]

    with pytest.raises((ValueError, sa.exc.StatementError), match="is not a whole number of at most 63 bits"):
        write()


@pytest.mark.parametrize(
    ("facts", "fault"),
    [
        ({"nano": 10**16 + 1}, "TIP is more than a book holds."),
        ({"nano": -(2**63)}, "TIP is more than a book holds."),
        ({"value": 10**14 + 1000}, "TIP is more than a book holds."),
        ({"happened": datetime(9999, 12, 31)}, "TIP can't be on 9999-12-31."),
        ({"happened": datetime(1, 1, 1)}, "TIP can't be on 0001-01-01."),
        ({"expiry": date(2200, 1, 1)}, "TIP can't be on 2200-01-01."),
    ],
)
def test_what_no_book_holds_is_refused_where_a_document_is_made(shop: Book, facts: dict[str, Any], fault: str) -> None:
    def write() -> None:
        with shop.writing() as session:
            ledger.append(session, [build.document(build.move("TIP", "1 piece")._replace(**facts))])

    with pytest.raises(UsageError) as caught:
        write()
    assert caught.value.what == fault


def test_large_lines_add_up_to_no_more_than_a_book_holds(shop: Book) -> None:
    large = build.move("TIP", "1 piece")._replace(nano=10**16)

    def write(lines: int) -> None:
        with shop.writing() as session:
            ledger.append(session, [build.document(*[large] * lines)])

    write(60)
    with pytest.raises(UsageError, match="Of TIP there would be more than a book holds"):
        write(60)
    with shop.reading() as session:
        assert ledger.balances(session)["TIP"] == 60 * 10**16
        assert integrity.audit(session).faults == ()


def test_numbers_that_no_document_has_are_looked_for_in_vain(shop: Book) -> None:
    with shop.reading() as session:
        for number in (3_000_000_000, 2**63, 10**30, 0, -1):
            assert ledger.read_documents(session, numbers=[number]) == []
            assert ledger.reversal_of(session, number) is None


def test_a_known_key_or_a_second_reversal_is_refused_by_the_database(open_shop: Book) -> None:
    back = build.document(kind=DocumentKind.REVERSAL, reverses=1)

    def write(*documents: object) -> None:
        with open_shop.writing() as session:
            ledger.append(session, documents)  # type: ignore[arg-type]

    for documents in ([build.document(key="opening")], [back, replace(back, key="again")]):
        with pytest.raises(sa.exc.IntegrityError):
            write(*documents)


# -- the chain --------------------------------------------------------------------------------------------------------

EDITS = {
    "an amount": "UPDATE move SET nano = nano + 1 WHERE document = 3",
    "a material": "UPDATE move SET material = 'BEND' WHERE document = 3",
    "a moment": "UPDATE move SET happened = '2026-01-05T12:00:01' WHERE document = 3",
    "a value": "UPDATE move SET value = 1 WHERE document = 3",
    "a lot": "UPDATE move SET lot = 'x' WHERE document = 3",
    "a kind": "UPDATE move SET kind = 'waste' WHERE document = 3",
    "a key": "UPDATE document SET key = 'x' WHERE id = 3",
    "a subject": "UPDATE document SET subject = 'x' WHERE id = 3",
    "an accounting day": "UPDATE document SET booked_on = '2026-03-01' WHERE id = 3",
    "a name": "UPDATE document SET who = 'x' WHERE id = 3",
    "a note": "UPDATE document SET note = 'x' WHERE id = 3",
    "the content": "UPDATE document SET content = '{}' WHERE id = 3",
    "a figure": "UPDATE document SET chain = 'x' WHERE id = 3",
    "a move left out": "DELETE FROM move WHERE document = 3 AND line = 1",
    "a move put in": "INSERT INTO move VALUES (3, 9, 'TIP', 5, 'waste', '2026-01-05T12:00:00', 'main', NULL, '', '', '', '')",
}


def unguarded(book: Book, change: str) -> None:
    """Change the tables as someone with the file or the server in hand can."""
    with book.writing() as session:
        if book.on_server:
            for table in ("move", "document"):
                session.execute(sa.text(f"ALTER TABLE {table} DISABLE TRIGGER USER"))
        else:
            names = session.execute(sa.text("SELECT name FROM sqlite_master WHERE type = 'trigger'")).scalars().all()
            for name in names:
                session.execute(sa.text(f"DROP TRIGGER {name}"))
        session.execute(sa.text(change))


def three_documents(book: Book) -> str:
    with book.writing() as session:
        for n in range(2, 4):
            moves = (build.move("TIP", f"{n} piece"), build.move("CEMENT", f"-{n} ml"))
            ledger.append(session, [build.document(*moves, key=f"document-{n}")])
        return ledger.head(session)[1]


def test_a_true_book_checks_clean_and_gives_its_figure(open_shop: Book) -> None:
    figure = three_documents(open_shop)
    with open_shop.reading() as session:
        found = integrity.audit(session)
    assert (found.documents, found.moves, found.figure, found.faults) == (4, 15, figure, ())


@pytest.mark.parametrize("edit", EDITS.values(), ids=EDITS)
def test_an_edit_behind_the_books_back_is_found_and_the_document_named(file_shop: Book, edit: str) -> None:
    three_documents(file_shop)
    unguarded(file_shop, edit)
    with file_shop.reading() as session:
        faults = integrity.audit(session).faults
    assert faults[0] == "Document 3 was changed, or one before it: its check figure does not fit."


def test_an_edit_on_a_server_is_found_too(server_books: Maker) -> None:
    book = build.opened(server_books())
    three_documents(book)
    unguarded(book, EDITS["an amount"])
    with book.reading() as session:
        assert integrity.audit(session).faults[0].startswith("Document 3 was changed")


def test_a_document_taken_out_is_missed(open_shop: Book) -> None:
    three_documents(open_shop)
    unguarded(open_shop, "DELETE FROM move WHERE document = 3")
    with open_shop.writing() as session:
        session.execute(sa.text("DELETE FROM document WHERE id = 3"))
    with open_shop.reading() as session:
        assert "Document 3 is missing." in integrity.audit(session).faults


def test_a_month_total_that_was_touched_is_found(open_shop: Book) -> None:
    with open_shop.writing() as session:
        session.execute(sa.text("UPDATE month_total SET nano = nano + 1 WHERE material = 'TIP'"))
    with open_shop.reading() as session:
        assert integrity.audit(session).faults == (
            "The month's total of TIP at main in 2026-01 does not fit its moves.",
        )
