"""The inspection of any model: bodies without a scene, judged by the rule that our own models are judged by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property

from preview import limits
from preview.checks import findings as table
from preview.checks.ends import sweeps
from preview.checks.findings import Finding
from preview.checks.joints import ModelJoint, ModelMiss, find_joints
from preview.checks.overlap import shared_volumes
from preview.checks.readers import Body, Floats
from preview.checks.rims import Measured
from preview.checks.shells import MANY, Shell, shells
from preview.checks.touching import Touching

Progress = Callable[[str, int, int], None]
FACETS = 0.02
"""mm: how deep facets of two makings may cut into each other where their true surfaces touch."""


@dataclass(frozen=True)
class ModelBody:
    """One connected body of a model.

    open_edges: edges without exactly one triangle on each side. volume mm³, signed; area mm²; low, high: the corners
    of its box, mm. ends: how many faces were found at which it may meet another.
    """

    name: str
    triangles: int
    open_edges: int
    volume: float
    area: float
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    ends: int

    @property
    def size(self) -> tuple[float, float, float]:
        """How far it reaches along x, y and z, mm."""
        x, y, z = (high - low for low, high in zip(self.low, self.high, strict=True))
        return x, y, z


@dataclass(frozen=True)
class ModelInspection:
    """All findings on a model, its bodies, and what was found between them; dropped: triangles without an area."""

    findings: tuple[Finding, ...]
    bodies: tuple[ModelBody, ...]
    joints: tuple[ModelJoint, ...]
    misses: tuple[ModelMiss, ...]
    touching: tuple[Touching, ...]
    dropped: int

    @property
    def holds(self) -> bool:
        """Whether every check passed."""
        return all(finding.holds for finding in self.findings)

    def joint_name(self, index: int) -> str:
        """The joint by the names of the bodies that it joins; the second between two bodies is numbered."""
        return self._joint_names[index]

    @cached_property
    def _joint_names(self) -> list[str]:
        times: Counter[tuple[int, int]] = Counter()
        names = []
        for joint in self.joints:
            pair = joint.first, joint.second
            times[pair] += 1
            names.append(_name(self.bodies[joint.first].name, self.bodies[joint.second].name, times[pair]))
        return names


def inspect_model(bodies: Sequence[Body], progress: Progress | None = None) -> ModelInspection:
    """Find a model's connected bodies, whether each is closed and outward, and how their ends meet.

    Raises PreviewError for more bodies, or more of them near each other, than the limits let be.
    """
    found: list[Shell] = []
    dropped = 0
    for done, body in enumerate(bodies, 1):
        several, lost = shells(body)
        found += several
        dropped += lost
        limits.BODIES.refuse(len(found), "the model", MANY)
        _tell(progress, "bodies", done, len(bodies))
    ways = []
    for i, shell in enumerate(found):
        ways.append(sweeps(shell, i))
        _tell(progress, "ends", i + 1, len(found))
    _tell(progress, "joints", 0, 1)
    met = find_joints(found, ways)
    _tell(progress, "joints", 1, 1)
    findings: list[Finding] = []
    for shell in found:
        findings.append(Finding(table.CLOSED, shell.name, shell.open_edges, 0))
        if not shell.open_edges:  # what is not closed has no outside
            findings.append(Finding(table.OUTWARD, shell.name, 0 if shell.volume > 0 else 1, 0))
    judged = tuple(
        ModelBody(
            shell.name,
            len(shell.triangles),
            shell.open_edges,
            shell.volume,
            shell.area,
            _point(shell.low),
            _point(shell.high),
            ends,
        )
        for shell, ends in zip(found, met.ends, strict=True)
    )
    told = ModelInspection((), judged, met.joints, met.misses, met.touching, dropped)
    for i, joint in enumerate(met.joints):
        name, contact = told.joint_name(i), joint.contact
        apart = "its faces stand apart" if contact.opens > 0 else "the bodies run into each other"
        findings += [
            _finding(table.GAP, name, contact.gap, "mm", apart),
            _finding(table.STEP, name, contact.step, "mm"),
            _finding(table.ANGLE, name, contact.angle, "°"),
        ]
    findings += _overlaps(found, progress)
    return ModelInspection(tuple(findings), judged, met.joints, met.misses, met.touching, dropped)


def _overlaps(found: Sequence[Shell], progress: Progress | None) -> list[Finding]:
    """Whether closed bodies share wood: more than facets of their own making can where they touch."""
    whole = [shell for shell in found if not shell.open_edges and shell.volume > 0]
    findings: list[Finding] = []
    for shared in shared_volumes(whole, lambda done, total: _tell(progress, "overlaps", done, total)):
        one, other = whole[shared.first], whole[shared.second]
        depth = FACETS + max(one.step, other.step)
        limit = depth * min(one.area, other.area)
        detail = f"up to {depth:.2g} mm deep all over the smaller body counts as touching"
        findings.append(
            Finding(table.OVERLAP, f"{one.name} and {other.name}", abs(shared.volume), limit, detail=detail)
        )
    return findings


def _finding(check: table.Check, name: str, measured: Measured, unit: str, what: str = "") -> Finding:
    finding = Finding(check, name, measured.judged, measured.limit)
    parts = [] if finding.holds or not what else [what]
    if not finding.holds:
        parts.append("at x {:.3f}, y {:.3f}, z {:.3f} mm".format(*measured.judged_at))
        if measured.figure > measured.judged:
            parts.append(f"elsewhere up to {measured.figure:.3g} {unit}")
    if measured.facets > 0.5 * (measured.limit - measured.facets):
        parts.append(
            f"of the limit, {measured.facets:.2g} {unit} is what the model's own facets and digits can hide there"
        )
    return Finding(check, name, measured.judged, measured.limit, detail="; ".join(parts))


def _name(first: str, second: str, number: int) -> str:
    return f"{first} and {second}" + (f" ({number})" if number > 1 else "")


def _point(values: Floats) -> tuple[float, float, float]:
    x, y, z = values
    return float(x), float(y), float(z)


def _tell(progress: Progress | None, stage: str, done: int, total: int) -> None:
    if progress:
        progress(stage, done, total)
