"""What the order list says in all."""

from dataclasses import replace
from types import SimpleNamespace
from typing import Any

from stockroom.buying.basket import basket
from stockroom.buying.reasons import reasons
from stockroom.flows.ordering.plan import slight_lines
from tests.unit.buying.problems import small_ask, stocked


def test_lines_that_save_next_to_nothing_are_named_with_what_they_tie_up() -> None:
    problem = stocked(small_ask(5), 1.0)
    told = [replace(each, runs_out=each.comes + 30.0) for each in reasons(problem, basket(problem))]
    names = {each.name: SimpleNamespace(name=f"Sheet, {each.name}") for each in told}
    words: Any = SimpleNamespace(
        money=lambda value: f"{value:.2f}",
        seen=SimpleNamespace(known=SimpleNamespace(shelf=SimpleNamespace(materials=names))),
    )
    assert len(told) > 1
    needed = [replace(each, along=0.5 * each.line.spend) for each in told]
    assert slight_lines(needed, words) == []
    slight = [replace(each, along=0.009 * each.line.spend) for each in told]
    (one,) = slight_lines([slight[0], *needed[1:]], words)
    assert f"{slight[0].line.spend:.2f} of goods" in one
    assert one.endswith(f"Sheet, {slight[0].name}.")
    (both,) = slight_lines(slight, words)
    assert f"{sum(each.line.spend for each in slight):.2f} of goods" in both
    late = [replace(each, runs_out=each.comes - 1.0) for each in slight]
    assert slight_lines(late, words) == [], "what runs out before it can come is never said to wait"
