"""A section that is to be sprung lies flat on its back: how much of it does is measured from where the back begins."""

from __future__ import annotations

import math

import pytest

from faced_pieces import polygon
from preview.errors import PreviewError
from preview.profiles import sprung


def test_a_short_back_far_up_is_a_short_back() -> None:
    """20 mm of 100, between heights of 60 and 80."""
    profile = polygon((10, 0), (20, 0), (20, 100), (10, 100), (0, 80), (0, 60))
    with pytest.raises(PreviewError, match="only 20 mm of the 100 mm of this one does"):
        sprung(profile, math.radians(38))
