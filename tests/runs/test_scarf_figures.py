"""What a scarf's refusal says of a straight that climbs, worked by hand."""

from __future__ import annotations

import pytest

from preview.errors import PreviewError
from preview.runs import Straight, lay_out, scarfed


def test_a_refused_rake_is_said_to_be_as_long_as_its_stick() -> None:
    """3 up for 4 along: 4000 mm in plan are 5000 mm of stick."""
    with pytest.raises(PreviewError, match="this straight is 5000 mm long and the stock 20 mm"):
        scarfed(lay_out("stair", [Straight(4000.0, 0.75)]), 20.0, 1.0, 0.0, spans=[(0.0, 30.0)])


def test_a_joint_may_lie_just_as_far_from_its_corner_as_it_must() -> None:
    """Two sticks of 3000 make 6000, and the joint is 3000 mm from either end: as far as was asked, and no nearer."""
    made = scarfed(lay_out("wall", [Straight(6000.0)]), 3000.0, 1.0, 3000.0)
    assert [element.length for element in made.elements] == [3000.0, 3000.0]
