import numpy as np

from stockroom.demand.grouping import group_sums


def test_sums_follow_the_labels_not_the_order() -> None:
    found = group_sums(np.array([[1.0, 2, 4, 8], [1, 1, 1, 1]]), np.array([1, 0, 1, 2]))
    np.testing.assert_array_equal(found, [[2, 5, 8], [1, 2, 1]])


def test_no_series_no_groups() -> None:
    assert group_sums(np.zeros((3, 0)), np.zeros(0, dtype=np.intp)).shape == (3, 0)
