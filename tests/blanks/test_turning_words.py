"""A landmark on a turned blank is named by both its heights, where it has two."""

from __future__ import annotations

import math

from preview.blanks import fine, sawn, sawn_words, staved, turning_order
from preview.profiles import measure
from samples import BASE


def test_a_flat_is_sized_from_its_foot_to_its_top() -> None:
    """The base's own flat rises from the foot to 60 mm."""
    size = measure(BASE)
    blank = staved(50.0 + size.d_max, 50.0, size.h_max, math.pi / 2, staves=6, wraps=True)
    sized = [step for step in turning_order(blank, BASE, 50.0, "mm") if step.landmark is not None]
    flats = [step for step in sized if step.landmark.high > step.landmark.low]
    assert [(step.landmark.low, step.landmark.high) for step in flats[:1]] == [(0.0, 60.0)]
    for step in flats:
        assert f"from {fine(step.landmark.low, 'mm')} to {fine(step.landmark.high, 'mm')} up to" in step.words
    points = [step for step in sized if step.landmark.high <= step.landmark.low]
    assert points
    for step in points:
        assert f" {fine(step.landmark.low, 'mm')} up to" in step.words
        assert " from " not in step.words


def test_arcs_are_nested_only_where_a_board_holds_several_across() -> None:
    """A board of 12 in holds a narrow arc several times across, and one of 30 mm only once."""
    one = sawn(400.0, 370.0, 19.0, math.radians(20), board_width=70.0)
    several = sawn(400.0, 370.0, 19.0, math.radians(20))
    assert (one.across, several.across > 1) == (1, True)
    assert not any("nested" in sentence for sentence in sawn_words(one, "mm"))
    assert any(f"{several.across} nested" in sentence for sentence in sawn_words(several, "mm"))
