"""The site sheet in sentences: in which order the pieces go up, what to mind at each kind of joint, and the cautions.

What is said of joints is common practice; cautions have their sources, and defer to the machines' manuals, local codes
and licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from preview.blanks import Caution
from preview.cutlist import REASONS, Before, ShopJob
from preview.joinery import JointKind
from preview.shop import SHORT_PIECE, TEST_CUT
from preview.units import counted, listed

AT_JOINTS: Mapping[JointKind, str] = {
    "miter": (
        "Miter: dry-fit both pieces against the wall before either is fastened; glue the joint, and at an outside "
        "corner pin it from both sides. Where the corner is off, shave the back of the cut, not the face."
    ),
    "curved miter": (
        "Curved miter: saw outside the line of the template and pare to it; try the two ends together on the "
        "bench, since neither can be recut at the wall."
    ),
    "cope": (
        "Cope: set the piece that runs to the corner first. Back-cut the coped end a little, so that only the "
        "line of the face touches, and spring the piece in from its far end."
    ),
    "butt to wall": ("End that runs to the corner: leave it a hair free of the wall, where the coped piece covers it."),
    "tangent": (
        "Straight to curve: hold the faces flush with a straightedge across the joint, glue it, and pin the "
        "straight rather than the curved piece, whose ends split easily."
    ),
    "scarf": (
        "Scarf: glue it over a stud or a block, the lap away from where one mostly looks from, and sand it after "
        "the glue has cured."
    ),
    "block": ("Block: set it plumb and fasten it before the molding that ends against it is cut to its last length."),
    "self-return": "Return cut on the piece itself: seal the end grain.",
    "butt": "Butt: bring the edge flush before it is fastened.",
    "elevation miter": (
        "Miter where the slope changes: mark it on the wall from both slopes, and check it with a bevel."
    ),
    "plumb cut": ("Plumb cut where the slope changes: the sections differ by the slope, so don't swap the pieces."),
}
"""What to mind at each kind of joint; common practice."""

CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "These are sizes and an order of work, not instructions. The machines' manuals, local codes and licensed "
        "practice come first; electrical and structural work found behind a wall is for those who hold the "
        "license.",
        "common practice",
    ),
    Caution(TEST_CUT, "common practice"),
    Caution(
        "Keep guards in place. Keep hands at least 300 mm (12 in) from the blade of a crosscut saw on either "
        "side, and let it stop before anything is picked up.",
        "HSE, crosscut saws",
    ),
    Caution(
        "Clamp the work to the fence or the table: a piece that shifts as it is cut is caught by the blade and "
        "thrown. Use push sticks and a jig for what is small.",
        "29 CFR 1910.213(a); push sticks: 1910.211",
    ),
    Caution(
        "Extract dust at the source, and wear eye, ear and breathing protection.",
        "OSHA: 15 mg/m³ of wood dust in all, 5 respirable; HSE: hardwood 3, softwood 5 mg/m³ over 8 hours",
    ),
    Caution(
        "Before nailing, find out what runs in the wall. Old paint may hold lead: test it before it is sanded.",
        "common practice",
    ),
)


def steps(job: ShopJob, tags: Mapping[str, str]) -> list[str]:
    """The acts of installing, one sentence or two each, in order. tags: the numbers of pieces in the drawings."""
    pieces = job.built.pieces
    told: list[str] = []
    for step in job.order:
        mine = listed(f"{tags[pieces[number].name]} ({pieces[number].name})" for number in step.pieces)
        sentence = f"Piece {mine}" if len(step.pieces) == 1 else f"Pieces {mine}, glued up on the bench"
        told.append(". ".join([sentence, *_reasons(job, step.fitted, tags), *_loose(job, step.loose, tags)]) + ".")
    return told


def _reasons(job: ShopJob, rules: Sequence[Before], tags: Mapping[str, str]) -> Iterator[str]:
    for kind in dict.fromkeys(rule.rule for rule in rules):
        first = listed(tags[job.built.pieces[rule.first].name] for rule in rules if rule.rule == kind)
        yield f"After {first}: {REASONS[kind]}"


def _loose(job: ShopJob, rules: Sequence[Before], tags: Mapping[str, str]) -> Iterator[str]:
    for rule in rules:
        other = tags[job.built.pieces[rule.first].name]
        yield f"Leave its end at {other} unfastened until {other} is in: {REASONS[rule.rule]}"


def joint_notes(job: ShopJob) -> list[str]:
    """What to mind at the kinds of joints that this job has, with how many there are."""
    kinds: dict[JointKind, int] = {}
    for pair in job.built.joints:
        for number, at_end in ((pair.before, pair.before_at_end), (pair.after, pair.after_at_end)):
            if number is not None and pair.joint.kind == "cope":
                piece = job.built.pieces[number]
                kind = (piece.end if at_end else piece.begin).kind
                kinds[kind] = kinds.get(kind, 0) + 1
        if pair.joint.kind != "cope":
            kinds[pair.joint.kind] = kinds.get(pair.joint.kind, 0) + 1
    return [f"{AT_JOINTS[kind]} ({counted(count, 'place')})" for kind, count in kinds.items() if kind in AT_JOINTS]


def short_pieces(job: ShopJob, tags: Mapping[str, str]) -> str:
    """The caution for pieces too short to hold by hand, with their numbers; "" where there is none."""
    short = [
        tags[name]
        for name in dict.fromkeys(
            end.settings.piece
            for piece in job.cuts.pieces
            for end in piece.ends
            if end.settings is not None and SHORT_PIECE in end.settings.cautions
        )
    ]
    return f"{counted(len(short), 'piece')} shorter than 300 mm ({listed(short)}): {SHORT_PIECE}" if short else ""
