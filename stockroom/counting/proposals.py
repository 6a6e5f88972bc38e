"""What counts propose, as facts and as a sentence with money in it."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

from stockroom.counting.lessons import (
    MOST_COUNTS,
    WASTE,
    LessonAdvice,
    LineLesson,
    MaterialLesson,
    Outlier,
    OutlierKind,
    Span,
)
from stockroom.counting.shelf_posterior import roughly
from stockroom.phrases import Phrase, joined, phrase, plural


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """One recipe line and what the counts say about it; amounts in base units for one usual job."""

    material: str
    line: str
    recipe: float
    use: Span
    uses: int
    verdict: LessonAdvice
    extra: float  # minor units of money more (or, below zero, less) a job than the recipe says
    ask_after: int  # counts to wait before asking again; 0 when there is nothing to wait for
    blurred_with: tuple[str, ...]
    may_be_loss: bool = False


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
    per: str = ""  # what a recipe's amount is for, such as 'a coat'


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
    order = [LessonAdvice.PROPOSE, LessonAdvice.LATER, LessonAdvice.KEEP]
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
        may_be_loss=line.may_be_loss,
    )


def sentence(of: Proposal, voice: Voice, *, yearly: float | None = None) -> str:
    """Say a proposal in plain words and money; what it comes to in a year, too, where that is given (minor units)."""
    ends = {
        LessonAdvice.PROPOSE: _proposed(of, voice, yearly),
        LessonAdvice.KEEP: phrase("the recipe holds."),
        LessonAdvice.LATER: _later(of),
    }
    return phrase(
        "%(material)s in '%(line)s': recipe %(recipe)s, counts say %(use)s (%(low)s to %(high)s, 90%% sure); %(end)s",
        material=voice.material(of.material),
        line=of.line,
        recipe=joined((voice.amount(of.material, of.recipe), voice.per)),
        use=voice.amount(of.material, of.use.estimate),
        low=voice.amount(of.material, of.use.low),
        high=voice.amount(of.material, of.use.high),
        end=ends[of.verdict],
    )


def _proposed(of: Proposal, voice: Voice, yearly: float | None) -> Phrase:
    extra = _extra(of, voice)
    if yearly is None:
        return phrase("%(extra)s. Accept, keep, or ask again after more counts?", extra=extra)
    return phrase(
        "%(extra)s, about %(money)s a year. Accept, keep, or ask again after more counts?",
        extra=extra,
        money=voice.money(abs(yearly)),
    )


def _extra(of: Proposal, voice: Voice) -> Phrase:
    much = _at_least_a_coin(abs(of.extra), voice)
    if of.extra > 0 and of.may_be_loss:
        return phrase("%(money)s more per job, or it may be a loss that comes by the day", money=much)
    if of.extra > 0:
        return phrase("%(money)s more per job", money=much)
    return phrase("%(money)s less per job", money=much)


def _later(of: Proposal) -> Phrase:
    if of.ask_after < MOST_COUNTS:
        again = plural("ask again after %(num)s more count", "ask again after %(num)s more counts", of.ask_after)
    else:
        again = phrase("it may never be clear from counts alone")
    if of.blurred_with:
        return phrase(
            "the counts can't tell it from %(others)s yet; %(again)s.", others=_others(of.blurred_with), again=again
        )
    return phrase("not sure enough yet; %(again)s.", again=again)


def _others(blurred: Sequence[str]) -> Phrase:
    """Name what a line can't be told from: other lines as they are called, waste as such."""
    named = [phrase("waste on no ticket") if each == WASTE else phrase("'%(line)s'", line=each) for each in blurred]
    listed = named[0]
    for each in named[1:]:
        listed = phrase("%(one)s and %(other)s", one=listed, other=each)
    return listed


def _at_least_a_coin(minor: float, voice: Voice) -> str:
    return voice.money(minor) if minor >= 1 else phrase("under %(money)s", money=voice.money(1))


def waste_sentence(of: MaterialLesson, cost: float, voice: Voice) -> str:
    """Say what leaves the shelf on no ticket; an empty text where there may be none."""
    if of.waste.low <= 0:
        return ""
    return phrase(
        "%(material)s: about %(amount)s a week is used up on no ticket (%(low)s to %(high)s, 90%% sure), "
        "%(money)s a week.",
        material=voice.material(of.material),
        amount=voice.amount(of.material, roughly(of.waste.estimate)),
        low=voice.amount(of.material, roughly(of.waste.low)),
        high=voice.amount(of.material, roughly(of.waste.high)),
        money=_at_least_a_coin(of.waste.estimate * cost, voice),
    )


def outlier_sentence(material: str, outlier: Outlier, moments: Sequence[str], voice: Voice) -> str:
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
    facts = {"material": voice.material(material), "amount": voice.amount(material, roughly(abs(outlier.amount)))}
    facts["day"] = moments[outlier.index]
    over = outlier.amount > 0
    if outlier.kind is OutlierKind.MISCOUNT:
        return _miscount(facts, over=over)
    facts["next"] = moments[outlier.index + 1]
    if over:
        return phrase(
            "%(material)s: %(amount)s more went between %(day)s and %(next)s than the work explains. "
            "Lost, spoilt, or work not written down?",
            **facts,
        )
    return phrase(
        "%(material)s: %(amount)s more was there between %(day)s and %(next)s than the book explains. "
        "A delivery or a return not written down?",
        **facts,
    )


def _miscount(facts: Mapping[str, str], *, over: bool) -> Phrase:
    if over:
        return phrase(
            "%(material)s: the count of %(day)s looks %(amount)s too high, going by those before and after it.", **facts
        )
    return phrase(
        "%(material)s: the count of %(day)s looks %(amount)s too low, going by those before and after it.", **facts
    )
