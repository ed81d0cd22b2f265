"""What a cut of an end may give: a finite number up to the steepest, and whatever else is refused by its name."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

import numpy as np
import pytest

from preview.errors import PreviewError
from preview.profiles import Profile
from preview.runs import BEVELS, run_back
from samples import block


def enter(monkeypatch: pytest.MonkeyPatch, given: Any) -> None:
    def back(_profile: Profile) -> Any:
        return given

    entered: dict[str, Callable[[Profile], float]] = dict(BEVELS) | {"swept": back}
    monkeypatch.setattr(BEVELS, "_entered", entered)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ("1", "gives str, and a number is wanted"),
        (None, "gives NoneType, and a number is wanted"),
        ([1.0], "gives list, and a number is wanted"),
        (4.5, "runs back 4.5 mm for each mm out, and 4 is the most"),
        (-60, "runs back -60.0 mm for each mm out, and 4 is the most"),
        (math.nan, "runs back nan for each mm out, and 4 is the most"),
        (math.inf, "runs back inf for each mm out, and 4 is the most"),
        (-math.inf, "runs back -inf for each mm out, and 4 is the most"),
    ],
)
def test_a_cut_that_gives_no_good_number_is_refused(given: Any, said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    enter(monkeypatch, given)
    with pytest.raises(PreviewError) as refused:
        run_back("swept", block())
    assert refused.value.problems[0].problem.endswith(said)


@pytest.mark.parametrize("given", [0, 1, -0.25, Fraction(3, 2), np.float64(4.0), -4])
def test_any_kind_of_number_will_do(given: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    enter(monkeypatch, given)
    found = run_back("swept", block())
    assert (type(found), found) == (float, float(given))


def test_a_beveled_end_runs_back_as_far_as_it_is_out() -> None:
    assert run_back("beveled", block()) == 1.0
