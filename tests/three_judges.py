"""Three judges of one scene: the closed form, Open CASCADE, and a kernel for solids of triangles (manifold3d).

    verdict = judged(case, folder)      what they find at fault, and how near to each other they come at worst

1. The closed form (`preview.joinery`): exact volumes from the sections and the cuts, and as a second road, where one is
   open, the same volume integrated.
2. Open CASCADE (through `preview.models.solid`): validity, volume and box of the exact solid; in a sample of the cases
   the wood that neighbors share, by its boolean operation.
3. manifold3d, on the GLB as it is exported and read back: status, genus, volume and shared wood; with it every check
   of `preview.checks` on the same bodies.

A case is told to be refused where the project says so with its own error; anything else that is raised is a fault.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any

import manifold3d
import numpy as np
from numpy.typing import NDArray

from judged_cases import SCENE, Case
from preview.build import Built, build
from preview.checks import Body, Finding, Inspection, inspect_bodies, inspect_solids, read_glb
from preview.checks.surface import weld
from preview.errors import PreviewError
from preview.exports import Part, glb_bytes
from preview.joinery import UPRIGHT, Piece, integrated_volume
from preview.models import solid
from preview.models.solid.measures import EASED, RELATIVE, box_of, is_sound, volume_of, volume_sums
from preview.scene import parse_scene

Floats = NDArray[np.float64]
AGREES = 1e-9
"""How far, relative, volumes may lie apart, where nothing else is said."""
SOLID_AGREES = {"faced": 1e-9, "easement": 1e-9, "curved miter": 1e-9, "curve": 1e-9, "rake": 1e-9, "plane": 1e-9}
"""The same between closed form and Open CASCADE, by the hardest thing about a piece."""
BOX_WIDE = 2e-6
"""mm by which the kernel's box may be too wide or too narrow: twice what it promises."""
SLIVERS = 1e-5
"""By how much, relative, manifold3d's own cleaning may change a volume where triangles are very long and low."""
SHARED = 1e-3
"""The wood, mm³, that neighbors may share by Open CASCADE before its own tolerance (1e-7 mm) times the face."""
MEETING = ("gap", "step", "angle")


@dataclass
class Verdict:
    """What the judges say of a case.

    refused: the project's own words, where it refuses the scene. faults: each in words. worst: for each comparison the
    largest figure, as a share of what is allowed where `share` is in its name. joints, pieces: how many there are.
    """

    case: Case
    refused: str = ""
    faults: list[str] = field(default_factory=list)
    worst: dict[str, float] = field(default_factory=dict)
    joints: Counter[str] = field(default_factory=Counter)
    pieces: Counter[str] = field(default_factory=Counter)

    def hold(self, what: str, subject: str, figure: float, limit: float, detail: str = "") -> None:
        """Take note of a figure, and of a fault where it is over its limit."""
        if not figure <= self.worst.get(what, -math.inf):
            self.worst[what] = figure
        if not figure <= limit:
            self.faults.append(f"{what}: {subject}: {figure:.3g} > {limit:.3g} {detail}".rstrip())

    def find(self, finding: Finding) -> None:
        share = finding.figure / finding.limit if finding.limit else math.inf if finding.figure else 0.0
        name = f"check {finding.check.code}, share of its limit"
        if not share <= self.worst.get(name, -math.inf):
            self.worst[name] = share
        if not finding.holds:
            self.faults.append(
                f"check {finding.check.code}: {finding.subject}: {finding.figure:.4g} > {finding.limit:.4g} "
                f"{finding.detail} {finding.where or ''}".rstrip()
            )

    def said(self) -> str:
        """The faults, and the scene to see them by."""
        faults = "\n  ".join(self.faults)
        return f"case {self.case.number} ({self.case.family}):\n  {faults}\n{self.case.text}"


def judged(case: Case, folder: Path, *, thorough: bool = True, common: bool = False) -> Verdict:
    """Build a case and let all three judge it. folder: for the file.

    thorough: with the surface of each solid, and how far points of the mesh lie from it. common: with the wood that
    solids share. Both are Open CASCADE's, and dear.
    """
    verdict = Verdict(case)
    try:
        built = build(parse_scene(case.text, SCENE))
    except PreviewError as error:
        verdict.refused = error.problems[0].problem
        return verdict
    except Exception as error:
        verdict.faults.append(f"raised while it was built: {error!r}")
        return verdict
    verdict.joints.update(pair.joint.kind for pair in built.joints)
    verdict.pieces.update(piece.kind for piece in built.pieces)
    try:
        _closed_form(verdict, built)
        bodies = _triangles(verdict, built, folder / "case.glb")
        _open_cascade(verdict, built, bodies, thorough, common)
    except Exception as error:
        verdict.faults.append(f"raised while it was judged: {error!r}")
    return verdict


# The closed form.


def _closed_form(verdict: Verdict, built: Built) -> None:
    for piece, volume in zip(built.pieces, built.volumes, strict=True):
        verdict.hold("closed form is positive", piece.name, -volume, -1e-9)
        upright = piece.is_level and piece.begin.up == piece.end.up == UPRIGHT
        if upright and not piece.is_faced and not piece.square:
            apart = abs(integrated_volume(piece) / volume - 1)
            verdict.hold("closed form, integrated", piece.name, apart, AGREES)


# Triangles.


def _triangles(verdict: Verdict, built: Built, path: Path) -> dict[str, Body]:
    parts = [Part(mesh, member.finish) for mesh, member in zip(built.meshes, built.members, strict=True)]
    path.write_bytes(glb_bytes("drawn", parts))
    bodies = read_glb(path)
    seen = inspect_bodies(bodies, built.pieces, built.joints, np.array(built.volumes), built.scene.chord)
    for finding in _kept(built, seen):
        verdict.find(finding)
    named = {body.name: body for body in bodies}
    for piece, volume in zip(built.pieces, seen.volumes, strict=True):
        points, inverse = weld(named[piece.name].vertices)
        triangles = np.ascontiguousarray(inverse[named[piece.name].triangles], dtype=np.uint64)
        body = manifold3d.Manifold(manifold3d.Mesh64(np.ascontiguousarray(points), triangles))
        status = body.status()
        if status != manifold3d.Error.NoError:
            verdict.faults.append(f"manifold3d: {piece.name}: {status}")
            continue
        verdict.hold("manifold3d, genus", piece.name, abs(body.genus()), 0)
        allowed, apart = _rounding(points, volume), abs(body.volume() / volume - 1)
        if apart > allowed:
            # It swaps the long edges of slivers, and takes some out, on the way in: then an exact sum judges.
            exact = abs(_exact_volume(points, triangles) / volume - 1)
            verdict.hold("volume in exact fractions", piece.name, exact, allowed)
            allowed = SLIVERS
        verdict.hold("manifold3d, volume", piece.name, apart, allowed)
    return named


def _rounding(points: Floats, volume: float) -> float:
    """How far, relative, two sums of a body's volume may lie apart: of columns as long as it is far from 0."""
    reach = np.abs(points).max(axis=0)
    around = float(np.ptp(points, axis=0) @ np.roll(np.ptp(points, axis=0), 1))
    return AGREES + 1e-14 * float(reach.max()) * around / volume


def _exact_volume(points: Floats, triangles: NDArray[np.uint64]) -> float:
    """A closed surface's volume, mm³, by the divergence theorem in fractions: nothing is rounded until the end."""
    at = [[Fraction(x) for x in point] for point in points.tolist()]
    total = Fraction(0)
    for i, j, k in triangles.tolist():
        (ax, ay, az), (bx, by, bz), (cx, cy, cz) = at[i], at[j], at[k]
        total += ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    return float(total / 6)


def _kept(built: Built, seen: Inspection) -> Iterator[Finding]:
    """The findings that are the program's to answer for.

    A section square to one rake does not meet that on another; a run may come back within the thickness of its molding,
    where its pieces then rightly overlap.
    """
    apart = _apart(built)
    loose = {pair.joint.name for pair in built.joints if _is_apart(built, pair.before, pair.after)}
    beside = {frozenset((built.pieces[i].name, built.pieces[j].name)) for i, j in _neighbors(built)}
    for finding in seen.findings:
        code = finding.check.code
        if code in MEETING and finding.subject in loose:
            continue
        if code == "overlap":
            pair = frozenset(finding.subject.split(" and "))
            if pair not in beside or pair in apart:
                continue
        yield finding


def _is_apart(built: Built, before: int | None, after: int | None) -> bool:
    """Whether the two pieces at a joint have a cut each, which do not meet."""
    if before is None or after is None:
        return False
    one, two = built.pieces[before], built.pieces[after]
    return (one.square or two.square) and one.end is not two.begin


def _apart(built: Built) -> set[frozenset[str]]:
    """Pairs of pieces, of one member or of two, on both sides of joints that do not meet."""
    found = set()
    for pair in built.joints:
        if _is_apart(built, pair.before, pair.after):
            one, two = built.pieces[pair.before or 0], built.pieces[pair.after or 0]
            names = {each.name.split(" / ")[-1] for each in (one, two)}
            mine = [each for each in built.pieces if each.name.split(" / ")[-1] in names]
            found |= {frozenset((a.name, b.name)) for a in mine for b in mine if a is not b}
    return found


def _neighbors(built: Built) -> Iterator[tuple[int, int]]:
    """Pieces that touch: of one line at a joint, of two members along the run, and what an end butts against."""
    order: dict[int, tuple[str, int, int]] = {}
    first = 0
    for line in built.lines:
        for i in range(len(line.pieces)):
            order[first + i] = (line.run.name, i, len(line.pieces) if line.run.closed else 0)
        first += len(line.pieces)
    posts = {"post at the begin": 0, "post at the end": -1}
    for i in order:
        for j in range(i + 1, first):
            (one, at, around), (other, there, _) = order[i], order[j]
            if one == other and "block" not in (built.pieces[i].role, built.pieces[j].role):
                off = abs(at - there)
                if (off <= 1 or off + 1 == around) and not _comes_round(built.pieces[i], built.pieces[j]):
                    yield i, j
            elif other in posts:
                piece = built.pieces[i]
                butts = piece.begin if posts[other] == 0 else piece.end
                # A curve of a larger sweep may come round to what it butts against.
                if butts.kind == "butt end" and abs(piece.element.sweep) < 1.0:
                    yield i, j
    for pair in built.joints:
        if pair.joint.kind == "block" and pair.before is not None and pair.after is not None:
            yield min(pair.before, pair.after), max(pair.before, pair.after)


def _comes_round(one: Piece, two: Piece) -> bool:
    """Whether a curve may lead back to the piece that it joins, within the thickness of both."""
    turned = abs(one.element.sweep) + abs(two.element.sweep)
    return turned > 0 and turned + min(abs(one.end.turn), abs(two.begin.turn)) > math.pi


# Open CASCADE.


def _hardest(piece: Piece) -> str:
    if piece.is_faced:
        return "faced"
    if piece.kind == "easement":
        return "easement"
    if "curved miter" in (piece.begin.kind, piece.end.kind):
        return "curved miter"
    if piece.curvature:
        return "curve"
    return "rake" if piece.element.slope else "plane"


def _open_cascade(verdict: Verdict, built: Built, bodies: dict[str, Body], thorough: bool, common: bool) -> None:
    made = solid.make_solids(built.pieces)
    figures = solid.figures(made, built.meshes) if thorough else _quick_figures(made, built)
    for finding in inspect_solids(figures, built.pieces, built.meshes, built.volumes, built.scene.chord):
        verdict.find(finding)
    for piece, shape, fact, volume in zip(built.pieces, made.shapes, figures, built.volumes, strict=True):
        kind = _hardest(piece)
        apart = abs(fact.volume / volume - 1)
        if apart > SOLID_AGREES[kind]:
            # The middle one of the kernel's sums is good to 1e-7; no sum comes to within 1e-9 by chance.
            finer = (each for times in (10, 1000) for each in volume_sums(shape, RELATIVE / times))
            apart = min(abs(each / volume - 1) for each in finer)
        verdict.hold(f"Open CASCADE, volume, {kind}", piece.name, apart, SOLID_AGREES[kind])
        body = bodies[piece.name]
        low, high = body.vertices.min(axis=0), body.vertices.max(axis=0)
        beyond = float(max((np.array(fact.low) - low).max(), (high - np.array(fact.high)).max()))
        limit = BOX_WIDE + 2 * body.step
        verdict.hold("box of the mesh within the solid's, share", piece.name, beyond / limit, 1.0, f"{beyond:.3g} mm")
    if common:
        shapes = dict(enumerate(made.shapes))
        for i, j in _neighbors(built):
            one, two = built.pieces[i].name, built.pieces[j].name
            if frozenset((one, two)) not in _apart(built):
                area = min(built.meshes[i].area, built.meshes[j].area)
                shared = _shared(shapes[i], shapes[j])
                verdict.hold("Open CASCADE, shared wood, mm³", f"{one} and {two}", shared, SHARED + 1e-6 * area)


def _quick_figures(made: solid.Solids, built: Built) -> tuple[solid.SolidFigures, ...]:
    """The figures without what is dear: the surface, taken to be the mesh's, and the distance of points from it."""
    found = []
    for piece, shape, mesh in zip(made.pieces, made.shapes, built.meshes, strict=True):
        volume = volume_of(shape, EASED)
        found.append(solid.SolidFigures(volume, mesh.area, *box_of(piece, shape), volume > 0 and is_sound(shape), 0.0))
    return tuple(found)


def _shared(one: Any, two: Any) -> float:
    """The volume, mm³, of what two solids have in common."""
    return sum(float(each.Volume()) for each in one.intersect(two).Solids())


def tally(verdicts: Sequence[Verdict]) -> str:
    """How many cases were drawn, refused and judged, of what, and the worst of each comparison."""
    kept = [each for each in verdicts if not each.refused]
    lines = [f"{len(verdicts)} drawn, {len(verdicts) - len(kept)} refused, {len(kept)} judged"]
    families = Counter(each.case.family for each in kept)
    refused = Counter(each.case.family for each in verdicts if each.refused)
    lines += [f"  {name}: {count} judged, {refused[name]} refused" for name, count in sorted(families.items())]
    for what, counters in (("joints", [v.joints for v in kept]), ("pieces", [v.pieces for v in kept])):
        total = sum(counters, Counter[str]())
        lines.append(f"{what}: " + ", ".join(f"{count} {name}" for name, count in total.most_common()))
    for name in sorted({name for each in kept for name in each.worst}):
        at = max((each for each in kept if name in each.worst), key=lambda each: each.worst[name])
        lines.append(f"{name}: {at.worst[name]:.3g} (case {at.case.number})")
    return "\n".join(lines)
