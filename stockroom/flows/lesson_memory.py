"""Lessons kept in the book between two counts, as JSON."""

import json
from dataclasses import asdict
from typing import Any

import numpy as np

from stockroom.counting.lessons import (
    LessonAdvice,
    Lessons,
    LineLesson,
    MaterialLesson,
    Outlier,
    OutlierKind,
    Span,
    Spreads,
)
from stockroom.counting.shelf_posterior import Losses
from stockroom.store import result_cache
from stockroom.store.book import Session

NAME = "lessons"
Learnt = tuple[Lessons, Losses]


def recall(session: Session, mark: str, *, site: str | None = None) -> Learnt | None:
    """Give a site's lessons kept under a mark, if they are."""
    text = result_cache.recall(session, _name(site), mark)
    return None if text is None else read(text)


def remember(session: Session, mark: str, learnt: Learnt, *, site: str | None = None) -> None:
    """Keep a site's lessons under a mark, in place of its last ones."""
    result_cache.remember(session, _name(site), mark, write(learnt))


def _name(site: str | None) -> str:
    return NAME if site is None else f"{NAME} at {site}"


def write(learnt: Learnt) -> str:
    """Write lessons as JSON."""
    facts = {"lessons": asdict(learnt[0]), "losses": asdict(learnt[1])}
    return json.dumps(facts, default=_plain, separators=(",", ":"))


def read(text: str) -> Learnt:
    """Read lessons from JSON."""
    facts = json.loads(text)
    lessons = facts["lessons"]
    materials = tuple(_material(each) for each in lessons["materials"])
    whole = lessons["whole_spreads"]
    learnt = Lessons(
        materials=materials,
        spreads=Spreads(**lessons["spreads"]),
        whole_spreads=Spreads(**whole) if whole else None,
    )
    return learnt, Losses(**facts["losses"])


def _plain(value: object) -> object:
    if isinstance(value, np.ndarray):
        return value.tolist()
    raise TypeError(f"{type(value)} has no place in a lesson")


def _material(facts: dict[str, Any]) -> MaterialLesson:
    return MaterialLesson(
        material=facts["material"],
        lines=tuple(_line(each) for each in facts["lines"]),
        waste=Span(**facts["waste"]),
        outliers=tuple(Outlier(**(each | {"kind": OutlierKind(each["kind"])})) for each in facts["outliers"]),
        job_spread=facts["job_spread"],
        ratio_mean=np.array(facts["ratio_mean"], dtype=np.float64),
        ratio_covariance=np.array(facts["ratio_covariance"], dtype=np.float64),
    )


def _line(facts: dict[str, Any]) -> LineLesson:
    read_as = {
        "use": Span(**facts["use"]),
        "verdict": LessonAdvice(facts["verdict"]),
        "blurred_with": tuple(facts["blurred_with"]),
    }
    return LineLesson(**(facts | read_as))
