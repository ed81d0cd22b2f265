"""The checks in plain words, with their figures and limits; failures told first; what to expect on site."""

from __future__ import annotations

import math
from collections.abc import Sequence

from reportlab.platypus import Flowable

from preview.checks import JOINT_CHECKS, Finding
from preview.client import Shown
from preview.pages import Element, bullets, note, said, sub, table
from preview.sheet.making import Making, option_name
from preview.shop import JointForecast
from preview.units import counted

OTHERS = 12
"""So many failures of an option are told one by one."""


def checks(making: Making) -> list[Flowable]:
    """What was measured on the model as drawn and on the options, and what is forecast on site."""
    part, flow = making.section("Checks")
    styles, first = making.styles, making.first
    if first.inspection is None:
        told = "This model has not been measured yet: nothing is said here about its joints. Ask for a checked sheet."
        return [*flow, note(part, told, styles.warning), *_second_look(making, part)]
    if first.holds is False:
        told = "Not every check holds. The shop has to settle this before anything is approved:"
        flow.append(note(part, told, styles.warning))
        flow += bullets(part, first.failures or failing(first), styles.item)
    flow += [note(part, text, styles.text) for text in sentences(making)]
    flow += _others(making, part)
    flow += _second_look(making, part)
    if making.built.forecasts:
        flow += _forecast(making, part, making.built.forecasts)
    return flow


def second_look(making: Making) -> list[str]:
    """What holds and may still not be meant, on the model as drawn and on its options: the builder's remarks."""
    found: dict[str, None] = {}
    for number, shown in enumerate(making.job.shown):
        for text in shown.built.remarks:
            if text not in found:
                found[text if number == 0 else f"{option_name(making, number)}: {text}"] = None
    return list(found)


def _second_look(making: Making, part: Element) -> list[Flowable]:
    told = second_look(making)
    if not told:
        return []
    return [*sub(making, part, "Worth a second look"), *bullets(part, told, making.styles.item)]


def sentences(making: Making) -> list[str]:
    """What was measured, in sentences: the joints, the pieces, the whole."""
    first = making.first
    assert first.inspection is not None
    findings = first.inspection.findings
    found: list[str] = []
    gaps, steps, angles = ([each for each in findings if each.check.code == code] for code in JOINT_CHECKS)
    count = len(gaps)
    if count:
        where = "Both joints are" if count == 2 else f"All {count} joints are" if count > 1 else "The one joint is"
        worst = worst_of(gaps)
        if all(each.holds for each in gaps):
            found.append(f"{where} tight: no gap is over {figure(worst, 'mm')} (limit {limit(gaps)}).")
        else:
            bad = sum(not each.holds for each in gaps)
            are = "are" if bad > 1 else "is"
            found.append(
                f"{counted(bad, 'joint')} of {count} {are} open: the widest gap is {figure(worst, 'mm')} "
                f"(limit {limit(gaps)})."
            )
    if steps:
        well = "At the joints the faces are flush: no step is over"
        found.append(_one(steps, well, "mm", "At a joint one face stands proud of the other by"))
    if angles:
        well = "The lines of the profile carry through the joints: none is off by more than"
        found.append(_one(angles, well, "°", "At a joint the lines of the profile are off by"))
    others = [each for each in findings if each.check.code not in JOINT_CHECKS]
    if others:
        holds = sum(each.holds for each in others)
        pieces = counted(len(making.built.pieces), "piece")
        more = counted(len(others), "more check")
        hold = "all pass" if holds == len(others) else f"{holds} pass, {len(others) - holds} fail"
        found.append(
            f"{more} on the {pieces}, of solids without holes, true profiles, lengths, volumes and overlaps: {hold}."
        )
    found.append("All this is measured on the model. What is cut and fitted on site is never as exact.")
    return found


def _one(found: Sequence[Finding], well: str, unit: str, badly: str) -> str:
    told = well if all(each.holds for each in found) else badly
    return f"{told} {figure(worst_of(found), unit)} (limit {limit(found, unit)})."


def worst_of(found: Sequence[Finding]) -> float:
    """The largest figure; what is no number counts as the largest."""
    return max((each.figure if math.isfinite(each.figure) else math.inf for each in found), default=0.0)


def figure(value: float, unit: str) -> str:
    """A measured figure to three places; what is smaller is told as that.

    >>> figure(0.00012, "mm"), figure(1.23456, "mm"), figure(0.2, "°")
    ('0.001 mm', '1.235 mm', '0.200°')
    """
    space = "" if unit == "°" else " "
    if not math.isfinite(value):
        return "more than can be measured"
    return f"{max(math.ceil(value * 1000 - 1e-9), 1) / 1000:.3f}{space}{unit}"


def limit(found: Sequence[Finding], unit: str = "mm") -> str:
    """The limit that findings were held to: the widest."""
    space = "" if unit == "°" else " "
    widest = math.floor(max(each.limit for each in found) * 10_000 + 1e-6) / 10_000
    return f"{widest:g}{space}{unit}"


def failing(shown: Shown) -> list[str]:
    """What does not hold, in a few words each."""
    if shown.inspection is None:
        return []
    return [
        f"{each.subject}: {each.detail or each.check.question}" for each in shown.inspection.findings if not each.holds
    ]


def _others(making: Making, part: Element) -> list[Flowable]:
    """How the options do."""
    others = list(enumerate(making.job.shown))[1:]
    if not others:
        return []
    styles = making.styles
    bad = [(number, each) for number, each in others if each.holds is False]
    unknown = [option_name(making, number) for number, each in others if each.holds is None]
    flow: list[Flowable] = []
    if not bad and not unknown:
        flow.append(
            note(
                part,
                f"The same checks hold on {'all ' if others[1:] else ''}{counted(len(others), 'option')}.",
                styles.text,
            )
        )
    for number, each in bad:
        flow.append(note(part, f"{option_name(making, number)}: not every check holds.", styles.warning))
        told = list(each.failures or failing(each))
        more = [f"and {len(told) - OTHERS} more"] if len(told) > OTHERS else []
        flow += bullets(part, [*told[:OTHERS], *more], styles.item)
    if unknown:
        flow.append(note(part, f"Not measured yet: {'; '.join(unknown)}.", styles.text))
    return flow


def _forecast(making: Making, part: Element, forecasts: Sequence[JointForecast]) -> list[Flowable]:
    """How far joints may open on site."""
    unit = making.built.scene.units
    flow = sub(making, part, "Forecast on site")
    told = (
        "How far each joint may open, from what the scene says of saw, walls and wood. All at once and in one sense is "
        "the worst; chance makes it less. A forecast is no promise."
    )
    flow.append(note(part, told, making.styles.small))
    rows = []
    for each in forecasts:
        held = each.grade or "no grade"
        grade = {None: held, True: f"{held}, holds", False: f"{held}, less than asked"}
        rows.append(
            [said(each.joint), said(each.kind), gap(each.worst, unit), gap(each.likely, unit), said(grade[each.holds])]
        )
    head = ["Joint", "Kind", "At worst", "Likely", "Grade"]
    shares = (0.38, 0.15, 0.14, 0.13, 0.2)
    flow.append(table(part, head, rows, [share * making.column for share in shares], making.styles, right=[2, 3]))
    sources = list(dict.fromkeys(each.source for each in forecasts if each.source))
    flow += [note(part, f"Grades: {source}", making.styles.small) for source in sources]
    return flow


def gap(mm: float, unit: str) -> str:
    """An opening as the trade says it: thousandths of an inch, or tenths of a mm."""
    return f"{mm / 25.4:.3f}″" if unit in ("in", "ft") else f"{mm:.2f} mm"
