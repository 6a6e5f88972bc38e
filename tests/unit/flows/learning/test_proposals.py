from datetime import datetime, timedelta
from fractions import Fraction

import pytest

from stockroom.counting.lessons import LessonAdvice
from stockroom.errors import RefusedError, UnknownError
from stockroom.flows.bench import tickets
from stockroom.flows.bench.tickets import Wanted
from stockroom.flows.counts import settle
from stockroom.flows.learning import proposals
from stockroom.flows.learning.lessons import LineKey, read_diaries, teach
from stockroom.flows.learning.proposals import card_unit, family_name
from stockroom.stock.counts import Count, CountLine
from stockroom.stock.moves import DocumentKind
from stockroom.stock.recipes import RecipeLine
from stockroom.store import catalogue
from stockroom.store.book import Book
from tests import build
from tests.conftest import Maker

START = build.at("2026-01-06 09:00")
WEEK = timedelta(weeks=1)
NOW = START + 30 * WEEK
TRUE = {"FILLER": 1.25, "LACE-BLACK": 1.0, "LACE-BROWN": 1.0}


@pytest.fixture
def busy(books: Maker) -> Book:
    """Thirty weeks: resoles take a quarter more filler than their card says; laces are what they are."""
    return books(_fill)


def _fill(book: Book) -> None:
    build.opened(book)
    found = {"FILLER": 2400.0, "LACE-BLACK": 40.0, "LACE-BROWN": 30.0}
    for week in range(30):
        at = START + week * WEEK
        for n in range(1 + week % 3):
            work(book, "RESOLE", at + timedelta(hours=n), size="EU 42", chosen={"sole": "rubber"})
            found["FILLER"] -= 30 * TRUE["FILLER"]
        if week % 2:
            colour = "black" if week % 4 == 1 else "brown"
            work(book, "LACES", at + timedelta(hours=5), chosen={"colour": colour})
            found[f"LACE-{colour.upper()}"] -= 2
        take(book, at + timedelta(days=4), found)


def work(book: Book, job: str, at: datetime, *, size: str = "", chosen: dict[str, str]) -> None:
    wanted = Wanted(job=job, size=build.size(size) if size else None, chosen=chosen)
    tickets.finish_at_once(book, wanted, build.stamp(at))


def take(book: Book, at: datetime, found: dict[str, float], reasons: dict[str, str] | None = None) -> None:
    lines = tuple(
        CountLine(
            material=code, counted=at, error=build.amount("2 g") if code == "FILLER" else None,
            amount=build.amount(f"{amount:.3f} {'g' if code == 'FILLER' else 'piece'}"),
        )
        for code, amount in found.items()
    )  # fmt: skip
    settle.take_count(book, Count(key=f"{at}", lines=lines), build.stamp(at))
    settle.settle_count(book, f"{at}", build.stamp(at), reasons=reasons, confirmed=True)


def offered(book: Book) -> dict[LineKey, proposals.Offered]:
    return {each.key: each for each in proposals.offered(book, NOW)}


FILLER = LineKey(job="RESOLE", line="filler")
LACES = LineKey(job="LACES", line="laces")


def test_a_line_of_the_card_is_one_proposal_whatever_colours_it_draws(busy: Book) -> None:
    found = offered(busy)
    laces = found[LACES]
    assert set(laces.materials) == {"LACE-BLACK", "LACE-BROWN"}
    assert (laces.proposal.recipe, laces.proposal.uses, laces.proposal.verdict) == (2, 15, LessonAdvice.KEEP)
    assert laces.words.startswith("Laces in 'LACES: laces': recipe 1 pair, counts say 1 pair")
    filler = found[FILLER]
    assert filler.wanted
    assert filler.proposal.use.estimate == pytest.approx(37.5, rel=0.02)
    # 7.5 g more at 11.50 the kg, 59 times in 29 weeks.
    assert filler.proposal.extra == pytest.approx(7.5 * 1.15, rel=0.1)
    assert filler.yearly == pytest.approx(filler.proposal.extra * filler.proposal.uses * 52 / 29, rel=0.01)
    assert "more per job, about €" in filler.words


def test_accepting_is_a_new_version_that_the_next_job_uses(busy: Book) -> None:
    before = version(busy)
    done = proposals.accept(busy, "RESOLE", "filler", NOW)
    after = version(busy)
    assert abs(float(done.after.base_amount) - 37.5) < 0.75
    assert len(str(done.after.base_amount).replace(".", "")) <= 3, "figures a person can weigh out"
    assert (before.amount, after.amount) == (done.before, done.after)
    assert offered(busy)[FILLER].proposal.verdict is LessonAdvice.KEEP
    with pytest.raises(RefusedError, match="holds"):
        proposals.accept(busy, "RESOLE", "filler", NOW)


def version(book: Book) -> RecipeLine:
    with book.reading() as session:
        card = catalogue.read_recipes(session, "RESOLE")[-1]
    return next(line for line in card.lines if line.name == "filler")


def test_an_answer_stands_until_it_has_run_out(busy: Book) -> None:
    proposals.ask_later(busy, "RESOLE", "filler", NOW)
    assert offered(busy)[FILLER].answer == "later"
    left = 2400 - 59 * 37.5
    for day in (1, 3, 5):
        assert not offered(busy)[FILLER].wanted
        take(busy, NOW - timedelta(days=9 - day), {"FILLER": left})
    assert offered(busy)[FILLER].wanted, "three more counts have come"
    proposals.keep_recipe(busy, "RESOLE", "filler", NOW)
    assert offered(busy)[FILLER].answer == "kept"
    take(busy, NOW - timedelta(days=2), {"FILLER": left})
    assert offered(busy)[FILLER].answer == "kept"


def test_what_counts_say_nothing_of_is_refused(busy: Book) -> None:
    with pytest.raises(UnknownError, match="Counts say nothing of 'welt' in RESOLE"):
        proposals.accept(busy, "RESOLE", "welt", NOW)


def test_a_loss_its_owner_explained_is_no_jobs_use(busy: Book) -> None:
    untouched = offered(busy)[FILLER].proposal.use.estimate
    left = 2400 - 59 * 37.5 - 100
    work(busy, "RESOLE", NOW - timedelta(days=2.5), size="EU 42", chosen={"sole": "rubber"})
    take(busy, NOW - timedelta(days=2), {"FILLER": left - 37.5}, {"FILLER": "spoilt"})
    assert offered(busy)[FILLER].proposal.use.estimate == pytest.approx(untouched, rel=0.01)
    assert not [each for each in proposals.survey(busy, NOW).remarks if each.one_off], (
        "nobody is asked again about what is explained"
    )
    [diary] = [d for code, d in teach(busy, NOW).diaries.items() if code == "FILLER"]
    assert diary.intervals().observed[-1] == pytest.approx(30, abs=1), "the difference went by itself"


def test_an_unexplained_loss_is_asked_about(busy: Book) -> None:
    take(busy, NOW - timedelta(days=2), {"FILLER": 2400 - 59 * 37.5 - 150})
    [one] = [each for each in proposals.survey(busy, NOW).remarks if each.one_off]
    assert one.words.startswith("Cork filler: ")
    assert one.words.endswith("than the work explains. Lost, spoilt, or work not written down?")


def test_chance_lines_bring_their_variance(busy: Book) -> None:
    with busy.reading() as session:
        diary = read_diaries(session, NOW)["THREAD"]
    # A seam of 3 m on a third of the jobs: 1 m booked each time, variance 1/3 x 2/3 x 9.
    assert set(diary.uses.variance.round(9).tolist()) == {float(round(Fraction(2), 9))}


@pytest.mark.parametrize(
    ("amount", "kept_in", "said_in"),
    [
        ("1 pair", ["pair"], "pair"),
        ("1 piece", ["pair"], "piece"),  # 'half a pair' is on no card
        ("30 g", ["kg"], "g"),
        ("30 g", ["pair"], "g"),  # over a bridge
        ("2 piece", ["pair", "piece"], "pair"),
    ],
)
def test_a_lesson_speaks_in_the_cards_unit(amount: str, kept_in: list[str], said_in: str) -> None:
    materials = [build.material(f"M{n}", unit) for n, unit in enumerate(kept_in)]
    assert card_unit(build.amount(amount), materials).name == said_in


@pytest.mark.parametrize(
    ("names", "shared"),
    [
        (["Laces black", "Laces brown"], "Laces"),
        (["Thread, waxed, black", "Thread, waxed, brown"], "Thread, waxed"),
        (["Thread"], "Thread"),
        (["Ink", "Dye"], "Ink and others"),
        (["Sole 36 to 38", "Sole 39 to 41"], "Sole"),
    ],
)
def test_variants_are_named_by_what_they_share(names: list[str], shared: str) -> None:
    assert family_name(names) == shared


def test_an_accepted_lesson_is_a_change_of_lists_and_moves_nothing(busy: Book) -> None:
    from stockroom.flows.posting.undo import last_document, newest

    before = last_document(busy)
    proposals.accept(busy, "RESOLE", "filler", NOW)
    (change, undone), *_ = newest(busy, 1)
    assert (change.kind, change.moves, change.entered, undone) == (DocumentKind.CHANGE, (), NOW, None)
    assert set(change.content["lists"]) == {"recipe", "recipe_line"}  # type: ignore[call-overload]
    assert last_document(busy) == before, "what is undone is the day's work"
