"""In which order the pieces go up: what stands behind or between goes first, and what is fitted to it after.

The order within one joint is common practice, as each rule says; pieces that nothing sets apart keep the order of
travel.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from preview.build import Built
from preview.joinery import Joint, Piece

Rule = Literal["block", "curve", "cope", "scarf", "return"]

REASONS: dict[Rule, str] = {
    "block": "the molding ends at the block, so the block stands first",
    "curve": "a curved piece can't be trimmed to length, and a straight can",
    "cope": "the coped end is fitted to the face of the piece that butts into the corner",
    "scarf": "its cut laps over the face of the other, so it goes on second",
    "return": "the return is glued to its piece on the bench and goes up with it",
}
"""Why one piece goes before another; common practice throughout."""


@dataclass(frozen=True)
class Before:
    """That one piece, by its number in the build, goes up before another, at a joint and why."""

    first: int
    then: int
    rule: Rule
    joint: str = ""


@dataclass(frozen=True)
class Step:
    """One act of installing: the pieces that go up together, by their number, and what each is fitted to.

    fitted: the rules by which it comes after something already there. loose: joints at which it has to be left loose
    because a piece that belongs behind it comes later.
    """

    pieces: tuple[int, ...]
    fitted: tuple[Before, ...] = ()
    loose: tuple[Before, ...] = ()


def install_order(built: Built) -> tuple[Step, ...]:
    """The pieces in the order of installing, members one after the other as each run names them.

    Where copes go round a closed room there is no first piece: the order of travel begins, and that step says which
    end stays loose. Pieces glued up on the bench (returns) share a step with the piece that carries them.
    """
    rules = list(_rules(built))
    together = _glued(rules, len(built.pieces))
    wanted = _wanted(built)
    ahead: dict[int, list[Before]] = {}
    for rule in rules:
        if rule.rule != "return" and together[rule.first] != together[rule.then]:
            ahead.setdefault(together[rule.then], []).append(rule)
    groups: dict[int, list[int]] = {}
    for number in wanted:
        groups.setdefault(together[number], []).append(number)
    waiting, done, steps = list(groups), set[int](), []
    while waiting:
        free = (group for group in waiting if all(together[rule.first] in done for rule in ahead.get(group, ())))
        group = next(free, waiting[0])
        mine = ahead.get(group, [])
        fitted = tuple(rule for rule in mine if together[rule.first] in done)
        steps.append(Step(tuple(groups[group]), fitted, tuple(rule for rule in mine if rule not in fitted)))
        done.add(group)
        waiting.remove(group)
    return tuple(steps)


def _wanted(built: Built) -> list[int]:
    """All pieces in the order that nothing forbids: run by run, member by member, along the travel."""
    runs = [placed.run.name for placed in built.scene.runs]
    lines = [number for number, line in enumerate(built.lines) for _ in line.pieces]
    members = {placed.run.name: placed.members for placed in built.scene.runs}

    def place(number: int) -> tuple[int, int, int, int]:
        piece = built.pieces[number]
        mine = members[piece.run]
        layer = mine.index(piece.member) if piece.member in mine else -1
        return (runs.index(piece.run), layer, lines[number], number)

    return sorted(range(len(built.pieces)), key=place)


def _rules(built: Built) -> Iterator[Before]:
    for pair in built.joints:
        if pair.before is None or pair.after is None:
            continue
        before, after = built.pieces[pair.before], built.pieces[pair.after]
        found = _at_joint(pair.joint, before, after)
        if found is not None:
            rule, after_goes_first = found
            first, then = (pair.after, pair.before) if after_goes_first else (pair.before, pair.after)
            yield Before(first, then, rule, pair.joint.name)


def _at_joint(joint: Joint, before: Piece, after: Piece) -> tuple[Rule, bool] | None:
    """Which rule holds at a joint, and whether the piece after it goes up first; None where either may."""
    if "return" in (before.role, after.role) and before.role != after.role:
        return "return", before.role == "return"
    if "block" in (before.role, after.role) and before.role != after.role:
        return "block", after.role == "block"
    if joint.kind == "cope":
        return "cope", before.end.faced is not None
    if joint.kind == "scarf" and joint.slant:
        # The piece whose cut runs on as it comes out from the wall lies over the other.
        return "scarf", joint.slant > 0
    if bool(before.curvature) != bool(after.curvature):
        return "curve", bool(after.curvature)
    return None


def _glued(rules: Sequence[Before], count: int) -> list[int]:
    """For each piece the number of the piece with which it goes up: returns go with the piece that carries them."""
    found = list(range(count))
    for rule in rules:
        if rule.rule == "return":
            found[rule.then] = rule.first
    return found
