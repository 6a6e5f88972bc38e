"""What goes into learning from counts and what comes out: shapes, units and words."""

from dataclasses import dataclass, field
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WASTE = "waste on no ticket"  # as a line may be mistaken for it
MOST_COUNTS = 26  # asking again later than half a year of weekly counts is no plan


class LessonAdvice(StrEnum):
    """What to do about one recipe line."""

    PROPOSE = "propose"
    KEEP = "keep"
    LATER = "ask later"


class OutlierKind(StrEnum):
    """Something that happened once, apart from steady use."""

    SUDDEN = "sudden"  # left, or appeared, between two counts
    MISCOUNT = "miscount"  # one count out of line with those before and after it


@dataclass(frozen=True, slots=True, kw_only=True)
class Intervals:
    """One material between its counts: n intervals, n + 1 counts, p recipe lines.

    Attributes
    ----------
    material : str
        Its code.
    lines : tuple of str
        The p recipe lines, named as the shop knows them, such as 'full resole'.
    recipe : ndarray, shape (p,)
        The recipe figure of each line for one usual job, base units, > 0.
    expected : ndarray, shape (n, p)
        What the recipes say was used in each interval, sizes and choices of the jobs done included, base units, >=
        0.
    times : ndarray, shape (n, p)
        How often each line was used.
    observed : ndarray, shape (n,)
        What left the shelf by the counts: opening count + received - sold - closing count, base units.
    weeks : ndarray, shape (n,)
        Length of each interval, > 0.
    count_variance : ndarray, shape (n + 1,)
        Measuring variance of each count, squared base units, >= 0.
    known_variance : ndarray, shape (n,), optional
        Variance the recipes themselves state (a line used on one job in four), or that comes with other moves, squared
        base units, >= 0; none by default.
    whole : bool
        Kept and used in whole pieces, so that one job uses what another does; such materials say nothing of how much
        is poured or brushed on.
    """

    material: str
    lines: tuple[str, ...]
    recipe: Floats
    expected: Floats
    times: Floats
    observed: Floats
    weeks: Floats
    count_variance: Floats
    known_variance: Floats | None = None
    whole: bool = False

    def __post_init__(self) -> None:
        n, p = self.observed.size, len(self.lines)
        shapes = {
            "recipe": (p,), "expected": (n, p), "times": (n, p), "observed": (n,), "weeks": (n,),
            "count_variance": (n + 1,),
        }  # fmt: skip
        for name, shape in shapes.items():
            _check(name, getattr(self, name), shape, signed=name == "observed")
        if not (self.recipe > 0).all() or not (self.weeks > 0).all():
            raise ValueError("recipe figures and weeks must be above zero")
        if self.known_variance is not None:
            _check("known_variance", self.known_variance, (n,), signed=False)


def _check(name: str, values: Floats, shape: tuple[int, ...], *, signed: bool) -> None:
    if values.shape != shape:
        msg = f"{name} has shape {values.shape}, not {shape}"
        raise ValueError(msg)
    if not np.isfinite(values).all() or (not signed and (values < 0).any()):
        msg = f"{name} must be finite" + ("" if signed else " and not negative")
        raise ValueError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Span:
    """An estimate and its 90 % interval."""

    estimate: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        """Half the interval's length."""
        return (self.high - self.low) / 2


@dataclass(frozen=True, slots=True, kw_only=True)
class LineLesson:
    """What the counts say about one recipe line, base units for one usual job."""

    line: str
    recipe: float
    use: Span
    uses: int
    verdict: LessonAdvice
    ask_after: int = 0  # counts until a verdict can be hoped for; 0 when there is one
    blurred_with: tuple[str, ...] = ()  # jobs the counts can't tell this one from
    may_be_loss: bool = False  # proposed to use more, though what goes by the day would explain the counts as well


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlier:
    """A one-off the steady model can't explain."""

    kind: OutlierKind
    index: int  # the interval (sudden) or the count (miscount), from 0
    amount: float  # base units: sudden > 0 left the shelf; miscount > 0 was counted too high
    chance: float  # that it was a one-off at all


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What is believed of the last count's own error, above zero for one that read too high; base units.

    What jobs drew since the counts before it says as well how much lies there: a count corrects what was believed, and
    doesn't replace it.
    """

    mean: float
    variance: float
    with_ratios: Floats = field(repr=False)  # (p + 1,): its covariance with the ratios, then with waste a week


@dataclass(frozen=True, slots=True, kw_only=True)
class MaterialLesson:
    """What the counts of one material teach."""

    material: str
    lines: tuple[LineLesson, ...]
    waste: Span  # base units a week, on no ticket
    outliers: tuple[Outlier, ...]
    job_spread: float  # coefficient of variation of one job's use about its mean
    ratio_mean: Floats = field(repr=False)  # (p + 1,): true use / recipe per line, then waste a week
    ratio_covariance: Floats = field(repr=False)  # (p + 1, p + 1)
    reading: Reading | None = None  # None: as the last count itself says


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreads:
    """How far things usually lie from the recipes in this shop; all relative, all > 0.

    Attributes
    ----------
    shared : float
        Bias common to all lines of a material (a wider brush, a thicker tin).
    line : float
        Bias of one line against its material's.
    waste : float
        Unrecorded waste a week over recorded use a week.
    job : float
        One job's use about its line's mean.
    """

    shared: float = 0.10
    line: float = 0.15
    waste: float = 0.05
    job: float = 0.20


@dataclass(frozen=True, slots=True, kw_only=True)
class Lessons:
    """What all counts teach, and how wrong recipes usually are in this shop."""

    materials: tuple[MaterialLesson, ...]
    spreads: Spreads  # of what is measured
    whole_spreads: Spreads | None = None  # of what is used in whole pieces
