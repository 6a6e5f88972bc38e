from stockroom.flows.bench import counter
from stockroom.flows.book.opening import add_site
from stockroom.flows.counts.choose import next_bins
from stockroom.flows.counts.settle import settle_count, take_count
from stockroom.stock.counts import Count
from stockroom.store.book import Book
from tests import build

NOW = build.at("2026-03-31")


def test_bins_below_zero_in_the_book_are_counted_first_and_the_time_is_kept(open_shop: Book) -> None:
    counter.write_off(open_shop, "THREAD", build.amount("500 m"), build.stamp("2026-01-12", sure=True))
    first, *others = next_bins(open_shop, NOW, minutes=5)
    assert first.material.code == "THREAD"
    assert first.words.startswith("The book is below zero: something is missing from it. Never counted")
    assert others
    assert sum(each.minutes for each in (first, *others)) <= 5
    assert len(next_bins(open_shop, NOW, bins=2)) == 2


def test_a_bin_whose_book_is_nothing_is_not_said_to_be_below_it(open_shop: Book) -> None:
    """What counts teach may put the belief below nothing; the owner reads the book, and there it stands at 0."""
    for week, found in enumerate((40, 30, 20, 10, 0)):
        day = f"2026-02-{1 + 5 * week:02}"
        take_count(open_shop, Count(key=day, lines=(build.counted("TIP", f"{found} pair", day),)), build.stamp(day))
        settle_count(open_shop, day, build.stamp(day), confirmed=True)
    chosen = {each.material.code: each.words for each in next_bins(open_shop, NOW, bins=99)}
    assert "below zero" not in chosen["TIP"]
    counter.write_off(open_shop, "TIP", build.amount("1 pair"), build.stamp("2026-03-01", sure=True))
    first = next_bins(open_shop, NOW, bins=1)[0]
    assert (first.material.code, "below zero" in first.words) == ("TIP", True)


def test_a_site_is_told_to_count_what_lies_there(open_shop: Book) -> None:
    add_site(open_shop, "stall")
    counter.transfer(open_shop, "TIP", build.amount("6 pair"), build.stamp("2026-01-12"), to_site="stall")
    assert [each.material.code for each in next_bins(open_shop, NOW, site="stall")] == ["TIP"]
    assert len(next_bins(open_shop, NOW, site="main")) > 1
    line = build.counted("TIP", "6 pair", "2026-03-30", site="stall")
    take_count(open_shop, Count(key="S", lines=(line,)), build.stamp("2026-03-30"))
    settle_count(open_shop, "S", build.stamp("2026-03-30"))
    here, there = (
        next(each for each in next_bins(open_shop, NOW, site=site) if each.material.code == "TIP")
        for site in ("main", "stall")
    )
    assert here.last_counted is None
    assert there.last_counted == build.at("2026-03-30")
