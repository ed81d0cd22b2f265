"""Geometry drawn at random, before three independent judges: see tests/three_judges.py. Not part of the ordinary suite.

    THREE_JUDGES_CASES=5000 THREE_JUDGES_SEED=1 pytest tests/long/test_three_judges.py -s

judges so many scenes that are not refused and prints the tally. One scene again, by its number:

    THREE_JUDGES_ONLY=312 pytest tests/long/test_three_judges.py -s

A case takes a fifth of a second. The surface of solids, and how far the mesh lies from it, are measured on every eighth
case; the wood that solids share, by Open CASCADE's boolean operation, on every hundredth.
"""

from __future__ import annotations

import os
from itertools import count
from pathlib import Path

import pytest

from judged_cases import drawn
from preview.models import solid
from three_judges import Verdict, judged, tally

CASES = int(os.environ.get("THREE_JUDGES_CASES", "200"))
SEED = int(os.environ.get("THREE_JUDGES_SEED", "1"))
FIRST = int(os.environ.get("THREE_JUDGES_FIRST", "0"))
ONLY = os.environ.get("THREE_JUDGES_ONLY", "")
THOROUGH, COMMON = 8, 100
"""One in so many cases is measured further."""

pytestmark = pytest.mark.skipif(solid.available() is not None, reason="the CAD kernel cannot be loaded")


@pytest.mark.skipif(ONLY != "", reason="one case is asked for")
def test_three_judges_agree(tmp_path: Path) -> None:
    verdicts: list[Verdict] = []
    judged_so_far = 0
    for number in count(FIRST):
        if judged_so_far == CASES:
            break
        verdict = judged(drawn(SEED, number), tmp_path, thorough=number % THOROUGH == 0, common=number % COMMON == 0)
        verdicts.append(verdict)
        judged_so_far += not verdict.refused
        if verdict.faults:
            print(verdict.said())
    print(tally(verdicts))
    finds = [verdict for verdict in verdicts if verdict.faults]
    assert not finds, "\n".join(verdict.said() for verdict in finds)
    assert judged_so_far > len(verdicts) / 2, "most of the drawn scenes are refused"


@pytest.mark.skipif(ONLY == "", reason="no single case is asked for")
def test_one_case(tmp_path: Path) -> None:
    verdict = judged(drawn(SEED, int(ONLY)), tmp_path, common=True)
    print(verdict.said())
    assert not verdict.faults
