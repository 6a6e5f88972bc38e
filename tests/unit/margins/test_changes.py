from collections.abc import Sequence
from datetime import date

from hypothesis import given
from hypothesis import strategies as st

from stockroom.margins.changes import MarginChange, moved
from stockroom.margins.income import JobLine, PeriodWork


def line(job: str, net: int, nano: int, cost: int, *, chosen: str = "", redo: bool = False, fee: int = 0) -> JobLine:
    return JobLine(
        ticket="T", job=job, day=date(2026, 1, 1), count=1, redo=redo, size="", chosen=chosen, net=net, tax=0,
        uses={"X": (nano, cost)}, fee=fee,
    )  # fmt: skip


def way(before: Sequence[JobLine], after: Sequence[JobLine]) -> MarginChange:
    return moved(PeriodWork(lines=tuple(before)), PeriodWork(lines=tuple(after)))


def effects(found: MarginChange) -> dict[str, int]:
    return {part.name: part.effect for part in found.parts if part.effect}


def test_same_period_moves_nothing() -> None:
    assert effects(way([line("A", 10, 5, 500)], [line("A", 10, 5, 500)])) == {}


def test_dearer_material_is_price_and_more_of_it_is_usage() -> None:
    before, after = [line("A", 10, 5, 500)], [line("A", 10, 6, 720)]
    assert effects(way(before, after)) == {"amount used": -100, "price paid for materials": -120}


def test_higher_price_list_is_prices_charged() -> None:
    assert effects(way([line("A", 10, 5, 500)], [line("A", 12, 5, 500)])) == {"prices charged": 2000}


def test_twice_the_work_is_number_of_jobs() -> None:
    one = line("A", 10, 5, 500)
    assert effects(way([one], [one, one])) == {"number of jobs": 9500}


def test_other_jobs_are_mix_and_other_options_are_choices() -> None:
    plain, fine = line("A", 10, 5, 500, chosen="rubber"), line("A", 10, 5, 3500, chosen="leather")
    assert effects(way([plain, plain], [plain, fine])) == {"choices": -3000}
    dear, cheap = line("A", 10, 5, 500), line("B", 4, 5, 500)
    assert effects(way([dear, dear, cheap, cheap], [dear, cheap, cheap, cheap])) == {"mix of jobs": -6000}


def test_new_job_is_mix() -> None:
    assert effects(way([line("A", 10, 5, 500)], [line("B", 4, 5, 500)])) == {"mix of jobs": -6000}


def test_redone_work_and_fees_stand_apart() -> None:
    before = [line("A", 10, 5, 500)]
    after = [line("A", 10, 5, 500, fee=70), line("A", 0, 5, 500, redo=True)]
    assert effects(way(before, after)) == {"guarantee work": -500, "card fees and post": -70}


LINES = st.lists(
    st.builds(
        line,
        st.sampled_from("ABC"),
        st.integers(0, 5000),
        st.integers(0, 10**12),
        st.integers(0, 10**7),
        chosen=st.sampled_from(["", "x", "y"]),
        redo=st.booleans(),
        fee=st.integers(0, 999),
    ),
    max_size=12,
)


@given(before=LINES, after=LINES, earlier=st.integers(-9999, 9999))
def test_parts_always_add_up_exactly(before: list[JobLine], after: list[JobLine], earlier: int) -> None:
    found = moved(PeriodWork(lines=tuple(before), earlier=earlier), PeriodWork(lines=tuple(after)))
    assert found.before + sum(part.effect for part in found.parts) == found.after
    assert found.after == sum(each.margin for each in after)
    for part in found.parts[:-1]:
        assert sum(part.by_job.values()) == part.effect
