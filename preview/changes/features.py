"""A run as a person speaks of it: straights, easements and blocks, and the turns between them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Literal

from preview.runs import Element, Run, Way

FeatureKind = Literal["straight", "easement", "block", "turn"]
Treatment = Literal["mitered", "coped", "turned", "splayed", "blocked"]
STEP = re.compile(r"step (\d+)")


@dataclass(frozen=True)
class Feature:
    """One thing that is walked along a run.

    length: mm walked along the wall, of a straight, an easement or a block. slope: mm risen for each mm in plan.
    lengths: of stock that a straight is scarfed from. turn: radians, + toward the room (an inside corner). treatment:
    of a turn. radius: of a curve or an easement, mm. facets: the miters that a splayed corner is made of; facet: mm
    between them. block: the name of one that stands here. coped: the piece that is cut at a coped corner. first: the
    element of the run at which it stands, from 0; a corner stands at the start of one.
    """

    kind: FeatureKind
    length: float = 0.0
    slope: float = 0.0
    lengths: int = 1
    turn: float = 0.0
    treatment: Treatment | None = None
    radius: float = 0.0
    facets: int = 0
    facet: float = 0.0
    block: str = ""
    coped: str = ""
    first: int = field(default=0, compare=False)

    @property
    def side(self) -> str:
        """Which way a turn goes, seen from the room."""
        return "inside" if self.turn > 0 else "outside"

    def same_as(self, other: Feature, within: float = 1e-6) -> bool:
        """Whether both are one and the same thing, lengths to so many mm."""
        said = (self.kind, self.lengths, self.treatment, self.facets, self.block, self.coped)
        if said != (other.kind, other.lengths, other.treatment, other.facets, other.block, other.coped):
            return False
        sizes = zip((self.length, self.radius, self.facet), (other.length, other.radius, other.facet), strict=True)
        angles = zip((self.turn, self.slope), (other.turn, other.slope), strict=True)
        return all(abs(a - b) <= within for a, b in sizes) and all(abs(a - b) <= within / 100 for a, b in angles)


def features(run: Run) -> tuple[Feature, ...]:
    """The features of a run in the order of travel."""
    return tuple(_features(run))


def _features(run: Run) -> Iterator[Feature]:
    count = len(run.elements)
    within = _facets(run)
    facets: list[int] = []  # of the splayed corner that is under way
    straight: Feature | None = None  # may go on after a scarf
    for i in range(count):
        turn, way = run.hand * run.turns[i], run.ways[i] if run.ways else Way()
        if straight is not None and way.kind == "scarf":
            straight = _scarfed(straight, run.elements[i])
            continue
        if straight is not None:
            yield straight
            straight = None
        if i in within:
            facets.append(i)
            continue
        if facets:
            yield _splay(run, facets, turn)
            facets = []
        elif turn and (i or count - 1 not in within):  # else it is the last of a splayed corner that closes the run
            yield replace(_corner(turn, way), first=i)
        one = replace(_along(run, i), first=i)
        if one.kind == "straight":
            straight = one
        else:
            yield one
    if straight is not None:
        yield straight
    if facets:
        yield _splay(run, facets, run.hand * run.turns[0])


def _facets(run: Run) -> set[int]:
    """The short straights within splayed corners: there the run turns without a step of its own for it.

    A splayed corner is one step, and its facets bear its number; the straight after it has the next one.
    """
    steps = [STEP.fullmatch(place) for place in run.places]
    numbers = [int(step[1]) for step in steps if step is not None]
    if len(numbers) != len(run.elements):
        return set()
    found: set[int] = set()
    for i in range(1, len(numbers)):
        before = i - 1 in found
        if run.turns[i] and numbers[i] - numbers[i - 1] == (0 if before else 1):
            found.add(i)
    return found


def _splay(run: Run, facets: list[int], last: float) -> Feature:
    turn = last + math.fsum(run.hand * run.turns[i] for i in facets)
    long = run.elements[facets[0]].length
    return Feature("turn", turn=turn, treatment="splayed", facets=len(facets) + 1, facet=long, first=facets[0])


def _corner(turn: float, way: Way) -> Feature:
    if way.kind == "cope":
        return Feature("turn", turn=turn, treatment="coped", coped=way.coped)
    if way.kind == "block":
        return Feature("turn", turn=turn, treatment="blocked", block=way.block)
    return Feature("turn", turn=turn, treatment="mitered")


def _along(run: Run, i: int) -> Feature:
    element = run.elements[i]
    block = run.blocks[i] if run.blocks else ""
    if block:
        return Feature("block", length=element.length, block=block)
    if element.curvature:
        return Feature("turn", turn=run.hand * element.sweep, treatment="turned", radius=element.radius)
    long = float(element.walked(element.length))
    if element.bend:
        return Feature("easement", length=long, radius=abs(1 / element.bend), slope=element.slope)
    return Feature("straight", length=long, slope=element.slope)


def _scarfed(so_far: Feature, more: Element) -> Feature:
    long = so_far.length + float(more.walked(more.length))
    return replace(so_far, length=long, lengths=so_far.lengths + 1)
