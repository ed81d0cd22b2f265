"""The waist: a scene becomes pieces, joints and meshes, and everything later reads this one value."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from preview.checks import JointPair
from preview.errors import PreviewError, Problem
from preview.joinery import (
    BlockShape,
    Joint,
    Meeting,
    MemberRun,
    NearMiss,
    Piece,
    block_lines,
    exact_volumes,
    hidden,
    join,
    meeting_ends,
)
from preview.models.mesh import PieceMesh, mesh_runs
from preview.profiles import TOUCHING, Arc, Line, Profile, distance_to, lying, measure, open_strips
from preview.runs import IN_PLAN, Run
from preview.scene import Block, Finish, JobDetails, Member, Scene, ShopDetails
from preview.shop import JointForecast, forecast
from preview.units import Unit, show

MOST_NEAR = 100
"""Pairs of ends that come near each other and are told one by one."""
NO_FINISH = Finish("", (0.0, 0.0, 0.0))


@dataclass(frozen=True)
class Built:
    """A scene cut to pieces; values only.

    members, pieces, meshes and volumes (closed form, mm³) are in one order; joints name pieces by their index.
    digest: SHA-256 of the exact geometry, names and finishes, the same on every machine. remarks: what is worth a
    second look though nothing is wrong with it. forecasts: how far each joint may open on site, where the scene says
    what to reckon with.
    """

    scene: Scene
    lines: tuple[MemberRun, ...]
    members: tuple[Member, ...]
    pieces: tuple[Piece, ...]
    joints: tuple[JointPair, ...]
    meshes: tuple[PieceMesh, ...]
    volumes: tuple[float, ...]
    digest: str
    remarks: tuple[str, ...] = ()
    forecasts: tuple[JointForecast, ...] = ()


def build(scene: Scene) -> Built:
    """Cut every member along every run, join the pieces and make their meshes.

    Raises PreviewError, naming the scene's file, for joints that cannot be made; all of them at once.
    """
    members = {member.name: member for member in scene.members}
    lines: list[MemberRun] = []
    looks: list[Member] = []
    problems: list[Problem] = []
    for placed in scene.runs:
        run = placed.run
        reveal = min((measure(members[name].profile).h_min for name in placed.members), default=0.0)
        blocks = {block.name: _shape(block, run, reveal) for block in scene.blocks}
        for name in placed.members:
            profile = members[name].profile
            try:
                lines.append(
                    join(
                        run,
                        name,
                        profile if run.stand == IN_PLAN else lying(profile),
                        unit=scene.units,
                        blocks=blocks,
                    )
                )
            except PreviewError as error:
                problems += error.in_file(scene.path.name).problems
            else:
                looks.append(members[name])
        if not problems:
            standing = block_lines(run, blocks)
            lines += standing
            looks += [_as_member(block) for line in standing for block in scene.blocks if block.name == line.member]
    if problems:
        raise PreviewError.several(problems)
    pieces = tuple(piece for line in lines for piece in line.pieces)
    try:
        meshes = tuple(mesh_runs(lines, scene.chord))
    except PreviewError as error:
        raise error.in_file(scene.path.name) from None
    volumes = tuple(float(v) for line in lines for v in exact_volumes(line.pieces))
    butts, near = meeting_ends(lines)
    joints = tuple(_pairs(lines, butts))
    forecasts: tuple[JointForecast, ...] = ()
    if scene.site is not None:
        try:
            forecasts = forecast(joints, pieces, scene.site, unit=scene.units)
        except PreviewError as error:
            raise error.in_file(scene.path.name) from None
    return Built(
        scene,
        tuple(lines),
        tuple(look for look, line in zip(looks, lines, strict=True) for _ in line.pieces),
        pieces,
        joints,
        meshes,
        volumes,
        model_digest(lines, looks),
        tuple(_remarks(lines, near, scene.units)),
        forecasts,
    )


def refinished(built: Built, scene: Scene) -> Built | None:
    """The build of a scene that differs from one that is built in its finishes alone; None where more is different."""
    if _plain(scene) != _plain(built.scene):
        return None
    finishes = {member.name: member.finish for member in scene.members} | {b.name: b.finish for b in scene.blocks}
    members = tuple(replace(member, finish=finishes[member.name]) for member in built.members)
    looks = {(piece.run, piece.member): member for piece, member in zip(built.pieces, members, strict=True)}
    of_lines = [looks[line.pieces[0].run, line.pieces[0].member] for line in built.lines]
    return replace(built, scene=scene, members=members, digest=model_digest(list(built.lines), of_lines))


def _plain(scene: Scene) -> Scene:
    """A scene without its finishes and options, its job, its pictures and its shop."""
    return replace(
        scene,
        members=tuple(replace(member, finish=NO_FINISH) for member in scene.members),
        blocks=tuple(replace(block, finish=NO_FINISH) for block in scene.blocks),
        surroundings=tuple(replace(thing, finish=NO_FINISH) for thing in scene.surroundings),
        files=(),
        choices=(),
        variants=(),
        finishes=(),
        job=JobDetails(),
        pictures=(),
        shop=ShopDetails(),
    )


def _shape(block: Block, run: Run, reveal: float) -> BlockShape:
    """A block as a run sees it: on the face of a wall it stands up along the run, or across it.

    reveal: how far the run's molding stands back from its line, as a block on the face of a wall does unless its own
    `up` says otherwise.
    """
    size = measure(block.profile)
    if run.stand == IN_PLAN:
        lap = block.width if block.lap is None else block.lap
        return BlockShape(block.name, block.profile.moved(0.0, block.up or 0.0), block.width, lap, size.d_max)
    back = reveal if block.up is None else block.up
    section = lying(block.profile)
    if any(name == block.name and abs(e.tangent[1]) > 0.5 for name, e in zip(run.blocks, run.elements, strict=False)):
        corners = ((0.0, 0.0), (block.width, 0.0), (block.width, size.d_max), (0.0, size.d_max))
        section = Profile(
            block.name, tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
        )
    return BlockShape(block.name, section.moved(back, 0.0), block.width, block.lap or 0.0, block.width, back)


def _as_member(block: Block) -> Member:
    return Member(block.name, block.profile, 0.0, 0.0, block.finish, block.source)


def _pairs(lines: list[MemberRun], butts: list[Meeting]) -> Iterator[JointPair]:
    first = 0
    at = {piece.name: i for i, piece in enumerate(piece for line in lines for piece in line.pieces)}
    blocks = {
        (line.run.name, line.pieces[0].name.rsplit(" / ", 1)[1]): at[line.pieces[0].name]
        for line in lines
        if line.pieces and line.pieces[0].role == "block"
    }
    for line in lines:
        for joint, (before, after), block in zip(line.joints, line.between, line.blocks, strict=True):
            stands = blocks.get((line.run.name, block)) if block else None
            yield JointPair(
                joint,
                stands if before is None else first + before,
                stands if after is None else first + after,
            )
        first += len(line.pieces)
    for butt in butts:
        first_end, second_end = butt.first, butt.second
        before, after = at[first_end.piece.name], at[second_end.piece.name]
        yield JointPair(butt.joint, before, after, first_end.at_end, second_end.at_end)


def _remarks(lines: list[MemberRun], near: list[NearMiss], unit: Unit) -> Iterator[str]:
    for miss in near[:MOST_NEAR]:
        yield (
            f"an end of {miss.first} and an end of {miss.second} come within {show(miss.apart, unit)} of each other "
            f"and were not checked as a joint: {miss.why}; make them one run, or part them"
        )
    if len(near) > MOST_NEAR:
        yield f"{len(near) - MOST_NEAR:,} more pairs of ends come as near to each other"
    told: set[str] = set()
    for line in lines:
        if any(piece.is_faced for piece in line.pieces):
            for hollow in hidden(line.profile):
                yield (
                    f"{line.name}: an end cut to this profile's face leaves a hollow {show(hollow.depth, unit)} deep "
                    f"from {show(hollow.low, unit)} to {show(hollow.high, unit)} up, where the face lies under a lip"
                )
        behind = -measure(line.profile).d_min
        if line.pieces and line.pieces[0].role != "block" and behind > 1e-6 and line.member not in told:
            told.add(line.member)
            yield f'member "{line.member}" reaches {show(behind, unit)} behind the wall line'
    yield from _loose(lines, unit)
    yield from _open(lines, unit)


def _loose(lines: list[MemberRun], unit: Unit) -> Iterator[str]:
    """Members of a build-up that touch neither the wall nor another member, as when a profile behind them changed."""
    told: set[str] = set()
    for line in lines:
        others = [other for other in lines if other is not line and other.run is line.run]
        out = measure(line.profile).d_min
        if out < TOUCHING or not others or not line.pieces or line.pieces[0].role == "block" or line.member in told:
            continue
        apart, nearest = min((_apart(line.profile, other.profile), other.member) for other in others)
        if apart > TOUCHING:
            told.add(line.member)
            yield (
                f'member "{line.member}" bears on nothing: it stands {show(out, unit)} off the wall and '
                f'{show(apart, unit)} off member "{nearest}"'
            )


def _open(lines: list[MemberRun], unit: Unit) -> Iterator[str]:
    """Members of a build-up between which the wall shows, once for all the runs where it is so."""
    told: dict[tuple[str, str, str], dict[str, None]] = {}
    for run in dict.fromkeys(line.run for line in lines):
        mine = [(line.member, line.profile) for line in lines if line.run is run and line.pieces[0].role != "block"]
        for strip in open_strips(mine, across=run.stand != IN_PLAN):
            told.setdefault((strip.below, strip.above, show(strip.width, unit)), {})[run.name] = None
    for (below, above, width), runs in told.items():
        yield f"{'; '.join(runs)}: between {below} and {above} the wall shows, {width} wide"


def _apart(one: Profile, other: Profile) -> float:
    """How near, mm, two outlines come to each other; 0 where they touch. Points of either, 0.5 mm apart at most."""
    return min(float(distance_to(b, _outline_points(a)).min()) for a, b in ((one, other), (other, one)))


def _outline_points(profile: Profile) -> NDArray[np.float64]:
    """Points (n, 2) along an outline, 0.5 mm apart at most, its corners among them."""
    points = [edge.point(np.linspace(0.0, 1.0, 2 + int(edge.length / 0.5))) for edge in profile.edges]
    return np.concatenate(points)


def model_digest(lines: list[MemberRun], looks: list[Member]) -> str:
    """A digest of what the client sees and the shop cuts: exact sections, runs, joints, names and finishes.

    Numbers are taken to 1e-6 mm (and 1e-9 radian), far below any tolerance, so that the last bit of a machine's
    arithmetic does not change it. Mesh settings do not enter.
    """
    text: list[str] = ["molding-preview model 1"]

    def number(value: float, digits: int = 6) -> str:
        return f"{round(value, digits) + 0.0:.{digits}f}"

    def numbers(*values: float) -> str:
        return " ".join(number(value) for value in values)

    for line, look in zip(lines, looks, strict=True):
        finish = look.finish
        color = " ".join(number(part) for part in finish.color)
        shine = f"{finish.kind} {number(finish.roughness)} {number(finish.metallic)}"
        text.append(f"line {line.name!r} finish {finish.name!r} {color} {shine}")
        for edge in line.profile.edges:
            bend = number(edge.sweep, 9) if isinstance(edge, Arc) else "straight"
            text.append(f"edge {numbers(*edge.start, *edge.end)} {bend}")
        for piece in line.pieces:
            e = piece.element
            text.append(f"piece {piece.name!r} {piece.hand} {numbers(*e.start, *e.end, e.length)} {number(e.sweep, 9)}")
            if not piece.is_level or piece.square:
                climb = f"{numbers(e.height)} {number(e.slope, 9)} {number(e.bend, 9)} {number(piece.shear, 9)}"
                text.append(f"climbs {climb}{' square' if piece.square else ''}")
            followed = [name for name, end in (("begin", piece.begin), ("end", piece.end)) if end.faced is not None]
            if followed:
                text.append(f"follows a face at its {' and '.join(followed)}")
        if line.run.stand != IN_PLAN:
            stand = line.run.stand
            text.append(f"stands {numbers(*stand.origin)} {' '.join(number(v, 9) for v in (*stand.x, *stand.y))}")
        text += [_joint_text(joint) for joint in line.joints]
    return hashlib.sha256("\n".join(text).encode()).hexdigest()


def _joint_text(joint: Joint) -> str:
    slant = f" {round(joint.slant, 9) + 0.0:.9f}" if joint.slant else ""
    return f"joint {joint.kind} {round(joint.turn, 9) + 0.0:.9f}{slant}"
