"""Which run, member and block of one version is which one of the next: by name, and where a name changed by shape."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

from preview.build import Built
from preview.changes.features import features
from preview.changes.outlines import same_outline
from preview.profiles import Profile
from preview.runs import Run
from preview.scene import Block, Member, RunInScene

T = TypeVar("T")
Pairs = list[tuple[T | None, T | None]]


def run_pairs(before: Built, after: Built) -> Pairs[RunInScene]:
    """The runs of both versions; None where one of them has no such run."""
    return _paired(before.scene.runs, after.scene.runs, lambda placed: placed.run.name, _same_run)


def member_pairs(before: Built, after: Built) -> Pairs[Member]:
    """The members that stand along some run, of both versions."""
    return _paired(used_members(before), used_members(after), lambda member: member.name, _same_member)


def block_pairs(before: Built, after: Built) -> Pairs[Block]:
    """The blocks that stand along some run, of both versions."""
    return _paired(used_blocks(before), used_blocks(after), lambda block: block.name, _same_block)


def used_members(built: Built) -> list[Member]:
    """The members that follow a run, in the scene's order."""
    names = {name for placed in built.scene.runs for name in placed.members}
    return [member for member in built.scene.members if member.name in names]


def used_blocks(built: Built) -> list[Block]:
    """The blocks that stand along a run, in the scene's order."""
    names = {name for placed in built.scene.runs for name in placed.run.blocks}
    names |= {way.block for placed in built.scene.runs for way in placed.run.ways}
    return [block for block in built.scene.blocks if block.name in names]


def plain(member: Member) -> Profile:
    """A member's profile as it was drawn, without the shifts of the member."""
    return member.profile.moved(-member.out, -member.up)


def same_path(one: Run, other: Run) -> bool:
    """Whether two runs are walked alike, wherever they stand."""
    first, second = features(one), features(other)
    return len(first) == len(second) and all(a.same_as(b, 1e-3) for a, b in zip(first, second, strict=True))


def _paired(
    before: Sequence[T], after: Sequence[T], name: Callable[[T], str], same: Callable[[T, T], bool]
) -> Pairs[T]:
    """Pairs by name; of those left over the ones of one shape; and a last one on each side, which took its place."""
    others = {name(each): each for each in after}
    partner: dict[str, T] = {name(each): others.pop(name(each)) for each in before if name(each) in others}
    left = [each for each in before if name(each) not in partner]
    for one in left:
        found = next((each for each in others.values() if same(one, each)), None)
        if found is not None:
            partner[name(one)] = others.pop(name(found))
    left = [each for each in left if name(each) not in partner]
    if len(left) == len(others) == 1:
        partner[name(left[0])] = others.pop(next(iter(others)))
    pairs: Pairs[T] = [(each, partner.get(name(each))) for each in before]
    return [*pairs, *((None, each) for each in others.values())]


def _same_run(one: RunInScene, other: RunInScene) -> bool:
    return one.run.room == other.run.room and same_path(one.run, other.run)


def _same_member(one: Member, other: Member) -> bool:
    return same_outline(one.profile, other.profile)


def _same_block(one: Block, other: Block) -> bool:
    return one.width == other.width and same_outline(one.profile, other.profile)
