"""Which feature of a run is which one of its next version, so that one step put in does not shift all the others.

Both rows are walked side by side, and of all ways to pair their features, or leave one without a partner, the one that
changes least is taken (an edit distance; Needleman and Wunsch, 1970). Rows too long for that are first tied together
where they are alike.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Sequence

from preview.changes.features import Feature

ALONE = 1.0
"""What a feature without a partner counts; two of them are more than any pair that may be made."""
MOST = 40_000
"""Pairs of features that are weighed against each other at once."""
Pair = tuple[Feature | None, Feature | None]


def matched(before: Sequence[Feature], after: Sequence[Feature]) -> list[Pair]:
    """The features in order, each with its partner; None where it has none."""
    first = 0
    while first < min(len(before), len(after)) and before[first].same_as(after[first]):
        first += 1
    last = 0
    most = min(len(before), len(after)) - first
    while last < most and before[-1 - last].same_as(after[-1 - last]):
        last += 1
    middle = _middle(before[first : len(before) - last], after[first : len(after) - last])
    head: list[Pair] = list(zip(before[:first], after[:first], strict=True))
    tail: list[Pair] = list(zip(before[len(before) - last :], after[len(after) - last :], strict=True))
    return [*head, *middle, *tail]


def _middle(before: Sequence[Feature], after: Sequence[Feature]) -> list[Pair]:
    if len(before) * len(after) <= MOST:
        return _least(before, after)
    tied: list[Pair] = list(_tied(before, after))
    if len(before) == len(after):  # nothing may have come or gone, and every length be another one
        in_order: list[Pair] = list(zip(before, after, strict=True))
        return min(in_order, tied, key=_cost)
    return tied


def _cost(pairs: Sequence[Pair]) -> float:
    """How much changes in all."""
    return math.fsum(ALONE if one is None or other is None else unlike(one, other) for one, other in pairs)


def _tied(before: Sequence[Feature], after: Sequence[Feature]) -> Iterator[Pair]:
    """Long rows: tied together where a stretch of each is the same, and paired in between."""
    tokens = ([_token(one) for one in before], [_token(one) for one in after])
    for tag, a, b, c, d in difflib.SequenceMatcher(None, tokens[0], tokens[1]).get_opcodes():
        if tag == "equal":
            yield from zip(before[a:b], after[c:d], strict=True)
            continue
        size = max(1, math.isqrt(MOST))
        for k in range(0, max(b - a, d - c), size):
            yield from _least(before[a + k : min(b, a + k + size)], after[c + k : min(d, c + k + size)])


def _token(one: Feature) -> tuple[object, ...]:
    sizes = (round(value, 3) for value in (one.length, one.slope, one.turn, one.radius, one.facet))
    return (one.kind, one.treatment, one.lengths, one.facets, one.block, one.coped, *sizes)


def _least(before: Sequence[Feature], after: Sequence[Feature]) -> list[Pair]:
    rows, columns = len(before), len(after)
    cost = [[0.0] * (columns + 1) for _ in range(rows + 1)]
    for i in range(rows + 1):
        for j in range(columns + 1):
            if i and j:
                cost[i][j] = min(
                    cost[i - 1][j - 1] + unlike(before[i - 1], after[j - 1]),
                    cost[i - 1][j] + ALONE,
                    cost[i][j - 1] + ALONE,
                )
            else:
                cost[i][j] = ALONE * (i + j)
    found: list[Pair] = []
    i, j = rows, columns
    while i or j:
        if i and j and cost[i][j] == cost[i - 1][j - 1] + unlike(before[i - 1], after[j - 1]):
            i, j = i - 1, j - 1
            found.append((before[i], after[j]))
        elif i and cost[i][j] == cost[i - 1][j] + ALONE:
            i -= 1
            found.append((before[i], None))
        else:
            j -= 1
            found.append((None, after[j]))
    return found[::-1]


def unlike(one: Feature, other: Feature) -> float:
    """How much one feature would have to change to become another: 0 where it is the same, infinite for never."""
    if one.kind != other.kind:
        return math.inf
    if one.same_as(other, 1e-3):
        return 0.0
    if one.kind == "turn":
        if (one.turn > 0) != (other.turn > 0):
            return 1.9
        return 0.9 if abs(one.turn - other.turn) < 1e-9 else 1.5
    if one.kind == "block":
        return 0.9 if one.block == other.block else 1.5
    longer = max(one.length, other.length)
    return 0.9 + 0.5 * abs(one.length - other.length) / longer if longer else 0.9
