"""What counts teach of use, as the outlook takes it: by how much recipes are off, and how sure that is."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from stockroom.counting.lessons import MaterialLesson
from stockroom.flows.lessons import MaterialPast, Teaching

LEAST_RATIO = 0.1  # a smaller ratio is the noise of wild counts; the doubt is then a share of this


@dataclass(frozen=True, slots=True, kw_only=True)
class Learnt:
    """What counts teach of use: true use over recipe use by job and material, and waste on no ticket a week."""

    ratios: Mapping[tuple[str, str], float] = field(default_factory=dict)
    waste: Mapping[str, float] = field(default_factory=dict)  # base units, by material
    waste_doubt: Mapping[str, float] = field(default_factory=dict)  # relative variance of that rate
    doubt: Mapping[str, float] = field(default_factory=dict)  # relative variance of a material's use by its recipes

    def ratio(self, job: str, material: str) -> float:
        """Give true use over recipe use; wild counts can put the estimate below nothing, and use can't be."""
        return max(self.ratios.get((job, material), 1.0), 0.0)


NOTHING_LEARNT = Learnt()


def learnt_from(taught: Teaching) -> Learnt:
    """Take what the outlook needs from what counts teach."""
    lessons = taught.by_material
    doubt = {code: ratio_doubt(taught.diaries[code], lesson) for code, lesson in lessons.items()}
    unsure = {code: waste_doubt(lesson) for code, lesson in lessons.items() if lesson.waste.estimate > 0}
    return Learnt(ratios=taught.ratios(), waste=taught.waste(), waste_doubt=unsure, doubt=doubt)


def waste_doubt(lesson: MaterialLesson) -> float:
    """Relative variance of what leaves the shelf on no ticket; a rate that is all doubt is as good as exponential."""
    return min(float(lesson.ratio_covariance[-1, -1]) / lesson.waste.estimate**2, 1.0)


def ratio_doubt(diary: MaterialPast, lesson: MaterialLesson) -> float:
    """Relative variance of true use over recipe use of a material, its lines weighted by their past use.

    Notes
    -----
    With weights w, ratios r and their covariance C: ``w' C w / (w' r)**2``, the variance of a weighted sum over
    the square of its mean.
    """
    weights = np.maximum(diary.uses.by_line(len(diary.keys))[0], 0.0)
    if not weights.any():
        return 0.0
    weights /= weights.sum()
    mean = max(float(weights @ lesson.ratio_mean[:-1]), LEAST_RATIO)
    return float(weights @ lesson.ratio_covariance[:-1, :-1] @ weights) / mean**2
