"""A survey in the words of the trade: the miss, what was done about it, and what to measure again."""

from __future__ import annotations

import math

from preview.runs.closing import CLOSES_WITHIN
from preview.runs.survey import TURNS_WITHIN, Survey
from preview.runs.survey_adjust import ENDS_WITHIN, Adjustment, Corrected
from preview.runs.survey_traverse import Measured
from preview.units import Unit, degrees_text, show

NOUNS = {
    "straight": "the straight",
    "corner": "the corner",
    "sweep": "the turn of the curve",
    "radius": "the radius of the curve",
    "arrives x": "x of the point of arrival",
    "arrives y": "y of the point of arrival",
}
COMPARED = {"straight": ("longer", "shorter"), "radius": ("larger", "smaller")}


def survey_rows(found: Survey, unit: Unit) -> list[tuple[str, str, str, str, str, str, str]]:
    """For a table: place, what, measured, may be off, adjusted, change, and that in units of what it may be off.

    Angles stand as they were read, between walls or as turns; measurements that are held are left out.
    """
    rows = found.adjustment.rows if found.adjustment else ()
    return [
        (
            row.measured.place,
            NOUNS[row.measured.kind].removeprefix("the "),
            _read(row.measured, row.measured.as_read(row.measured.value), unit),
            _read(row.measured, row.measured.within_as_read, unit),
            _read(row.measured, row.measured.as_read(row.adjusted), unit),
            _change(row.measured, row.correction, unit),
            f"{row.times:.2f}",
        )
        for row in rows
        if row.measured.within
    ]


def survey_sentences(found: Survey, unit: Unit) -> list[str]:
    """The survey in plain words: the miss, what was done about it, whether to believe it, what to measure again."""
    told = [_miss(found, unit)]
    if found.closing == "show":
        told.append(_shown(found, unit))
    elif found.adjustment:
        told.append(_spread(found.adjustment, unit))
    if found.adjustment:
        told.append(_verdict(found.adjustment))
        told += _suspects(found.adjustment, unit)
    return told


def _miss(found: Survey, unit: Unit) -> str:
    missed = found.closure
    aim = "its start" if found.closed else "its point of arrival"
    if found.meets:
        told = f"As measured, the run {'closes' if found.closed else 'arrives'}"
    elif missed.distance <= CLOSES_WITHIN:
        told = f"As measured, the run ends at {aim}"
    else:
        told = (
            f"As measured, the run misses {aim} by {show(missed.distance, unit)}, 1 part in {missed.precision:,.0f} of "
            f"the way walked"
        )
    if missed.turn is None or abs(missed.turn) <= TURNS_WITHIN:
        return f"{told}."
    more = "more" if missed.turn > 0 else "less"
    return f"{told}; its corners and curves turn {degrees_text(abs(missed.turn))} {more} than one whole turn."


def _shown(found: Survey, unit: Unit) -> str:
    if found.meets:
        return "It is laid out as measured."
    lies = " and ".join(
        f"{show(abs(miss), unit)} toward {'+' if miss > 0 else '-'}{axis}"
        for axis, miss in (("x", found.closure.dx), ("y", found.closure.dy))
        if abs(miss) > ENDS_WITHIN
    )
    joint = ", and no joint is made between its last piece and its first" if found.closed else ""
    place = f"{lies} of where it should be" if lies else "where it should be"
    return f"It is laid out as measured: its end lies {place}{joint}."


def _spread(adjustment: Adjustment, unit: Unit) -> str:
    count = sum(1 for row in adjustment.rows if row.measured.within)
    worst = adjustment.worst
    if not worst.correction:
        return "Nothing had to be changed."
    over = f"{count} measurements" if count > 1 else "one measurement"
    return (
        f"The miss is spread over {over} by least squares, by what each may be off; compared with that, most changes "
        f"at {worst.measured.place}: {NOUNS[worst.measured.kind]} {_change(worst.measured, worst.correction, unit)}, "
        f"{worst.times:.2g} times what it may be off."
    )


def _verdict(adjustment: Adjustment) -> str:
    figure = (
        f"the overall figure is {adjustment.overall:.3g}, which good measurements keep under {adjustment.limit:.4g} "
        "99 times in 100"
    )
    if adjustment.credible:
        return f"The measurements bear each other out: none has to change by more than it may be off, and {figure}."
    worst = adjustment.worst
    cause = "together they disagree by more than they may be off"
    if worst.times > 1.0:
        cause = f"{worst.measured.place} has to change by {worst.times:.2g} times what it may be off"
    joined = "though" if adjustment.overall <= adjustment.limit else "and"
    return f"The measurements do not bear each other out: {cause}, {joined} {figure}."


def _suspects(adjustment: Adjustment, unit: Unit) -> list[str]:
    told = [_alone(adjustment.rows[i], unit) for i in adjustment.suspects[:4]]
    if not told:
        return []
    more = len(adjustment.suspects) - len(told)
    last = f", or {more} more that cannot be told from these" if more else ""
    return [f"Measure again first: {', or '.join(told)}{last}."]


def _alone(row: Corrected, unit: Unit) -> str:
    change = _change(row.measured, row.alone, unit)
    return (
        f"{row.measured.place}, where {NOUNS[row.measured.kind]} alone would have to be {change}, "
        f"{row.times_alone:.2g} times what it may be off"
    )


def _read(measured: Measured, value: float, unit: Unit) -> str:
    """A value that is mm or degrees already."""
    return degrees_text(math.radians(value)) if measured.is_angle else show(value, unit)


def _change(measured: Measured, change: float, unit: Unit) -> str:
    """A change as it is read: 1/8" longer, 0.3° less."""
    read = measured.as_read(measured.value + change) - measured.as_read(measured.value)
    more, less = COMPARED.get(measured.kind, ("more", "less"))
    size = _read(measured, abs(read), unit)
    return f"{size} {more if read > 0 else less}" if any(mark in "123456789" for mark in size) else "0"
