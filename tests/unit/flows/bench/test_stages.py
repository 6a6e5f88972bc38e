"""Work in stages: what was used so far has left the shelf, the rest is still reserved, and giving up says what becomes of it."""

import pytest

from stockroom.errors import RefusedError, UsageError
from stockroom.flows.bench import stages
from stockroom.flows.bench import tickets as bench
from stockroom.flows.bench.shelf import shelf_rows
from stockroom.flows.bench.stages import Used
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.posting import undo
from stockroom.stock.postings import Actual
from stockroom.stock.tickets import TicketState
from stockroom.store import tickets
from stockroom.store.book import Book
from tests import build

PAIR = Wanted(job="resole", size=build.size("EU 42"), chosen={"sole": "rubber"})


def taken(book: Book, wanted: Wanted = PAIR) -> str:
    return bench.take_in(book, wanted, build.stamp("2026-01-06")).number


def use(book: Book, number: str, *lines: str, **facts: object) -> stages.DrawnWork:
    return stages.use_so_far(book, number, Used(lines=lines, **facts), build.stamp("2026-01-07"))  # type: ignore[arg-type]


def row(book: Book, code: str) -> tuple[int, int]:
    found = next(row for row in shelf_rows(book) if row.material == code)
    return found.on_hand, found.set_aside


def test_a_line_used_leaves_the_shelf_and_the_finish_draws_the_rest(open_shop: Book) -> None:
    number = taken(open_shop)
    start, aside = row(open_shop, "SOLE-L")
    use(open_shop, number, "rubber sole")
    assert row(open_shop, "SOLE-L") == (start - aside, 0)
    done = bench.finish_ticket(open_shop, number, build.stamp("2026-01-08"))
    assert "rubber sole" not in {need.line for need in done.used}
    assert row(open_shop, "SOLE-L") == (start - aside, 0)


def test_a_part_of_a_line_leaves_the_rest_reserved(open_shop: Book) -> None:
    number = taken(open_shop)
    use(open_shop, number, actual=Actual(amounts={"filler": build.amount("12 g")}))
    assert row(open_shop, "FILLER")[1] == build.nano("18 g")
    use(open_shop, number, actual=Actual(amounts={"filler": build.amount("25 g")}))
    assert row(open_shop, "FILLER")[1] == 0, "more than the recipe says leaves nothing to come, not less than nothing"
    done = bench.finish_ticket(open_shop, number, build.stamp("2026-01-08"))
    assert "filler" not in {need.line for need in done.used}


def test_another_material_stands_for_the_whole_line(open_shop: Book) -> None:
    number = taken(open_shop)
    used = use(open_shop, number, actual=Actual(instead={"rubber sole": "SOLE-S"}))
    assert used.changed == ("rubber sole: 1 pair SOLE-S instead of 1 pair SOLE-L",)
    assert row(open_shop, "SOLE-L")[1] == 0


def test_pairs_of_one_ticket_are_done_at_different_times(open_shop: Book) -> None:
    number = taken(open_shop, Wanted(job="HEELS", shoes=6, chosen={"hold": "glued"}))
    first = use(open_shop, number, shoes=2)
    assert {need.line: need.nano for need in first.used} == {"tips": build.nano("1 pair"), "glue": build.nano("4 ml")}
    use(open_shop, number, shoes=2)
    last = bench.finish_ticket(open_shop, number, build.stamp("2026-01-08"))
    assert {need.line: need.nano for need in last.used} == {"tips": build.nano("1 pair"), "glue": build.nano("4 ml")}


def test_giving_up_half_way_brings_some_back_and_wastes_the_rest(open_shop: Book) -> None:
    number = taken(open_shop)
    sole, filler = row(open_shop, "SOLE-L")[0], row(open_shop, "FILLER")[0]
    use(open_shop, number, "rubber sole", "filler")
    with pytest.raises(RefusedError, match=r"has used: filler, rubber sole"):
        bench.cancel_ticket(open_shop, number, build.stamp("2026-01-08"))
    with pytest.raises(RefusedError, match="has used no 'cement'"):
        bench.cancel_ticket(open_shop, number, build.stamp("2026-01-08"), back=["cement"], wasted=True)
    gone = bench.cancel_ticket(open_shop, number, build.stamp("2026-01-08"), back=["rubber sole"], wasted=True)
    assert gone.state is TicketState.CANCELLED
    assert row(open_shop, "SOLE-L") == (sole, 0)
    assert row(open_shop, "FILLER") == (filler - build.nano("30 g"), 0)
    undo.undo(open_shop, build.last(open_shop), build.stamp("2026-01-09"))
    assert row(open_shop, "SOLE-L")[0] == sole - build.nano("1 pair")


def test_uses_are_undone_before_what_rests_on_them(open_shop: Book) -> None:
    number = taken(open_shop)
    used = use(open_shop, number, "filler")
    done = bench.finish_ticket(open_shop, number, build.stamp("2026-01-08"))
    with pytest.raises(RefusedError, match="is finished by another document"):
        undo.undo(open_shop, used.document, build.stamp("2026-01-09"))
    undone = undo.undo(open_shop, done.document, build.stamp("2026-01-09"))
    undo.undo(open_shop, used.document, build.stamp("2026-01-09"))
    with open_shop.reading() as session:
        assert tickets.the_ticket(session, number).drawn == ()
    with pytest.raises(RefusedError, match="Something else was used"):
        undo.undo(open_shop, undone.number, build.stamp("2026-01-09"))


def test_what_makes_no_sense_is_refused(open_shop: Book) -> None:
    number = taken(open_shop)
    with pytest.raises(UsageError, match="What was used so far"):
        use(open_shop, number)
    with pytest.raises(RefusedError, match="takes no 'laces'"):
        use(open_shop, number, "laces")
    with pytest.raises(UsageError, match="is for 2 shoes"):
        use(open_shop, number, shoes=2)
    use(open_shop, number, "filler")
    with pytest.raises(RefusedError, match="'filler' was used already"):
        use(open_shop, number, "filler")
