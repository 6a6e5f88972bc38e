import numpy as np
import pytest

from stockroom.counting import spreads
from stockroom.counting.lessons import Intervals, Spreads
from stockroom.counting.linear_model import model


def counted(n: int, p: int, rng: np.random.Generator) -> Intervals:
    times = rng.poisson(6.0, (n, p)).astype(float)
    expected = times * 30.0
    return Intervals(
        material=f"{n} {p}", lines=tuple(f"job {j}" for j in range(p)), recipe=np.full(p, 30.0), expected=expected,
        times=times, observed=expected @ rng.uniform(0.8, 1.3, p) * rng.normal(1, 0.03, n), weeks=np.ones(n),
        count_variance=np.full(n + 1, 4.0),
    )  # fmt: skip


def test_materials_learnt_from_together_teach_what_they_teach_one_by_one(monkeypatch: pytest.MonkeyPatch) -> None:
    rng = np.random.default_rng(4)
    frames = [model(counted(n, p, rng)) for n, p in ((8, 2), (0, 1), (8, 1), (12, 3), (8, 2), (1, 1), (12, 2))]
    extras = [0.01 * np.eye(each.departure.size) for each in frames]
    together = spreads.learn_spreads(frames, extras, Spreads())
    monkeypatch.setattr(spreads, "TOGETHER", 1)  # a stack for each material
    alone = spreads.learn_spreads(frames, extras, Spreads())
    for name in ("shared", "line", "waste", "job"):
        assert getattr(together, name) == pytest.approx(getattr(alone, name), rel=1e-12)


def test_no_material_leaves_what_was_expected() -> None:
    found = spreads.learn_spreads([], [], Spreads(line=0.3))
    assert found.line == pytest.approx(0.3)
