"""The shop's papers as a document for other programs: every length, layout and blank with its figures, in mm."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence

import preview
from preview.bench.templates import templates
from preview.blanks import StavedBlank
from preview.cutlist import Curve, CutEnd, CutPiece, ShopJob, Sticks
from preview.exports import WrittenFile

SCHEMA = 1
"""Raised when a key changes its meaning or goes; new keys may come without that."""
SHOP = "shop.json"


def shop_json(
    job: ShopJob,
    tags: Sequence[str],
    files: Sequence[WrittenFile],
    holds: bool,
) -> bytes:
    """The document. tags: the pieces' numbers in the drawings. files: what was written beside it. holds: whether the
    checks of the model hold, and the list puts every run together again.
    """
    built = job.built
    numbers = dict(zip((piece.name for piece in built.pieces), tags, strict=True))
    document = {
        "schema": SCHEMA,
        "program": {"name": "molding-preview", "version": preview.__version__},
        "scene": {"title": built.scene.title, "file": built.scene.path.name, "units": built.scene.units},
        "digest": built.digest,
        "holds": holds,
        "kerf_mm": job.shop.kerf,
        "rounding_mm": job.shop.rounding,
        "pieces": [_piece(job, piece, numbers) for piece in job.cuts.pieces],
        "sticks": [_sticks(each) for each in job.sticks],
        "curves": [_curve(each) for each in job.curves],
        "quantities": [
            {
                "member": each.member,
                "pieces": each.pieces,
                "net_mm": each.net,
                "bought_mm": each.bought,
                "board_feet": each.board_feet if each.board_feet_bought is None else each.board_feet_bought,
                "weight_kg": each.weight,
                "finish_mm2": each.finish,
            }
            for each in job.quantities
        ],
        "prices": None
        if job.prices is None
        else {
            "currency": job.prices.currency,
            "lines": [
                {
                    "what": line.what,
                    "count": line.count,
                    "unit": line.unit,
                    "each": line.each,
                    "amount": str(line.amount),
                }
                for line in job.prices.lines
            ],
            "total": str(job.prices.total),
            "notes": list(job.prices.notes),
        },
        "closing": [
            {
                "run": each.run,
                "member": each.member,
                "line": each.line,
                "error_mm": each.error,
                "worst_mm": each.worst,
                "holds": each.holds,
            }
            for each in job.closing
        ],
        "templates": [{"sign": each.sign, "kind": each.kind, "pieces": list(each.pieces)} for each in templates(built)],
        "order": [[built.pieces[number].name for number in step.pieces] for step in job.order],
        "files": [{"path": each.path, "bytes": each.size, "sha256": each.sha256} for each in files],
    }
    return (json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n").encode()


def _piece(job: ShopJob, piece: CutPiece, numbers: Mapping[str, str]) -> dict[str, object]:
    group = next(each.number for each in job.cuts.groups if piece.name in each.names)
    bend = piece.bend
    return {
        "name": piece.name,
        "number": numbers[piece.name],
        "group": group,
        "member": piece.member,
        "kind": piece.kind,
        "back_mm": piece.back,
        "face_mm": piece.face,
        "long_mm": piece.long,
        "short_mm": piece.short,
        "overall_mm": piece.overall,
        "stick_mm": piece.stick,
        "longer_mm": job.gains(piece.name),
        "thickness_mm": piece.stock.thickness,
        "width_mm": piece.stock.width,
        "rough": piece.stock.rough.name,
        "ends": [_end(end) for end in piece.ends],
        "curve": None
        if bend is None
        else {
            "wraps": bend.wraps,
            "radius_back_mm": bend.radius_back,
            "radius_face_mm": bend.radius_face,
            "sweep_deg": math.degrees(bend.sweep),
        },
    }


def _end(end: CutEnd) -> dict[str, object]:
    setup = end.settings.setups[0] if end.settings is not None and end.settings.setups else None
    return {
        "at": end.at,
        "kind": end.kind,
        "meets": end.meets,
        "corner_deg": None if end.corner is None else math.degrees(end.corner),
        "inside": end.inside,
        "miter_deg": None if setup is None else math.degrees(setup.setting.miter),
        "bevel_deg": None if setup is None else math.degrees(setup.setting.bevel),
        "posture": None if setup is None else setup.posture,
        "keep": None if setup is None else setup.keep,
    }


def _sticks(sticks: Sticks) -> dict[str, object]:
    layout = sticks.layout
    return {
        "member": sticks.member,
        "sticks": [
            {"length_mm": laid.stick.length, "pieces": list(laid.parts), "left_mm": laid.offcut} for laid in layout.used
        ],
        "bought_mm": layout.total,
        "waste_mm": layout.waste,
        "price": layout.price,
        "least": layout.bound,
        "gap": layout.gap,
        "how": layout.method,
    }


def _curve(curve: Curve) -> dict[str, object]:
    plan = curve.way.plan if curve.way is not None else None
    blank = plan if isinstance(plan, StavedBlank) else None
    return {
        "pieces": list(curve.group.names),
        "way": None if curve.way is None else curve.way.method,
        "why": curve.why,
        "ways": [
            {"way": way.method, "possible": way.possible, "board_feet": way.wood, "why_not": way.refusal}
            for way in curve.ways
        ],
        "blank": None
        if blank is None
        else {
            "staves": blank.staves,
            "edge_deg": 180.0 / blank.staves,
            "outside_diameter_mm": blank.outside_diameter,
            "inside_diameter_mm": blank.inside_diameter,
            "rough_diameter_mm": blank.rough_diameter,
            "pieces": blank.parting.pieces,
        },
        "steps": [{"words": step.words, "diameter_mm": step.diameter} for step in curve.steps],
    }
