"""What is and is not included, notes and cautions, and the page to sign."""

from __future__ import annotations

from reportlab.platypus import Flowable, Spacer

from preview.client import CAUTION
from preview.pages import Element, Lines, Para, bullets, clean, has_all, note, panel, said, sub
from preview.sheet.making import Making, code_of
from preview.units import counted, listed

NOTES = (
    "A picture's color and grain are an impression: judge a finish by a sample.",
    "Wood moves with the air of the room; joints open and close with the seasons.",
)
WHAT_A_CODE_IS = "The code changes with anything that is cut or seen. An option has a code of its own."
CHANGES, SIGNED = 6, ("Name", "Signature", "Date")
LINE = 19.0
"""Points between lines to write on."""


def included(making: Making) -> list[Flowable]:
    """What is and is not included, as the job says; where it is silent, a line to fill in."""
    part, flow = making.section("What is included", room=0.0)
    details, styles = making.job.scene.job, making.styles
    for title, items in (("Included", details.includes), ("Not included", details.excludes)):
        flow += sub(making, part, title)
        if any(item.strip() for item in items):
            flow += bullets(part, items, styles.item)
        else:
            flow.append(Lines(part, ["To be agreed", ""], styles, gap=LINE))
            flow.append(Spacer(0, 3.0))
    return flow


def notes(making: Making) -> list[Flowable]:
    """The job's own notes, and the usual cautions."""
    part, flow = making.section("Notes")
    styles = making.styles
    if making.job.scene.job.notes:
        flow += [*sub(making, part, "On this job"), *bullets(part, making.job.scene.job.notes, styles.item)]
        flow += sub(making, part, "Cautions")
    told = [*NOTES, CAUTION]
    if making.job.photos and making.job.rough:
        told.append("The pictures of this sheet were made quickly and are rough.")
    if missing_letters(making):
        told.append('Letters that the type of this sheet does not have are printed as "?". The scene file has them.')
    return [*flow, *bullets(part, told, styles.item)]


def missing_letters(making: Making) -> bool:
    """Whether something that a person wrote has letters that the type lacks."""
    job = making.job
    scene, brand, details = job.scene, job.brand, job.scene.job
    texts = [scene.title, brand.name, *brand.lines, brand.footer, details.client, details.place, details.number]
    texts += [details.drawn_by, details.revision, details.date, details.species]
    texts += [*details.notes, *details.includes, *details.excludes]
    texts += [photo.name for photo in job.photos]
    texts += [piece.name for piece in making.built.pieces]
    texts += [member.profile.name + member.finish.name for member in making.built.members]
    texts += [
        text for choice in scene.choices for each in choice.alternatives for text in (choice.name, each.name, each.says)
    ]
    return not all(has_all(text) for text in texts)


def signing(making: Making) -> list[Flowable]:
    """What is approved, the boxes to tick, and the place to sign; in one piece."""
    job, styles, first = making.job, making.styles, making.first
    part, flow = making.section("Approval", room=0.0)
    built = first.built
    members = list(dict.fromkeys(line.member for line in built.lines if line.pieces[0].role != "block"))
    what = f"{counted(len(built.pieces), 'piece')} of {listed(clean(member) for member in members)}"
    details = job.scene.job
    revision = f", revision {clean(details.revision)}" if details.revision.strip() else ""
    taken = f", with the options {clean(job.taken)}" if job.taken else ""
    told = [
        note(part, "What is approved is the model with this code, and nothing else:", styles.text),
        note(part, code_of(first), styles.code),
        note(
            part,
            f"{clean(job.scene.title)}{revision}{taken}: {what}, as drawn on these sheets, made {clean(job.made)}.",
            styles.text,
        ),
        note(
            part, "The code changes with anything that is cut or seen. An option has a code of its own.", styles.small
        ),
    ]
    flow.append(panel(told, making.column, styles))
    if first.inspection is None or first.holds is False:
        why = "has not been checked" if first.inspection is None else "does not hold every check"
        flow.append(note(part, f"This model {why}: see Checks before signing.", styles.warning))
    flow.append(_tick(making, part, f"Approve as drawn, code {code_of(first)}"))
    if len(job.shown) > 1:
        flow.append(_tick(making, part, "Approve with this option instead, code as under Options:"))
        flow.append(Lines(part, ["Option number and code"], styles, gap=LINE, left=19.0))
    flow.append(_tick(making, part, "Changes asked for:"))
    flow.append(Lines(part, [""] * CHANGES, styles, gap=LINE, left=19.0))
    flow.append(Spacer(0, 8.0))
    flow.append(Lines(part, SIGNED, styles, gap=26.0))
    return flow


def _tick(making: Making, part: Element, text: str) -> Para:
    made = Para.of(part.child("P"), said(text), making.styles.tick_bold)
    made.ticked = True
    return made
