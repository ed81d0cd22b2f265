"""Which feature is which: what is put in or taken out leaves the others with their partners."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from preview.changes.features import Feature, features
from preview.changes.matching import MOST, matched, unlike
from preview.runs import Corner, Curve, Splay, Straight, lay_out

RIGHT = math.pi / 2
straights = st.integers(1, 6).map(lambda n: Feature("straight", length=100.0 * n))
turns = st.sampled_from([RIGHT, -RIGHT, RIGHT / 3]).map(lambda turn: Feature("turn", turn=turn, treatment="mitered"))
curves = st.sampled_from([50.0, 80.0]).map(lambda r: Feature("turn", turn=RIGHT, treatment="turned", radius=r))
rows = st.lists(st.one_of(straights, turns, curves), max_size=12)


@given(rows, rows)
def test_both_rows_are_kept_in_their_order(before: list[Feature], after: list[Feature]) -> None:
    pairs = matched(before, after)
    assert [one for one, _ in pairs if one is not None] == before
    assert [other for _, other in pairs if other is not None] == after
    assert all(one is not None or other is not None for one, other in pairs)
    assert all(one.kind == other.kind for one, other in pairs if one is not None and other is not None)


@given(rows)
def test_a_row_matches_itself(row: list[Feature]) -> None:
    assert matched(row, row) == [(one, one) for one in row]


@given(rows, st.integers(0, 12), st.lists(st.one_of(straights, turns), min_size=1, max_size=4))
def test_what_is_put_in_is_all_that_has_no_partner(row: list[Feature], at: int, more: list[Feature]) -> None:
    pairs = matched(row, [*row[:at], *more, *row[at:]])
    assert sum(one is None for one, _ in pairs) == len(more)
    assert all(one == other for one, other in pairs if one is not None)


@given(rows, rows)
def test_no_other_pairing_changes_less(before: list[Feature], after: list[Feature]) -> None:
    """Against the same sum worked out with no table, for short rows."""

    def least(i: int, j: int) -> float:
        if not i or not j:
            return float(i + j)
        return min(least(i - 1, j - 1) + unlike(before[i - 1], after[j - 1]), least(i - 1, j) + 1, least(i, j - 1) + 1)

    before, after = before[:5], after[:5]
    found = sum(1.0 if one is None or other is None else unlike(one, other) for one, other in matched(before, after))
    assert found == pytest.approx(least(len(before), len(after)))


def test_long_rows_keep_their_partners_too() -> None:
    row = [Feature("straight", length=float(100 + k % 7)) for k in range(600)]
    changed = [Feature("straight", length=999.0), *row[:300], Feature("turn", turn=1.0), *row[300:-1]]
    assert len(row) * len(changed) > MOST
    pairs = matched(row, changed)
    assert [one for one, _ in pairs if one is not None] == row
    assert [other for _, other in pairs if other is not None] == changed
    assert sum(one == other for one, other in pairs) >= 590


def test_a_run_is_read_as_it_was_written() -> None:
    """Two splays with one straight between; their facets are told by the step they come from."""
    run = lay_out(
        "run",
        [
            Straight(500.0),
            Splay(RIGHT, 2, 30.0),
            Straight(400.0),
            Splay(-RIGHT, 4, 20.0),
            Straight(300.0),
            Corner(RIGHT),
            Straight(200.0),
            Curve(-RIGHT, 50.0),
            Straight(600.0),
        ],
    )
    found = features(run)
    assert [(each.kind, each.treatment, each.facets, each.facet) for each in found] == [
        ("straight", None, 0, 0.0),
        ("turn", "splayed", 2, 30.0),
        ("straight", None, 0, 0.0),
        ("turn", "splayed", 4, 20.0),
        ("straight", None, 0, 0.0),
        ("turn", "mitered", 0, 0.0),
        ("straight", None, 0, 0.0),
        ("turn", "turned", 0, 0.0),
        ("straight", None, 0, 0.0),
    ]
    assert [each.turn for each in found if each.kind == "turn"] == pytest.approx([RIGHT, -RIGHT, RIGHT, -RIGHT])
    assert [each.side for each in found if each.kind == "turn"] == ["inside", "outside", "inside", "outside"]


def test_a_splay_at_the_end_of_a_closed_run_is_one_turn() -> None:
    side = [Straight(400.0), Splay(RIGHT, 3, 20.0)]
    found = features(lay_out("room", side * 4, closed=True))
    assert [each.kind for each in found] == ["straight", "turn"] * 4
    assert [each.turn for each in found if each.kind == "turn"] == pytest.approx([RIGHT] * 4)
