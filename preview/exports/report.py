"""report.json: what was built, what was measured on it, and whether it holds. A stable, documented interface."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

import preview
from preview.build import Built
from preview.checks import CHECKS, Check, Finding, Inspection
from preview.exports.names import picked_values
from preview.exports.raked import RakedProfile
from preview.exports.report_options import OptionReport
from preview.exports.report_shop import forecast_values, saw_settings, survey_values
from preview.joinery import piece_lengths

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
    """A file as it was written: its path below the output folder, its size, its SHA-256, and what it is.

    format: its name as it is asked for, or page, sheet, picture, drawing, joint or profile. level, chord: of a level of
    detail, and how far it may stray from the true curve, mm.
    """

    path: str
    size: int
    sha256: str
    format: str = ""
    level: int | None = None
    chord: float | None = None


@dataclass(frozen=True)
class ShownFile:
    """A picture or a drawing: its path below the output folder, its name, what it shows, a drawing's scale."""

    path: str
    name: str
    words: str
    scale: str = ""


@dataclass(frozen=True)
class Report:
    """Everything a run of the command found out. solid_volumes is empty where no solids were made, piece_files (one for
    each piece, below the output folder) and joint_files (the same for joints, "" for one not drawn) where none were
    written. raked: the profiles that climbing pieces need. code: names this model, short enough for the phone. options:
    every other combination of the scene's alternatives. approvals: what clients answered, ready for JSON. pictures,
    quality: the stills and how good they are, None where there are none. drawings: the line drawings. sheet: its path.
    """

    built: Built
    inspection: Inspection
    solid_volumes: Sequence[float]
    left_out: Sequence[LeftOut] = ()
    files: Sequence[WrittenFile] = ()
    piece_files: Sequence[str] = ()
    joint_files: Sequence[str] = ()
    raked: Sequence[RakedProfile] = ()
    code: str = ""
    options: Sequence[OptionReport] = ()
    approvals: Sequence[dict[str, Any]] = ()
    pictures: Sequence[ShownFile] = ()
    quality: str | None = None
    drawings: Sequence[ShownFile] = ()
    sheet: str = ""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings, in the order they were measured."""
        return self.inspection.findings

    @property
    def failures(self) -> list[Finding]:
        """The findings that do not hold; those of the options aside."""
        return [finding for finding in self.findings if not finding.holds]

    @property
    def holds(self) -> bool:
        """Whether every check passed, on the scene as drawn and on every option."""
        return not self.failures and all(option.holds for option in self.options)


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
            "picked": picked_values(built.scene),
        },
        "digest": built.digest,
        "code": report.code,
        "holds": report.holds,
        "remarks": list(built.remarks),
        "left_out": [{"what": item.what, "why": item.why} for item in report.left_out],
        "pieces": [_piece(report, i, watertight) for i in range(len(built.pieces))],
        "joints": [_joint(report, i) for i in range(len(built.joints))],
        "forecasts": forecast_values(built.forecasts),
        "surveys": [
            survey_values(placed.run.name, placed.survey, built.scene.units)
            for placed in built.scene.runs
            if placed.survey is not None
        ],
        "raked_profiles": [
            {
                "name": each.profile.name,
                "pitch_deg": math.degrees(math.atan(each.slope)),
                "shear": each.shear,
                "deviation_mm": each.deviation,
                "pieces": list(each.pieces),
                "files": list(each.files),
            }
            for each in report.raked
        ],
        "options": [_option(option) for option in report.options],
        "approvals": list(report.approvals),
        "pictures": [
            {"name": each.name, "words": each.words, "quality": report.quality, "file": each.path}
            for each in report.pictures
        ],
        "drawings": [
            {"name": each.name, "words": each.words, "scale": each.scale, "file": each.path} for each in report.drawings
        ],
        "sheet": report.sheet or None,
        "checks": checks_summary(report.findings),
        "files": [_file(each) for each in report.files],
    }


def _file(written: WrittenFile) -> dict[str, Any]:
    told = {"path": written.path, "bytes": written.size, "sha256": written.sha256, "format": written.format or None}
    return told if written.level is None else {**told, "level": written.level, "chord_mm": written.chord}


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
        "pitch_deg": math.degrees(piece.pitch),
        "saw": {"begin": saw_settings(piece, "begin"), "end": saw_settings(piece, "end")},
        "volume_mm3": {
            "closed_form": built.volumes[i],
            "mesh": report.inspection.volumes[i],
            "solid": solid,
        },
        "watertight": piece.name in watertight,
        "triangles": len(built.meshes[i].triangles),
        "stl": report.piece_files[i] if report.piece_files else None,
    }


def _joint(report: Report, number: int) -> dict[str, Any]:
    pair, measured = report.built.joints[number], report.inspection.meetings[number]

    def name(index: int | None) -> str | None:
        return report.built.pieces[index].name if index is not None else None

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
        "drawing": (report.joint_files[number] or None) if report.joint_files else None,
    }


def _option(option: OptionReport) -> dict[str, Any]:
    return {
        "picks": dict(option.picks),
        "digest": option.built.digest,
        "code": option.code,
        "holds": option.holds,
        "changes": list(option.changes),
        "remarks": list(option.built.remarks),
        "model": option.model or None,
        "checks": checks_summary(option.inspection.findings),
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
