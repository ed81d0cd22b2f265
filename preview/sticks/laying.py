"""Parts laid out on sticks: what can be cut from what, in whole numbers and back in millimeters."""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from collections.abc import Sequence
from fractions import Fraction

from preview.errors import PreviewError, Problem
from preview.sticks.cutting import Cutting, Filled, Pattern
from preview.sticks.layout import Laid, Layout, Part, Stick
from preview.sticks.neighbors import Groups, gathered, together
from preview.sticks.solving import solved
from preview.units import Unit, counted, show

GRAIN = 1_000_000
"""Lengths are taken to a millionth of a mm, and prices to a millionth of what they are in."""
LESS = 1e-9


def lay_out(
    parts: Sequence[Part],
    sticks: Sequence[Stick],
    *,
    kerf: float,
    trim: float = 0.0,
    defects: float = 0.0,
    match: bool = True,
    unit: Unit = "mm",
) -> Layout:
    """Lay parts out on sticks so that the least is bought: the least length, or the least price where all have one.

    kerf: mm that each cut takes: between parts, and between the last part and what is left over. A last part that ends
    where the good wood ends needs no cut. trim: mm cut off each end of a stick first, that cut's kerf counted in.
    defects: the share of each stick's length reckoned as lost. match: among layouts of one cost, take neighbors on the
    wall from one stick. A part whose `after` is not among the parts has no neighbor. unit: of the lengths in errors.

    Raises PreviewError where there is no stick, a stick or a part has no length, a stick is used up by its trims, a
    part is longer than every stick, or the sticks in hand do not suffice. Raises ValueError for two parts of one name.
    """
    if len({part.name for part in parts}) != len(parts):
        raise ValueError("two parts have one name")
    good = _good_lengths(sticks, kerf, trim, defects, unit)
    _refuse_parts(parts, good, sticks, unit)
    if not parts:
        return Layout((), 0.0, 0.0, _price(sticks, ()), 0.0, 0.0, "there is nothing to cut")
    priced = all(stick.price is not None for stick in sticks)
    sizes = [_grains(part.length) + _grains(kerf) for part in parts]
    wanted = Counter(sizes)
    costs = [_grains((stick.price or 0.0) if priced else stick.length) for stick in sticks]
    cutting = Cutting(
        tuple(sorted(wanted, reverse=True)),
        tuple(count for _, count in sorted(wanted.items(), reverse=True)),
        tuple(_grains(each) + _grains(kerf) for each in good),
        tuple(costs),
        tuple(None if stick.have is None else min(stick.have, len(parts)) for stick in sticks),
    )
    filled, bound, method = _solved(cutting, sticks, unit)
    groups = _grouped(filled, cutting, sizes)
    order, pairs = _along_the_wall(parts)
    if match:
        groups = gathered(groups, sizes, [cutting.rooms[pattern.kind] for pattern in filled], pairs, order)
    place = {part: i for i, part in enumerate(order)}
    used = [
        (-sticks[pattern.kind].length, place[row[0]], pattern.kind, row)
        for pattern, group in zip(filled, groups, strict=True)
        if (row := _row(group, sizes, pairs, place, match))
    ]
    laid = tuple(
        Laid(sticks[kind], tuple(parts[i].name for i in row), _offcut(good[kind], [parts[i] for i in row], kerf))
        for _, _, kind, row in sorted(used)
    )
    total = math.fsum(each.stick.length for each in laid)
    cost = sum(costs[kind] for _, _, kind, _ in used)
    return Layout(
        laid,
        total,
        total - math.fsum(part.length for part in parts),
        _price(sticks, laid),
        bound / GRAIN,
        (cost - bound) / cost if cost > bound else 0.0,
        method,
        len(pairs),
        together(groups, pairs),
    )


def _grains(length: float) -> int:
    return round(length * GRAIN)


def _price(sticks: Sequence[Stick], laid: Sequence[Laid]) -> float | None:
    """Of the sticks used; None where one of those offered has none."""
    if any(stick.price is None for stick in sticks):
        return None
    return float(sum((Fraction(repr(float(each.stick.price or 0.0))) for each in laid), Fraction(0)))


def _good_lengths(sticks: Sequence[Stick], kerf: float, trim: float, defects: float, unit: Unit) -> list[float]:
    """How much of each stick can be cut up, mm. Raises PreviewError as `lay_out` does."""
    for key, value, problem in (
        ("kerf", kerf, "a saw blade does not add wood"),
        ("trim", trim, "a trim takes wood off"),
    ):
        if not 0.0 <= value < float("inf"):
            raise PreviewError(key, show(value, unit), problem, "write it as a length without a minus sign, or 0")
    if not 0.0 <= defects < 1.0:
        raise PreviewError(
            "defects", f"{100 * defects:g} %", "a share of a stick is from 0 % to under 100 %", "write 10"
        )
    if not sticks:
        raise PreviewError("sticks", None, "there is no stick to cut from", "say which lengths can be had")
    problems, good = list[Problem](), list[float]()
    for number, stick in enumerate(sticks, 1):
        left = stick.length * (1.0 - defects) - 2.0 * trim
        good.append(left)
        place, long = f"stick {number}", show(stick.length, unit)
        if not 0.0 < stick.length < float("inf"):
            problems.append(Problem(place, long, "a stick has a length above 0", "write the length that is bought"))
        elif left <= 0.0:
            problem = f"nothing is left of it after {show(trim, unit)} at each end"
            problem += f" and {100 * defects:g} % for defects" if defects else ""
            problems.append(Problem(place, long, problem, "use longer sticks, or a shorter trim"))
        if stick.have is not None and stick.have < 0:
            problems.append(
                Problem(place, str(stick.have), "there are fewer than none of it", "write how many there are")
            )
        if stick.price is not None and not 0.0 <= stick.price < float("inf"):
            fix = "write the price of one stick"
            problems.append(Problem(place, f"{stick.price:g}", "a price is not below 0", fix))
        elif stick.price == 0.0 and stick.have is None:
            problem = "any number of sticks for nothing: every part would have one of its own"
            problems.append(Problem(place, "0", problem, "write how many there are, or what one costs"))
    if problems:
        raise PreviewError.several(problems)
    return good


def _refuse_parts(parts: Sequence[Part], good: Sequence[float], sticks: Sequence[Stick], unit: Unit) -> None:
    there = [(each, stick) for each, stick in zip(good, sticks, strict=True) if stick.have != 0]
    if not there and parts:
        raise PreviewError("sticks", None, "of every stick there are none in hand", "say which lengths can be had")
    problems = list[Problem]()
    for part in parts:
        place, long = f'part "{part.name}"', show(part.length, unit)
        most, stick = max(there, key=lambda each: each[0])
        if not 0.0 < part.length < float("inf"):
            problems.append(Problem(place, long, "a part has a length above 0", "leave it out"))
        elif _grains(part.length) > _grains(most):
            problem = f"it is longer than every stick: the longest, {show(stick.length, unit)}, "
            problem += f"holds {show(most, unit)} of good wood"
            fix = f"scarf it from pieces of at most {show(most, unit)}, or use sticks that hold {long}"
            problems.append(Problem(place, long, problem, fix))
    if problems:
        raise PreviewError.several(problems)


def _solved(cutting: Cutting, sticks: Sequence[Stick], unit: Unit) -> tuple[Filled, int, str]:
    """The layout with its bound, and how it is known. Raises PreviewError where the sticks in hand do not suffice.

    Where every stick that holds the longest part is limited, as many more as needed can be had at a price above that
    of all the sticks in hand: they are used only where nothing else helps.
    """
    longest = max(room for room, have in zip(cutting.rooms, cutting.have, strict=True) if have != 0)
    any_number = [room for room, have in zip(cutting.rooms, cutting.have, strict=True) if have is None]
    if cutting.sizes[0] <= max(any_number, default=0):
        found = solved(cutting)
        assert found is not None, "there are sticks of any number that hold every part"
        return found.filled, found.bound, _told(cutting, found.filled, found.bound, found.method)
    in_hand = sum(cost * (have or 0) for cost, have in zip(cutting.costs, cutting.have, strict=True))
    in_hand += sum(cutting.counts) * max(cutting.costs)
    more = Cutting(
        cutting.sizes,
        cutting.counts,
        (*cutting.rooms, longest),
        (*cutting.costs, in_hand + cutting.step),
        (*cutting.have, None),
    )
    found = solved(more)
    assert found is not None, "the last stick holds every part"
    lacking = sum(pattern.kind == len(sticks) for pattern in found.filled)
    if lacking:
        stick = sticks[cutting.rooms.index(longest)]
        proven = found.bound > in_hand
        have = counted(sum(s.have or 0 for s in sticks), "stick")
        would = f"{counted(lacking, 'more stick')} of {show(stick.length, unit)} would do"
        raise PreviewError(
            "sticks",
            None,
            f"{have} in hand cannot give all the parts: {would}"
            if proven
            else f"no way was found to cut the parts from {have} in hand, though there might be one: {would}",
            f"get {lacking} more of {show(stick.length, unit)}, or say which other lengths can be had",
        )
    return (
        found.filled,
        min(found.bound, cutting.cost(found.filled)),
        _told(more, found.filled, found.bound, found.method),
    )


def _told(cutting: Cutting, filled: Filled, bound: int, method: str) -> str:
    cost = cutting.cost(filled)
    if cost <= bound:
        return f"found by {method}; no layout takes less"
    return f"found by {method}; no layout takes over {100 * (cost - bound) / cost:.1f} % less"


def _grouped(filled: Filled, cutting: Cutting, sizes: Sequence[int]) -> Groups:
    """Which part is cut from which stick: of parts of one size, the first given first."""
    waiting = defaultdict(list)
    for part in reversed(range(len(sizes))):
        waiting[sizes[part]].append(part)

    def of(pattern: Pattern) -> tuple[int, ...]:
        counts = zip(cutting.sizes, pattern.counts, strict=True)
        return tuple(waiting[size].pop() for size, count in counts for _ in range(count))

    return tuple(of(pattern) for pattern in filled)


def _along_the_wall(parts: Sequence[Part]) -> tuple[list[int], list[tuple[int, int]]]:
    """The parts in the order of the wall, and each pair of neighbors, the earlier first. A ring begins at its first."""
    at = {part.name: i for i, part in enumerate(parts)}
    pairs = [
        (at[p.after], i) for i, p in enumerate(parts) if p.after is not None and p.after in at and at[p.after] != i
    ]
    following = defaultdict(list)
    for one, other in pairs:
        following[one].append(other)
    led = {other for _, other in pairs}
    order: dict[int, None] = {}
    for first in [*(i for i in range(len(parts)) if i not in led), *range(len(parts))]:
        ahead = [first]
        while ahead:
            part = ahead.pop()
            if part not in order:
                order[part] = None
                ahead += reversed(following[part])
    return list(order), pairs


def _row(
    group: Sequence[int], sizes: Sequence[int], pairs: Sequence[tuple[int, int]], place: dict[int, int], match: bool
) -> tuple[int, ...]:
    """The parts of a stick in the order they are cut: neighbors side by side, or the longest first."""
    if not match:
        return tuple(sorted(group, key=lambda part: (-sizes[part], part)))
    here = set(group)
    following, led = defaultdict(list), set[int]()
    for one, other in pairs:
        if one in here and other in here:
            following[one].append(other)
            led.add(other)
    ordered = sorted(group, key=place.__getitem__)
    row: dict[int, None] = {}
    for first in [*(part for part in ordered if part not in led), *ordered]:
        ahead = [first]
        while ahead:
            part = ahead.pop()
            if part not in row:
                row[part] = None
                ahead += sorted(following[part], key=place.__getitem__, reverse=True)
    return tuple(row)


def _offcut(good: float, parts: Sequence[Part], kerf: float) -> float:
    """What is left of the good wood after the parts and a kerf for each; nothing where the last kerf takes it."""
    left = good - sum(part.length for part in parts) - kerf * len(parts)
    return left if left > LESS else 0.0
