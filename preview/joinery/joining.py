"""The joining of a member along a run: every piece, with the cut at each of its ends."""

from __future__ import annotations

from collections.abc import Mapping

from preview.errors import PreviewError
from preview.joinery.corners import Corner, beside_block, corner, end_of
from preview.joinery.joint import Joint
from preview.joinery.parts import BlockShape, parts_of, raised, refuse_blocks, shears_of
from preview.joinery.piece import MemberRun, Piece
from preview.joinery.refusals import refuse_copes, refuse_faced, refuse_folds, refuse_lengths, refuse_unmet
from preview.profiles import Profile, measure
from preview.runs import Run
from preview.units import Unit, show

NO_BLOCKS: Mapping[str, BlockShape] = {}


def join(
    run: Run, member: str, profile: Profile, *, unit: Unit = "mm", blocks: Mapping[str, BlockShape] = NO_BLOCKS
) -> MemberRun:
    """Cut a member's profile to a run: every piece with its two joints.

    `profile` is already moved by the member's shifts; the run's level is added here. `unit` is how lengths are
    spoken of in errors; `blocks` are those that the run names. Raises PreviewError, with the numbers, when a curve
    folds the face, when the offset curves at a corner do not meet, when a piece is consumed by its two cuts, when a
    curve comes round onto itself, or when raked profiles cannot meet.
    """
    parts = parts_of(run, blocks)
    # Square to a rake, a height of the profile would lean: there the back line itself stands at the level.
    leans = any(part.square for part in parts)
    if leans:
        parts = [raised(part, run.level) for part in parts]
    placed = profile.moved(0.0, 0.0 if leans else run.level)
    size = measure(placed)
    if size.d_max <= 0:
        raise PreviewError(
            f'run "{run.name}", member "{member}"',
            None,
            f"the member lies wholly inside the wall: it ends {show(-size.d_max, unit)} behind the wall line",
            "make its out larger",
        )
    refuse_folds(run, member, size.d_min, size.d_max, unit)
    refuse_blocks(run, member, parts, blocks, size.d_max, unit)
    refuse_copes(run, member, size.d_min, unit)
    shears = shears_of(run, member, parts)
    count = len(parts)
    number = {i: n for n, i in enumerate(i for i, part in enumerate(parts) if not part.block)}
    begins: dict[int, Joint] = {}
    ends: dict[int, Joint] = {}
    told: list[tuple[Joint, int | None, int | None, str]] = []
    stands: list[int] = []  # the element of the run at which each of them stands

    def add(found: Corner, before: int | None, after: int | None, block: str = "") -> None:
        if before is not None:
            ends[before] = found.before
        if after is not None:
            begins[after] = found.after
        stands.extend([parts[each].index for each in (after, before) if each is not None][:1])
        told.append(
            (found.joint, None if before is None else number[before], None if after is None else number[after], block)
        )

    if not run.closed and not parts[0].block:
        add(end_of(run, member, placed, parts[0], shears[0], begins=True), None, 0)
    for i in range(0 if run.closed else 1, count):
        j = (i - 1) % count
        one, two = parts[j], parts[i]
        if not (one.block or two.block):
            add(corner(run, member, placed, one, two, shears[j], shears[i]), j, i)
        elif not one.block:
            add(
                beside_block(run, member, one, shears[j], f"{one.label} to {two.label}", begins=False),
                j,
                None,
                two.label,
            )
        elif not two.block:
            add(
                beside_block(run, member, two, shears[i], f"{one.label} to {two.label}", begins=True),
                None,
                i,
                one.label,
            )
    if not run.closed and not parts[-1].block:
        add(end_of(run, member, placed, parts[-1], shears[-1], begins=False), count - 1, None)
    joints = tuple(joint for joint, *_ in told)
    refuse_unmet(run, member, list(zip(joints, stands, strict=True)), size.d_min, size.d_max, unit)
    pieces = tuple(
        Piece(
            name=f"{run.name} / {member} / {part.label}",
            run=run.name,
            member=member,
            index=part.index + 1,
            element=part.element,
            hand=run.hand,
            profile=placed,
            begin=begins[i],
            end=ends[i],
            shear=shears[i],
            square=part.square,
            stand=run.stand,
            role="return" if part.is_return else "molding",
        )
        for i, part in enumerate(parts)
        if not part.block
    )
    refuse_faced(run, member, pieces)
    refuse_lengths(run, member, placed, pieces, unit)
    return MemberRun(
        f"{run.name} / {member}",
        run,
        member,
        placed,
        pieces,
        joints,
        tuple((before, after) for _, before, after, _ in told),
        tuple(block for *_, block in told),
    )
