"""The straights of a run as a drawing tells of them: those in one line together, and corners made in several turns."""

from __future__ import annotations

import math
from collections.abc import Sequence

from preview.drafting.scales import length_text
from preview.runs import Element, Run
from preview.units import Unit, listed

SQUARE = math.radians(0.005)
"""An angle that is square to within this is not dimensioned."""
SAME = 0.01
"""mm; lengths that differ by less are one."""
FACET = 0.25
"""A straight shorter than this part of both its neighbors, between equal turns, is a facet of a corner."""


def stretches(run: Run) -> list[list[int]]:
    """The straights of a run by their number, those that go on in one line together; blocks among them."""
    found: list[list[int]] = []
    for i, element in enumerate(run.elements):
        if element.sweep:
            continue
        if found and found[-1][-1] == i - 1 and abs(run.turns[i]) < 1e-9:
            found[-1].append(i)
        else:
            found.append([i])
    return found


def splays(run: Run) -> list[list[int]]:
    """The corners that are made in several equal turns: the straights between those, by their number."""
    found: list[list[int]] = []
    for i in range(1, len(run.elements) - 1):
        element, turn = run.elements[i], run.turns[i]
        before, after = run.elements[i - 1].length, run.elements[i + 1].length
        if element.sweep or abs(turn) < 1e-9 or abs(turn - run.turns[i + 1]) > SQUARE:
            continue
        if found and found[-1][-1] == i - 1 and abs(run.elements[i - 1].length - element.length) < SAME:
            found[-1].append(i)
        elif element.length < before + SAME and element.length < FACET * min(before, max(after, before)):
            found.append([i])
    return [row for row in found if max(run.elements[row[-1] + 1].length, SAME) * FACET > run.elements[row[0]].length]


def length_of(run: Run, row: Sequence[int]) -> float:
    """How long straights of one line are together, mm in plan."""
    return sum(run.elements[i].length for i in row)


def run_names(names: Sequence[str]) -> str:
    """Runs in a row; those whose names have a comma are parted by semicolons.

    >>> run_names(["rail", "cornice"]), run_names(["base, left", "base, right"])
    ('rail and cornice', 'base, left; base, right')
    """
    return "; ".join(names) if any("," in name for name in names) else listed(names)


def climbs(run: Run) -> bool:
    """Whether a run climbs or falls anywhere; lengths on its wall line are then level, shorter than the molding's."""
    return any(element.slope or element.bend for element in run.elements)


def climb_text(element: Element, unit: Unit) -> str:
    """What follows an element's level length where it climbs: how long it is itself; else nothing."""
    if not element.slope and not element.bend:
        return ""
    return f" ({'curve' if element.bend else 'slope'} {length_text(element.walked(element.length), unit)})"
