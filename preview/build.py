"""The waist: a scene becomes pieces, joints and meshes, and everything later reads this one value."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass

from preview.checks import JointPair
from preview.errors import PreviewError, Problem
from preview.joinery import Joint, Meeting, MemberRun, NearMiss, Piece, exact_volumes, join, meeting_ends
from preview.models.mesh import PieceMesh, mesh_runs
from preview.profiles import Arc, measure
from preview.scene import Member, Scene
from preview.units import Unit, show


@dataclass(frozen=True)
class Built:
    """A scene cut to pieces; values only.

    members, pieces, meshes and volumes (closed form, mm³) are in one order; joints name pieces by their index.
    digest: SHA-256 of the exact geometry, names and finishes, the same on every machine. remarks: what is worth a
    second look though nothing is wrong with it.
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


def build(scene: Scene) -> Built:
    """Cut every member along every run, join the pieces and make their meshes.

    Raises PreviewError, naming the scene's file, for joints that cannot be made; all of them at once.
    """
    members = {member.name: member for member in scene.members}
    lines: list[MemberRun] = []
    problems: list[Problem] = []
    for placed in scene.runs:
        for name in placed.members:
            try:
                lines.append(join(placed.run, name, members[name].profile, unit=scene.units))
            except PreviewError as error:
                problems += error.in_file(scene.path.name).problems
    if problems:
        raise PreviewError.several(problems)
    pieces = tuple(piece for line in lines for piece in line.pieces)
    meshes = tuple(mesh_runs(lines, scene.chord))
    volumes = tuple(float(v) for line in lines for v in exact_volumes(line.pieces))
    butts, near = meeting_ends(lines)
    return Built(
        scene,
        tuple(lines),
        tuple(members[piece.member] for piece in pieces),
        pieces,
        tuple(_pairs(lines, butts)),
        meshes,
        volumes,
        model_digest(lines, members),
        tuple(_remarks(lines, near, scene.units)),
    )


def _pairs(lines: list[MemberRun], butts: list[Meeting]) -> Iterator[JointPair]:
    first = 0
    at: dict[str, int] = {}
    for line in lines:
        count = len(line.pieces)
        for i, joint in enumerate(line.joints):
            closed = line.run.closed
            before = first + (i - 1) % count if closed or i > 0 else None
            after = first + i if i < count else None
            yield JointPair(joint, before, after)
        at.update({piece.name: first + i for i, piece in enumerate(line.pieces)})
        first += count
    for butt in butts:
        first_end, second_end = butt.first, butt.second
        before, after = at[first_end.piece.name], at[second_end.piece.name]
        yield JointPair(butt.joint, before, after, first_end.at_end, second_end.at_end)


def _remarks(lines: list[MemberRun], near: list[NearMiss], unit: Unit) -> Iterator[str]:
    for miss in near:
        yield (
            f"an end of {miss.first} and an end of {miss.second} come within {show(miss.apart, unit)} of each other "
            f"and were not checked as a joint: {miss.why}; make them one run, or part them"
        )
    told: set[str] = set()
    for line in lines:
        behind = -measure(line.profile).d_min
        if behind > 1e-6 and line.member not in told:
            told.add(line.member)
            yield f'member "{line.member}" reaches {show(behind, unit)} behind the wall line'


def model_digest(lines: list[MemberRun], members: dict[str, Member]) -> str:
    """A digest of what the client sees and the shop cuts: exact sections, runs, joints, names and finishes.

    Numbers are taken to 1e-6 mm (and 1e-9 radian), far below any tolerance, so that the last bit of a machine's
    arithmetic does not change it. Mesh settings do not enter.
    """
    text: list[str] = ["molding-preview model 1"]

    def number(value: float, digits: int = 6) -> str:
        return f"{round(value, digits) + 0.0:.{digits}f}"

    def numbers(*values: float) -> str:
        return " ".join(number(value) for value in values)

    for line in lines:
        finish = members[line.member].finish
        color = " ".join(number(part) for part in finish.color)
        shine = f"{finish.kind} {number(finish.roughness)} {number(finish.metallic)}"
        text.append(f"line {line.name!r} finish {finish.name!r} {color} {shine}")
        for edge in line.profile.edges:
            bend = number(edge.sweep, 9) if isinstance(edge, Arc) else "straight"
            text.append(f"edge {numbers(*edge.start, *edge.end)} {bend}")
        for piece in line.pieces:
            e = piece.element
            text.append(f"piece {piece.name!r} {piece.hand} {numbers(*e.start, *e.end, e.length)} {number(e.sweep, 9)}")
        text += [_joint_text(joint) for joint in line.joints]
    return hashlib.sha256("\n".join(text).encode()).hexdigest()


def _joint_text(joint: Joint) -> str:
    return f"joint {joint.kind} {round(joint.turn, 9) + 0.0:.9f}"
