"""Published limits: metric and inch figures of one clause say the same, and grades are told by them."""

from __future__ import annotations

import pytest

from preview.shop import FIELD_GAPS, GRADES, TOLERANCES, best_grade


def test_field_gaps_in_both_units() -> None:
    """ANSI/AWI 0620, 3.4.1.1 c): 0.4, 0.8, 1.2 mm, and beside them .016, .031, .047 in."""
    assert [FIELD_GAPS.limit(grade) for grade in GRADES] == [0.4, 0.8, 1.2]
    for grade, inches in zip(GRADES, (0.016, 0.031, 0.047), strict=True):
        assert FIELD_GAPS.limit(grade) == pytest.approx(inches * 25.4, abs=0.05)


@pytest.mark.parametrize("tolerance", TOLERANCES, ids=lambda each: each.source)
def test_a_worse_grade_allows_more(tolerance: object) -> None:
    assert tolerance in TOLERANCES
    limits = [limit for _, limit in tolerance.limits]  # type: ignore[attr-defined]
    assert limits == sorted(limits)
    assert all(limit > 0 for limit in limits)


@pytest.mark.parametrize(
    ("opening", "grade"),
    [(0.0, "premium"), (0.4, "premium"), (0.41, "custom"), (0.8, "custom"), (1.2, "economy"), (1.21, None)],
)
def test_best_grade(opening: float, grade: str | None) -> None:
    assert best_grade(opening) == grade


def test_the_two_gap_clauses_agree_with_the_shrinking_casing() -> None:
    """A 3-1/2 in flat-sawn casing that loses 4 % opens 0.057 to 0.073 in: past every grade (see test_forecast)."""
    assert best_grade(0.057 * 25.4) is None
