"""How far two profiles are apart, against hand-made figures and against shapely's Hausdorff distance."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given

from preview.changes.outlines import apart, same_outline
from preview.profiles import Profile, distance_to, flatten
from samples import BASE, CROWN, block, quarter_round
from strategies import profiles, share


@pytest.mark.parametrize(
    ("one", "other", "far"),
    [
        (block(20.0, 40.0), block(23.0, 40.0), 3.0),
        (block(20.0, 40.0), block(20.0, 47.5), 7.5),
        (block(20.0, 40.0), block(23.0, 44.0), 5.0),  # corner to corner: 3, 4, 5
        (quarter_round(10.0), quarter_round(13.0), 3.0),
        (block(10.0, 10.0), quarter_round(10.0), 10.0 * (2**0.5 - 1)),  # the square's corner to the arc
    ],
)
def test_distances_that_can_be_followed_by_hand(one: Profile, other: Profile, far: float) -> None:
    for found in (apart(one, other), apart(other, one)):
        assert found.distance == pytest.approx(far, abs=1e-6)
        assert np.hypot(*np.subtract(found.at, found.to)) == pytest.approx(far, abs=2e-3)
        assert min(float(distance_to(each, [found.at])[0]) for each in (one, other)) == pytest.approx(0.0, abs=1e-9)


@share(0.4)
@given(profiles(), profiles())
def test_shapely_says_the_same(one: Profile, other: Profile) -> None:
    """shapely.hausdorff_distance of the outlines as points 0.001 mm from the true curve, each edge in 100 parts."""
    lines = [shapely.LinearRing(flatten(profile, 0.001).points) for profile in (one, other)]
    assert apart(one, other).distance == pytest.approx(shapely.hausdorff_distance(*lines, densify=0.01), abs=0.3)


@share(0.4)
@given(profiles(), profiles())
def test_no_point_is_further_than_that(one: Profile, other: Profile) -> None:
    far = apart(one, other).distance
    for a, b in ((one, other), (other, one)):
        assert float(distance_to(b, flatten(a, 0.01).points).max()) <= far + 2e-3


@share(0.3)
@given(profiles())
def test_an_outline_is_no_distance_from_itself(profile: Profile) -> None:
    assert apart(profile, profile).distance == pytest.approx(0.0, abs=1e-9)
    assert same_outline(profile, profile)
    assert apart(profile, profile.moved(2.5, 0.0)).distance <= 2.5 + 1e-9
    assert not same_outline(profile, profile.moved(2.5, 0.0))


def test_two_that_differ_are_two() -> None:
    assert not same_outline(BASE, CROWN)
    assert not same_outline(block(10.0, 10.0), block(10.0, 10.5))
