"""The walk: steps become elements end to end, first with sharp corners, then with splays and easements let in.

A person measures both straights beside a splayed corner to the corner it would be if it were sharp, and those
beside an easement to the point where the two slopes would meet. So the sharp walk is laid out (and closed) first,
and what is let in takes its room from the straights beside it: nothing else moves.

    set-back of a splay:     its facets turn by turn/n each, so together they span
                             chord = facet sin((n - 1) turn/2n) / sin(turn/2n), square to the line that halves the
                             corner; each straight loses  chord / (2 cos(turn/2)).
    tangent of an easement:  radius tan(|t2 - t1| / 2) along each slope, t the pitch; in plan times cos t.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from preview.errors import PreviewError, Problem
from preview.runs.element import Element, Vec2, arc, straight, turned
from preview.runs.refusals import LEAST_LENGTH
from preview.runs.steps import MITER, Block, Corner, Curve, Easement, Splay, Step, Straight, Way
from preview.units import Unit, show


@dataclass(frozen=True)
class Leg:
    """One element of the walk.

    number: the step it comes from. turn, way: of the joint just before it. block: the block that stands there, or "".
    let_in: a splay or an easement that lies just before it, and its step's number.
    """

    element: Element
    number: int
    turn: float = 0.0
    way: Way = MITER
    block: str = ""
    let_in: tuple[int, Splay | Easement] | None = None


def walked(steps: Sequence[Step], start: Vec2, heading: float) -> tuple[list[Leg], Vec2]:
    """The legs with sharp corners, and the direction after the last step.

    A corner or an easement that ends a closed run stands at the first leg, whose turn is left to whoever closes it.
    """
    legs: list[Leg] = []
    at, height, tangent = start, 0.0, turned((1.0, 0.0), heading)
    turn, way, let_in = 0.0, MITER, None
    for number, step in enumerate(steps, start=1):
        if isinstance(step, Corner | Splay):
            turn = step.turn
            tangent = turned(tangent, turn)
        if isinstance(step, Corner):
            way = step.way
        elif isinstance(step, Splay | Easement):
            let_in = (number, step)
        else:
            element = replace(_walked_on(step, at, tangent), height=height)
            legs.append(Leg(element, number, turn, way, step.name if isinstance(step, Block) else "", let_in))
            at, height, tangent = element.end, element.end_height, element.end_tangent
            turn, way, let_in = 0.0, MITER, None
    legs[0] = replace(legs[0], way=way, let_in=let_in)
    return legs, tangent


def _walked_on(step: Straight | Curve | Block, at: Vec2, tangent: Vec2) -> Element:
    if isinstance(step, Curve):
        return arc(at, tangent, step.radius, step.sweep)
    if isinstance(step, Block):
        return straight(at, tangent, step.width)
    return replace(straight(at, tangent, step.length), slope=step.slope)


# Splays and easements are let in.


def let_in(legs: Sequence[Leg], unit: Unit) -> list[Leg]:
    """The legs with their splays and easements, for which the straights beside them are cut back.

    Raises PreviewError, with the numbers, where a straight is too short for what is let in at its ends.
    """
    if not any(leg.let_in for leg in legs):
        return list(legs)
    before = [_set_back(legs[i - 1], leg) for i, leg in enumerate(legs)]
    _refuse_short(legs, before, unit)
    cut = [_cut_back(leg, before[i], before[(i + 1) % len(legs)]) for i, leg in enumerate(legs)]
    found: list[Leg] = []
    for i, leg in enumerate(cut):
        found += _between(cut[i - 1], leg) if i else ()
        found.append(replace(leg, turn=_last_turn(leg)))
    found += _between(cut[-1], cut[0])
    return found


def _set_back(before: Leg, after: Leg) -> float:
    """What a splay or an easement between two legs takes from each, mm along its own slope; 0 where there is none."""
    if after.let_in is None:
        return 0.0
    step = after.let_in[1]
    if isinstance(step, Easement):
        return step.radius * math.tan(abs(math.atan(after.element.slope) - math.atan(before.element.slope)) / 2)
    half = step.turn / step.turns / 2
    chord = step.facet * math.sin((step.turns - 1) * half) / math.sin(half)
    return chord / (2 * math.cos(step.turn / 2))


def _cut_back(leg: Leg, begin: float, end: float) -> Leg:
    """A straight less what is taken at its two ends, mm along its slope."""
    if not (begin or end):
        return leg
    element, level = leg.element, 1 / math.hypot(1.0, leg.element.slope)
    station = begin * level
    return replace(
        leg,
        element=replace(
            element,
            start=element.point(station),
            height=element.height + element.rise(station),
            length=element.length - station - end * level,
        ),
    )


def _between(before: Leg, after: Leg) -> Iterator[Leg]:
    """What is let in between two legs that are already cut back."""
    if after.let_in is None:
        return
    number, step = after.let_in
    one = before.element
    if isinstance(step, Splay):
        each = step.turn / step.turns
        at = one.end
        for count in range(1, step.turns):
            facet = replace(straight(at, turned(one.tangent, count * each), step.facet), height=one.end_height)
            yield Leg(facet, number, each)
            at = facet.end
    else:
        first, last = (math.atan(leg.element.slope) for leg in (before, after))
        yield Leg(
            Element(
                one.end,
                one.tangent,
                step.radius * abs(math.sin(last) - math.sin(first)),
                height=one.end_height,
                slope=one.slope,
                bend=math.copysign(1 / step.radius, last - first),
            ),
            number,
        )


def _last_turn(leg: Leg) -> float:
    """The corner just before a leg: of a splay, the last of its equal ones."""
    return leg.let_in[1].turn / leg.let_in[1].turns if leg.let_in and isinstance(leg.let_in[1], Splay) else leg.turn


def _refuse_short(legs: Sequence[Leg], before: Sequence[float], unit: Unit) -> None:
    problems: list[Problem] = []
    for i, leg in enumerate(legs):
        after = legs[(i + 1) % len(legs)]
        taken = [(before[i], leg.let_in), (before[(i + 1) % len(legs)], after.let_in)]
        long = leg.element.length * math.hypot(1.0, leg.element.slope)
        if long - sum(each for each, _ in taken) >= LEAST_LENGTH or not any(each for each, _ in taken):
            continue
        said = " and ".join(f"{_named(let_in)} {show(each, unit)}" for each, let_in in taken if let_in)
        smaller = " and ".join(
            dict.fromkeys(
                "a smaller radius" if isinstance(let_in[1], Easement) else "a shorter facet"
                for _, let_in in taken
                if let_in
            )
        )
        problems.append(
            Problem(
                f"step {leg.number}, straight",
                show(leg.element.length, unit),
                f"this straight is {show(long, unit)} long{' along its slope' if leg.element.slope else ''}, "
                f"of which {said}: nothing is left",
                f"use {smaller}, or check the length, which is measured to "
                + ("where the slopes would meet" if smaller == "a smaller radius" else "the sharp corner"),
            )
        )
    if problems:
        raise PreviewError.several(problems)


def _named(let_in: tuple[int, Splay | Easement]) -> str:
    noun = "easement" if isinstance(let_in[1], Easement) else "splayed corner"
    return f"the {noun} of step {let_in[0]} takes"
