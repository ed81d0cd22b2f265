"""The site sheet in sentences: in which order the pieces go up, what to mind at each kind of joint, and the cautions.

What is said of joints is common practice; cautions have their sources, and defer to the machines' manuals, local codes
and licensed practice.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from preview.blanks import Caution
from preview.cutlist import REASONS, Before, ShopJob, Step
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


FEW = 3
"""Steps of which nothing is to be said are told one by one, when they are fewer than this."""


def steps(job: ShopJob, tags: Mapping[str, str]) -> list[tuple[str, str, str, str]]:
    """The acts of installing in order: which, the numbers of the pieces, their names, and what they are fitted to.

    tags: the numbers of pieces in the drawings. Pieces of one run and member that go up one after the other, with
    nothing else to say of them, are one row.
    """
    rows: list[tuple[str, str, str, str]] = []
    for number, plain in _in_rows(job):
        steps = job.order[number : number + plain]
        names = [job.built.pieces[each].name for step in steps for each in step.pieces]
        which = f"{number + 1}." if plain == 1 else f"{number + 1} to {number + plain}."
        named = listed(names) if plain == 1 else f"{names[0].rpartition(' / ')[0]}, one after the other"
        rows.append((which, listed(tags[name] for name in names), named, "; ".join(_notes(job, steps[0], tags))))
    return rows


def _in_rows(job: ShopJob) -> Iterator[tuple[int, int]]:
    """The number of each row's first step, and how many steps it has."""
    pieces = job.built.pieces

    def line(step: Step) -> tuple[str, str] | None:
        plain = len(step.pieces) == 1 and not step.fitted and not step.loose
        return (pieces[step.pieces[0]].run, pieces[step.pieces[0]].member) if plain else None

    number = 0
    while number < len(job.order):
        mine, count = line(job.order[number]), 1
        while mine and number + count < len(job.order) and line(job.order[number + count]) == mine:
            count += 1
        if count < FEW:
            count = 1
        yield number, count
        number += count


def _notes(job: ShopJob, step: Step, tags: Mapping[str, str]) -> Iterator[str]:
    if len(step.pieces) > 1:
        yield "glued up on the bench"
    for kind, first in _by_rule(job, step.fitted, tags):
        yield f"{first} ({kind})"
    for kind, first in _by_rule(job, step.loose, tags):
        yield f"leave it loose at {first} until that is in ({kind})"


def _by_rule(job: ShopJob, rules: Sequence[Before], tags: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    """Each rule among these, and the numbers of the pieces that go first by it."""
    for kind in dict.fromkeys(rule.rule for rule in rules):
        yield kind, listed(tags[job.built.pieces[rule.first].name] for rule in rules if rule.rule == kind)


def reasons(job: ShopJob) -> list[str]:
    """Why pieces go up in that order: a sentence for every rule that counts here."""
    used = {rule.rule for step in job.order for rule in (*step.fitted, *step.loose)}
    if any(len(step.pieces) > 1 for step in job.order):
        used.add("return")
    return [f"{kind.capitalize()}: {why}." for kind, why in REASONS.items() if kind in used]


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
    if not short:
        return ""
    which = f"Piece {short[0]} is" if len(short) == 1 else f"Pieces {listed(short)} are"
    each = "it" if len(short) == 1 else "each"
    held = "it" if len(short) == 1 else "them"
    return (
        f"{which} shorter than 300 mm (12 in): cut {each} off a longer one, or hold {held} in a jig, never by hand "
        "near the blade."
    )
