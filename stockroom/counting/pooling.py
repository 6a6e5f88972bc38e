"""One line of one recipe, drawn from several variants of a material: what counts say of it as a whole."""

from collections.abc import Sequence
from math import hypot

from stockroom.counting.learn import ask_after, verdict
from stockroom.counting.lessons import LineLesson, Span, Verdict

NINETY = 1.645  # standard errors in half a 90 % interval of a normal


def pooled(variants: Sequence[LineLesson], counts: int, *, line: str, recipe: float) -> LineLesson:
    """Put the lessons of a line's variants (colours, sizes) together.

    Parameters
    ----------
    variants : sequence of LineLesson
        One for each material the line draws; at least one.
    counts : int
        How often all of them were counted together.
    line : str
        What to call the line.
    recipe : float
        What the recipe card says of it, in the unit the result is wanted in, > 0.

    Returns
    -------
    LineLesson
        The true use of the line over its recipe, each variant weighing by how often it was used, times `recipe`.

    Raises
    ------
    ValueError
        If there is no variant.

    Notes
    -----
    A new card changes all variants alike, so what is wanted is the ratio that makes their sum right: the mean weighed
    by use. Its variance is the weighed sum of independent variances, whether or not the variants agree.
    """
    if not variants:
        raise ValueError("a line needs at least one variant")
    ratio = _ratio(variants)
    uses = sum(each.uses for each in variants)
    found = verdict(ratio, uses)
    later = found is Verdict.LATER
    return LineLesson(
        line=line,
        recipe=recipe,
        use=Span(estimate=ratio.estimate * recipe, low=ratio.low * recipe, high=ratio.high * recipe),
        uses=uses,
        verdict=found,
        ask_after=ask_after(ratio, counts) if later else 0,
        blurred_with=tuple(dict.fromkeys(name for each in variants for name in each.blurred_with)) if later else (),
    )


def _ratio(variants: Sequence[LineLesson]) -> Span:
    if len(variants) == 1:
        use, recipe = variants[0].use, variants[0].recipe
        return Span(estimate=use.estimate / recipe, low=use.low / recipe, high=use.high / recipe)
    total = sum(max(each.uses, 1) for each in variants)
    weights = [max(each.uses, 1) / total for each in variants]
    middle = sum(w * each.use.estimate / each.recipe for w, each in zip(weights, variants, strict=True))
    errors = (w * each.use.half_width / NINETY / each.recipe for w, each in zip(weights, variants, strict=True))
    half = NINETY * hypot(*errors)
    return Span(estimate=middle, low=max(middle - half, 0.0), high=middle + half)
