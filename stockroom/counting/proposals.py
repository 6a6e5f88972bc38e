"""What counts propose, as facts and as a sentence with money in it."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from stockroom.counting.lessons import MOST_COUNTS, WASTE, LineLesson, MaterialLesson, Shock, ShockKind, Span, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One recipe line and what the counts say about it; amounts in base units for one usual job."""

    material: str
    line: str
    recipe: float
    use: Span
    uses: int
    verdict: Verdict
    extra: float  # minor units of money more (or, below zero, less) a job than the recipe says
    ask_after: int  # counts to wait before asking again; 0 when there is nothing to wait for
    blurred_with: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Voice:
    """How this shop names and writes things.

    Attributes
    ----------
    material : callable
        Name of a material by its code.
    amount : callable
        Writes an amount of a material (code, base units), such as '30 g'.
    money : callable
        Writes minor units of money, such as '0.42'.
    per : str
        Said after the recipe's amount.
    """

    material: Callable[[str], str]
    amount: Callable[[str, float], str]
    money: Callable[[float], str]
    per: str = ""  # what a recipe's amount is for, such as ' a coat'


def proposals(lessons: Iterable[MaterialLesson], costs: Mapping[str, float]) -> tuple[Proposal, ...]:
    """Turn lessons into proposals, those worth most a year of jobs first.

    Parameters
    ----------
    lessons : iterable of MaterialLesson
        From `learn`.
    costs : mapping of str to float
        Minor units of money per base unit, by material; a missing one costs nothing.

    Returns
    -------
    tuple of Proposal
        Proposed changes first, then what to ask again, then what is confirmed; within each by money over the uses
        seen.
    """
    made = [_proposal(each, line, costs.get(each.material, 0.0)) for each in lessons for line in each.lines]
    order = [Verdict.PROPOSE, Verdict.LATER, Verdict.KEEP]
    return tuple(sorted(made, key=lambda one: (order.index(one.verdict), -abs(one.extra) * one.uses)))


def _proposal(of: MaterialLesson, line: LineLesson, cost: float) -> Proposal:
    return Proposal(
        material=of.material,
        line=line.line,
        recipe=line.recipe,
        use=line.use,
        uses=line.uses,
        verdict=line.verdict,
        extra=(line.use.estimate - line.recipe) * cost,
        ask_after=line.ask_after,
        blurred_with=line.blurred_with,
    )


def sentence(of: Proposal, voice: Voice, *, yearly: float | None = None) -> str:
    """Say a proposal in plain words and money; what it comes to in a year, too, where that is given (minor units)."""
    amount = f"{voice.amount(of.material, of.recipe)}{voice.per}"
    head = f"{voice.material(of.material)} in '{of.line}': recipe {amount}, counts say"
    said = f"{head} {voice.amount(of.material, of.use.estimate)} ({_range(of, voice)})"
    ends = {
        Verdict.PROPOSE: f"{_extra(of, voice)}{_a_year(yearly, voice)}. Accept, keep, or ask again after more counts?",
        Verdict.KEEP: "the recipe holds.",
        Verdict.LATER: _later(of),
    }
    return f"{said}; {ends[of.verdict]}"


def _range(of: Proposal, voice: Voice) -> str:
    return f"{voice.amount(of.material, of.use.low)} to {voice.amount(of.material, of.use.high)}, 90 % sure"


def _extra(of: Proposal, voice: Voice) -> str:
    way = "more" if of.extra > 0 else "less"
    much = voice.money(abs(of.extra)) if abs(of.extra) >= 1 else f"under {voice.money(1)}"
    return f"{much} {way} per job"


def _a_year(yearly: float | None, voice: Voice) -> str:
    return "" if yearly is None else f", about {voice.money(abs(yearly))} a year"


def _later(of: Proposal) -> str:
    counts = "1 more count" if of.ask_after == 1 else f"{of.ask_after} more counts"
    again = f"ask again after {counts}" if of.ask_after < MOST_COUNTS else "it may never be clear from counts alone"
    if of.blurred_with:
        others = " and ".join(each if each == WASTE else f"'{each}'" for each in of.blurred_with)
        return f"the counts can't tell it from {others} yet; {again}."
    return f"not sure enough yet; {again}."


def waste_sentence(of: MaterialLesson, cost: float, voice: Voice) -> str:
    """Say what leaves the shelf on no ticket; an empty text where there may be none."""
    if of.waste.low <= 0:
        return ""
    said = [voice.amount(of.material, each) for each in (of.waste.estimate, of.waste.low, of.waste.high)]
    return (
        f"{voice.material(of.material)}: about {said[0]} a week goes on no ticket ({said[1]} to {said[2]}, 90 % sure), "
        f"{voice.money(of.waste.estimate * cost)} a week."
    )


def shock_sentence(material: str, shock: Shock, moments: Sequence[str], voice: Voice) -> str:
    """Say what happened once, apart from steady use.

    Parameters
    ----------
    material : str
        Its code.
    shock : Shock
        From `learn`.
    moments : sequence of str
        When each count was taken, as this shop writes dates; one more than there are intervals.
    voice : Voice
        How the shop names and writes things.
    """
    name, much = voice.material(material), voice.amount(material, abs(shock.amount))
    if shock.kind is ShockKind.MISCOUNT:
        way = "high" if shock.amount > 0 else "low"
        return (
            f"{name}: the count of {moments[shock.index]} looks {much} too {way}, going by those before and after it."
        )
    span = f"between {moments[shock.index]} and {moments[shock.index + 1]}"
    if shock.amount > 0:
        return f"{name}: {much} more went {span} than the work explains. Lost, spoilt, or work not written down?"
    return f"{name}: {much} more was there {span} than the book explains. A delivery or a return not written down?"
