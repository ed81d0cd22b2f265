"""`molding check` on a model file: its bodies, where they meet and how well, as tables or as JSON."""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

import preview
from preview.checks import (
    MODEL_FORMATS,
    OTHER_MODELS,
    READERS,
    Exchange,
    Finding,
    Measured,
    Model,
    ModelInspection,
    ModelJoint,
    ModelMiss,
    digest_in,
    inspect_model,
    must_be_file,
    must_end_as_dxf,
    read_exchange,
    read_model,
)
from preview.cli import show
from preview.cli.which_model import Named, named
from preview.errors import PreviewError
from preview.exports import by_check, worst
from preview.units import counted

SCHEMA = 1
MOST_ROWS = 40
MOST_LINES = 20
FAINT = 1e-4
LEFT = ("body", "joint")
PLURAL = {"millimeter": "millimeters", "meter": "meters"}
UNMEASURED = "bodies and joints of this format are not measured here; export measures what it writes"


def is_model(path: Path) -> bool:
    """Whether a file's name is that of a model, not of a scene; also of models that are not read."""
    return path.suffix.lower() in MODEL_FORMATS or path.suffix.lower() in OTHER_MODELS


def check_model(
    path: Path, as_json: bool = False, *, solid: bool = False, chord: str | None = None, scene: Path | None = None
) -> bool:
    """Inspect a model file and print what was found; whether every check holds.

    scene: a scene file that is asked whether it makes this model, which then has to hold too; of a model that is not
    read no more is told than that. Raises PreviewError for a file that cannot be read, and for options that only a
    scene has.
    """
    for option, given in (("--solid", solid), ("--chord", chord is not None)):
        if given:
            problem = "this option is for a scene, which is built first; a model is measured as it is"
            raise PreviewError(option, chord if option == "--chord" else None, problem, "leave it out", str(path))
    must_be_file(path)
    suffix = path.suffix.lower()
    if suffix == ".dxf":
        must_end_as_dxf(path)
    with _unchanged(path):
        # The file comes before the scene: of one that cannot be read there is nothing to ask a scene about.
        held = read_exchange(path) if suffix in READERS and suffix not in MODEL_FORMATS else None
        unmeasured = suffix == ".dxf" or (held is not None and bool(digest_in(path)))
        if not unmeasured:
            with show.Progress() as progress:
                progress.step("reading", 0, 1)
                model = read_model(path)
                progress.step("reading", 1, 1)
        which = named(path, scene)
        if not unmeasured:
            with show.Progress() as progress:
                inspection = inspect_model(model.bodies, progress.step)
    if unmeasured:
        return _named_only(path, which, held, as_json)
    if as_json:
        sys.stdout.write(model_json(path, model, inspection, which))
    else:
        _print(path, model, inspection, which)
    return inspection.holds and which.holds


@contextmanager
def _unchanged(path: Path) -> Iterator[None]:
    """Refuse a file that was changed meanwhile: it is read several times, and what is said has to be of one."""
    before = _state(path)
    yield
    if _state(path) != before:
        raise PreviewError("", None, "the file was changed while it was being read", "do this again", str(path))


def _state(path: Path) -> tuple[int, int, int] | None:
    """What changes when a file does; None where it cannot be asked."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_ino, found.st_size, found.st_mtime_ns


def _named_only(path: Path, which: Named, held: Exchange | None, as_json: bool) -> bool:
    """Say which model a file is whose joints are not looked for here, and what it holds.

    Raises PreviewError for a drawing that names no model.
    """
    if not which.digest:
        problem = "the drawing names no model, so there is nothing to check"
        raise PreviewError("", None, problem, "molding profile reads drawings of profiles", str(path))
    notes = [UNMEASURED if held is not None else "what a drawing shows is not compared with the scene"]
    if as_json:
        document = {
            "schema": SCHEMA,
            "program": {"name": "molding-preview", "version": preview.__version__},
            "holds": which.holds,
            "notes": notes,
        }
        if held is not None:
            document["model"] = {"pieces": [part.name for part in held.parts], "unit": held.unit, "up": held.up}
        sys.stdout.write(json.dumps(document | which.values(), indent=2, ensure_ascii=False) + "\n")
        return which.holds
    console = show.output()
    console.print(Text(path.name, style="bold"))
    if held is not None:
        triangles = sum(len(part.corners) for part in held.parts)
        frame = f"{PLURAL.get(held.unit, 'no unit')}, {held.up or 'no axis'} up"
        console.print(f"{counted(len(held.parts), 'piece')}; {counted(triangles, 'triangle')}; {frame}")
    for line in which.lines():
        console.print(Text(line), soft_wrap=True)
    for note in notes:
        console.print(Text(f"note: {note}"))
    if not which.holds:
        console.print(Text(_lost(which), style="bold red"))
    return which.holds


def _lost(which: Named) -> str:
    """In one sentence, how the scene and the file do not fit."""
    made = which.scene
    if made is None or not which.digest:
        return "The file names no model, so no scene can be said to make it."
    if made.options is None:
        return "The scene does not make this model."
    return (
        "The file no longer holds the model that it names: "
        f"{len(made.failures)} of {counted(len(made.findings), 'comparison')} with the scene FAILED."
    )


# Tables ---------------------------------------------------------------------------------------------------------------


def _print(path: Path, model: Model, told: ModelInspection, which: Named) -> None:
    console = show.output()
    console.print(Text(path.name, style="bold"))
    triangles = sum(body.triangles for body in told.bodies)
    console.print(
        f"{model.format}, {counted(len(told.bodies), 'body', 'bodies')}, {counted(len(told.joints), 'joint')}; "
        f"{counted(triangles, 'triangle')}; told here in millimeters, z up"
    )
    for line in which.lines():
        console.print(Text(line), soft_wrap=True)
    console.print()
    _bodies(console, told)
    _joints(console, told)
    show.checks(console, told.findings)
    _failures(console, told)
    console.print()
    for line in _notes(model, told):
        console.print(Text(f"note: {line}"))
    console.print()
    failed = sum(not finding.holds for finding in told.findings)
    if failed:
        console.print(Text(f"{failed} of {len(told.findings)} checks FAILED.", style="bold red"))
    if not which.holds:
        console.print(Text(_lost(which), style="bold red"))
    elif not failed:
        console.print(Text(f"All {len(told.findings)} checks hold.", style="bold green"))


def _table(console: Console, *columns: str) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold" if console.is_terminal else "")
    for name in columns:
        table.add_column(name, justify="left" if name in LEFT else "right", overflow="fold")
    return table


def _bodies(console: Console, told: ModelInspection) -> None:
    table = _table(console, "body", "x mm", "y mm", "z mm", "volume cm³", "open edges", "ends")
    for body in told.bodies[:MOST_ROWS]:
        table.add_row(
            Text(body.name),
            *(f"{side:.1f}" for side in body.size),
            f"{body.volume / 1000:.4g}" if not body.open_edges else "",
            str(body.open_edges),
            str(body.ends),
        )
    console.print(table)
    if len(told.bodies) > MOST_ROWS:
        console.print(f"and {len(told.bodies) - MOST_ROWS} bodies more; --json has them all")
    console.print()


def _joints(console: Console, told: ModelInspection) -> None:
    if not told.joints:
        return
    table = _table(console, "joint", "gap mm", "step mm", "angle °", "facets mm")
    for i, joint in enumerate(told.joints[:MOST_ROWS]):
        contact = joint.contact
        figures = (contact.gap.figure, contact.step.figure, contact.angle.figure, contact.facets)
        table.add_row(Text(told.joint_name(i)), *(_figure(figure) for figure in figures))
    console.print(table)
    if len(told.joints) > MOST_ROWS:
        console.print(f"and {len(told.joints) - MOST_ROWS} joints more; --json has them all")
    console.print()


def _failures(console: Console, told: ModelInspection) -> None:
    failures = [finding for finding in told.findings if not finding.holds]
    if failures:
        console.print()
    for finding in failures[:MOST_LINES]:
        detail = f" ({finding.detail})" if finding.detail else ""
        console.print(
            Text(
                f"FAILED  {finding.subject}: {finding.check.question}: {_figure(finding.figure)} {finding.check.unit}, "
                f"limit {_figure(finding.limit)}{detail}"
            )
        )
    if len(failures) > MOST_LINES:
        console.print(f"and {len(failures) - MOST_LINES} more; --json has them all")


def _notes(model: Model, told: ModelInspection) -> list[str]:
    """What else there is to say, in words."""
    lines = list(model.remarks)
    if told.dropped:
        lines.append(f"{counted(told.dropped, 'triangle')} without an area left out")
    if not told.joints:
        lines.append("there are no joints to measure: " + _why_none(told))
    coarsest = max((joint.contact.facets for joint in told.joints), default=0.0)
    if coarsest > FAINT:
        lines.append(
            f"curves at the joints are cut into facets that stray from them by up to {_figure(coarsest)} mm; less than "
            "what they hide at a place is not told from a fault"
        )
    for i, joint in enumerate(told.joints):
        for what, unit, measured in _measured(joint):
            if measured.limit - measured.facets < measured.judged <= measured.limit:
                lines.append(
                    f"{told.joint_name(i)}: the {what} of {_figure(measured.judged)} {unit} is within what the model's "
                    f"own facets can hide there, {_figure(measured.facets)} {unit}"
                )
    lines += [_miss(told, miss) for miss in told.misses]
    if told.touching:
        shown = ", ".join(
            f"{told.bodies[t.first].name} and {told.bodies[t.second].name} ({t.area / 100:.3g} cm²)"
            for t in told.touching[:3]
        )
        more = f", and {counted(len(told.touching) - 3, 'pair')} more" if len(told.touching) > 3 else ""
        lines.append(f"flat faces that touch and are no joint of two profiles: {shown}{more}")
    return lines if len(lines) <= MOST_LINES else [*lines[:MOST_LINES], f"and {len(lines) - MOST_LINES} notes more"]


def _why_none(told: ModelInspection) -> str:
    if len(told.bodies) == 1:
        return "the file holds one body"
    if not any(body.ends for body in told.bodies):
        return "no body has an end face, which its sides run away from"
    return "no two end faces come near each other"


def _miss(told: ModelInspection, miss: ModelMiss) -> str:
    names = f"an end of {told.bodies[miss.first].name} and an end of {told.bodies[miss.second].name}"
    how = f" and stand {miss.facing:.1f}° out of parallel" if miss.facing >= 0.05 else ""
    if miss.facing > 45:
        how += " (a cope or a butt, or a miter that is missing)"
    return f"near miss, not judged: {names} come within {_figure(miss.apart)} mm{how}"


def _figure(value: float) -> str:
    return show.figure(value) if value > 1e-9 else "0.000"


# JSON -----------------------------------------------------------------------------------------------------------------


def model_json(path: Path, model: Model, told: ModelInspection, which: Named) -> str:
    """The whole inspection as JSON text; its parts are described in DEVELOPERS.md."""
    document = {
        "schema": SCHEMA,
        "program": {"name": "molding-preview", "version": preview.__version__},
        "model": {"file": path.name, "format": model.format, "units": "mm, z up", "bytes": path.stat().st_size},
        **which.values(),
        "holds": told.holds and which.holds,
        "notes": _notes(model, told),
        "bodies": [
            {
                "name": body.name,
                "triangles": body.triangles,
                "open_edges": body.open_edges,
                "closed": body.open_edges == 0,
                "outward": body.volume > 0 if not body.open_edges else None,
                "volume_mm3": body.volume if not body.open_edges else None,
                "area_mm2": body.area,
                "low_mm": list(body.low),
                "high_mm": list(body.high),
                "size_mm": list(body.size),
                "ends": body.ends,
            }
            for body in told.bodies
        ],
        "joints": [_joint(told, i, joint) for i, joint in enumerate(told.joints)],
        "near_misses": [
            {
                "first": told.bodies[miss.first].name,
                "second": told.bodies[miss.second].name,
                "place_mm": list(miss.place),
                "apart_mm": miss.apart,
                "facing_deg": miss.facing,
            }
            for miss in told.misses
        ],
        "touching": [
            {
                "first": told.bodies[touch.first].name,
                "second": told.bodies[touch.second].name,
                "place_mm": list(touch.place),
                "area_mm2": touch.area,
            }
            for touch in told.touching
        ],
        "checks": [_check(mine) for _, mine in by_check(told.findings)],
    }
    return json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"


def _measured(joint: ModelJoint) -> list[tuple[str, str, Measured]]:
    contact = joint.contact
    return [("gap", "mm", contact.gap), ("step", "mm", contact.step), ("angle", "°", contact.angle)]


def _joint(told: ModelInspection, index: int, joint: ModelJoint) -> dict[str, Any]:
    contact = joint.contact
    entry: dict[str, Any] = {
        "name": told.joint_name(index),
        "first": told.bodies[joint.first].name,
        "second": told.bodies[joint.second].name,
        "place_mm": list(joint.place),
        "facing_deg": joint.facing,
        "opens_mm": contact.opens,
        "facets_mm": contact.facets,
        "facets_deg": contact.facets_angle,
    }
    for what, sign, measured in _measured(joint):
        unit = "deg" if sign == "°" else sign
        entry |= {
            f"{what}_{unit}": measured.figure,
            f"{what}_at_mm": list(measured.at),
            f"{what}_judged": {
                f"figure_{unit}": measured.judged,
                f"limit_{unit}": measured.limit,
                f"facets_{unit}": measured.facets,
                "at_mm": list(measured.judged_at),
            },
        }
    return entry


def _check(mine: list[Finding]) -> dict[str, Any]:
    check = mine[0].check
    failed = [finding for finding in mine if not finding.holds]
    return {
        "code": check.code,
        "question": check.question,
        "unit": check.unit,
        "limit_from": check.source,
        "count": len(mine),
        "failed": len(failed),
        "worst": _finding(worst(mine)),
        "failures": [_finding(finding) for finding in failed],
    }


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "subject": finding.subject,
        "figure": finding.figure if math.isfinite(finding.figure) else None,
        "limit": finding.limit,
        "holds": finding.holds,
        "detail": finding.detail,
    }
