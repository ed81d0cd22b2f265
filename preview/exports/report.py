"""report.json: what was built, what was measured on it, and whether it holds. A stable, documented interface."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

import preview
from preview.build import Built
from preview.checks import CHECKS, Check, Finding, Inspection, JointPair
from preview.joinery import Piece
from preview.profiles import measure

Floats = NDArray[np.float64]
SCHEMA = 1
REPORT = "report.json"


@dataclass(frozen=True)
class LeftOut:
    """An output that was asked for and not made, and why, with what would change that."""

    what: str
    why: str


@dataclass(frozen=True)
class WrittenFile:
    """A file as it was written: its path below the output folder, its size and its SHA-256."""

    path: str
    size: int
    sha256: str


@dataclass(frozen=True)
class Report:
    """Everything a run of the command found out. solid_volumes is empty where no solids were made,
    piece_files (one for each piece, below the output folder) where none were written."""

    built: Built
    inspection: Inspection
    solid_volumes: Sequence[float]
    left_out: Sequence[LeftOut] = ()
    files: Sequence[WrittenFile] = ()
    piece_files: Sequence[str] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, in the order they were measured."""
        return self.inspection.findings

    @property
    def failures(self) -> list[Finding]:
        """The findings that do not hold."""
        return [finding for finding in self.findings if not finding.holds]

    @property
    def holds(self) -> bool:
        """Whether every check passed."""
        return not self.failures


def report_json(report: Report) -> str:
    """The report as JSON text; numbers that JSON cannot hold (infinite, not a number) are written as null."""
    return json.dumps(_clean(_document(report)), indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _document(report: Report) -> dict[str, Any]:
    built = report.built
    watertight = {f.subject for f in report.findings if f.check.code == "closed" and f.holds}
    return {
        "schema": SCHEMA,
        "program": {"name": "molding-preview", "version": preview.__version__},
        "scene": {
            "title": built.scene.title,
            "file": built.scene.path.name,
            "units": built.scene.units,
            "chord_mm": built.scene.chord,
        },
        "digest": built.digest,
        "holds": report.holds,
        "remarks": list(built.remarks),
        "left_out": [{"what": item.what, "why": item.why} for item in report.left_out],
        "pieces": [_piece(report, i, watertight) for i in range(len(built.pieces))],
        "joints": [
            _joint(pair, measured, built.pieces)
            for pair, measured in zip(built.joints, report.inspection.meetings, strict=True)
        ],
        "checks": checks_summary(report.findings),
        "files": [{"path": f.path, "bytes": f.size, "sha256": f.sha256} for f in report.files],
    }


def _piece(report: Report, i: int, watertight: set[str]) -> dict[str, Any]:
    built = report.built
    piece = built.pieces[i]
    solid = report.solid_volumes[i] if i < len(report.solid_volumes) else None
    return {
        "name": piece.name,
        "run": piece.run,
        "member": piece.member,
        "kind": piece.kind,
        "profile": built.members[i].profile.name,
        "finish": built.members[i].finish.name,
        "length_mm": piece_lengths(piece),
        "begin": piece.begin.name,
        "end": piece.end.name,
        "volume_mm3": {
            "closed_form": built.volumes[i],
            "mesh": report.inspection.volumes[i],
            "solid": solid,
        },
        "watertight": piece.name in watertight,
        "triangles": len(built.meshes[i].triangles),
        "stl": report.piece_files[i] if report.piece_files else None,
    }


def piece_lengths(piece: Piece) -> Mapping[str, float]:
    """A piece's lengths in mm, each along its own path: on the back line, and the shortest and longest of all.

    back, shortest, longest: on the wall line, and the shortest and longest that any point of the profile travels; for a
    curve they are arcs. overall: from the first to the last point of wood along the run, what the stock must hold; it
    is more than the longest where a piece has an inside corner at one end and an outside corner at the other.
    """
    size = measure(piece.profile)
    d = np.concatenate([[0.0], np.linspace(size.d_min, size.d_max, 65)])
    starts, stops = piece.stations(d)
    lengths = (stops - starts) * (1 - piece.curvature * d)
    return {
        "back": float(lengths[0]),
        "shortest": float(lengths[1:].min()),
        "longest": float(lengths[1:].max()),
        "overall": _overall(piece, starts[1:], stops[1:], d[1:], float(lengths[1:].max())),
    }


def _overall(piece: Piece, starts: Floats, stops: Floats, d: Floats, longest: float) -> float:
    if not piece.curvature:
        return float(stops.max() - starts.min())
    # On a curve the stock is the arc that holds both ends, at the radius that travels furthest.
    return max(longest, float((stops.max() - starts.min()) * (1 - piece.curvature * d).max()))


def _joint(pair: JointPair, measured: Any, pieces: Sequence[Piece]) -> dict[str, Any]:
    def name(index: int | None) -> str | None:
        return pieces[index].name if index is not None else None

    joint = pair.joint
    return {
        "name": joint.name,
        "kind": joint.kind,
        "corner": "inside" if joint.turn > 0 else "outside" if joint.turn < 0 else None,
        "turn_deg": math.degrees(abs(joint.turn)),
        "before": name(pair.before),
        "after": name(pair.after),
        "at_mm": list(joint.at),
        "gap_mm": measured.gap if measured else None,
        "step_mm": measured.step if measured else None,
        "angle_deg": measured.angle if measured else None,
    }


def checks_summary(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """One entry for each kind of check that was made: how many, how many failed, the worst, and every failure."""
    entries: list[dict[str, Any]] = []
    for check, mine in by_check(findings):
        failed = [f for f in mine if not f.holds]
        entries.append(
            {
                "code": check.code,
                "question": check.question,
                "unit": check.unit,
                "limit_from": check.source,
                "count": len(mine),
                "failed": len(failed),
                "worst": _finding(worst(mine)),
                "failures": [_finding(f) for f in failed],
            }
        )
    return entries


def by_check(findings: Sequence[Finding]) -> list[tuple[Check, list[Finding]]]:
    """The findings of each kind of check that was made, in the order of the table of checks."""
    sorted_: dict[str, list[Finding]] = {check.code: [] for check in CHECKS}
    for finding in findings:
        sorted_[finding.check.code].append(finding)
    return [(check, sorted_[check.code]) for check in CHECKS if sorted_[check.code]]


def worst(findings: Sequence[Finding]) -> Finding:
    """The finding closest to its limit, or furthest past it."""

    def strain(finding: Finding) -> float:
        if math.isnan(finding.figure):
            return math.inf
        if finding.limit > 0:
            return finding.figure / finding.limit
        return math.inf if finding.figure > 0 else 0.0

    return max(findings, key=lambda f: (strain(f), f.figure))


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "subject": finding.subject,
        "figure": finding.figure,
        "limit": finding.limit,
        "holds": finding.holds,
        "where_mm": {"out": finding.where[0], "up": finding.where[1]} if finding.where else None,
        "detail": finding.detail,
    }


def _clean(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, dict):
        return {key: _clean(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [_clean(item) for item in value]
    return value
