"""The options: what each changes beside the model as drawn, its code, and a box to tick."""

from __future__ import annotations

from reportlab.platypus import Flowable, KeepTogether

from preview.pages import Element, Para, bullets, note, said, sub
from preview.sheet.front import captioned
from preview.sheet.making import Making, code_of, option_name
from preview.units import counted


def options(making: Making) -> list[Flowable]:
    """The choices that are left open, and every combination of them; nothing where there are none."""
    shown, styles = making.job.shown, making.styles
    if len(shown) < 2:
        return []
    part, flow = making.section("Options")
    for choice in making.job.scene.choices:
        flow += sub(making, part, choice.name)
        flow += bullets(
            part, (f"{each.name}: {each.says}" if each.says else each.name for each in choice.alternatives), styles.item
        )
    flow += _beside(making, part)
    count = counted(len(shown) - 1, "option")
    line = f"The model as drawn, then {count} with what each changes beside it. Tick the one that you choose."
    flow += sub(making, part, "What each changes")
    flow.append(note(part, line, styles.text))
    for number, each in enumerate(shown):
        head = Para.of(
            part.child("H4"),
            f'{said(option_name(making, number))} <font name="{styles.regular}" color="#5f666e"> code </font>'
            f"{said(code_of(each))}",
            styles.tick_bold,
        )
        head.ticked = True
        block: list[Flowable] = [head]
        if number == 0 and making.job.scene.choices:
            drawn = "; ".join(f"{each.name}: {each.alternatives[0].name}" for each in making.job.scene.choices)
            block.append(note(part, drawn, styles.under_tick))
        block += bullets(part, each.changes, styles.small_item)
        if each.holds is False:
            block.append(note(part, "Not every check holds on this one: see Checks.", styles.under_tick))
        flow.append(KeepTogether(block))
    return flow


def _beside(making: Making, part: Element) -> list[Flowable]:
    """The options side by side, as wide as a column, with their names and codes."""
    photo = making.job.beside
    if photo is None:
        return []
    named = [
        f"{option_name(making, number)} (code {code_of(making.job.shown[number])})"
        for number in making.job.beside_numbers
    ]
    figure, _ = captioned(making, part, photo, making.column)
    caption = note(part, f"From one place, row by row: {'; '.join(named)}.", making.styles.caption)
    return [KeepTogether([figure, caption])]
