"""The page in words and figures: what is read where no scripts run, by a screen reader, and on paper."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from preview.client.page.shown import Shown
from preview.client.page.words import (
    CAUTION,
    LENGTH_WORDS,
    forecasts_by_name,
    joint_figures,
    joint_name,
    turn_text,
)
from preview.joinery import Piece, piece_lengths
from preview.profiles import measure
from preview.scene import FINISH_WORDS, Finish, Scene
from preview.units import Unit, counted, degrees_text, listed, show
from preview.vantage import corner_side

MOST_ROWS = 200
"""How many rows a table has at most; how many more there are is said."""
BROWN = 0.06
"""How far apart the parts of a color must be, at least, for it to have a hue."""


def tables(scene: Scene, shown: Sequence[Shown]) -> str:
    """The pieces and joints of the scene as drawn, the choices and what each changes, finishes, the model's digest."""
    first = shown[0]
    parts = [
        _summary(first),
        *_choices(scene, shown),
        *_whose(scene),
        *_pieces(scene, first),
        *_joints(first),
        *_finishes(first),
        *_models(scene, shown),
        f'<p class="caution">{escape(CAUTION)}</p>',
    ]
    return "\n".join(parts)


def _whose(scene: Scene) -> list[str]:
    """Of which of the scene's variants the tables are, where there are several."""
    if not scene.choices:
        return []
    picked = "; ".join(f"{choice.name}: {choice.alternatives[0].name}" for choice in scene.choices)
    return [f"<p>The pieces and joints below are those of the molding as drawn ({escape(picked)}).</p>"]


def described(shown: Shown) -> str:
    """What a picture of a variant shows, in words."""
    built = shown.built
    members = list(dict.fromkeys(line.member for line in built.lines if line.pieces[0].role != "block"))
    blocks = sum(piece.role == "block" for piece in built.pieces)
    curves = sum(piece.kind == "curve" for piece in built.pieces)
    finishes = dict.fromkeys(look.finish for look in built.members)
    said = [counted(len(built.pieces), "piece")]
    said += [f"{curves} of them curved"] if curves else []
    said += [counted(blocks, "block")] if blocks else []
    corners = {
        (pair.joint.at, corner_side(pair.joint))
        for pair in built.joints
        if corner_side(pair.joint)
        and pair.before is not None
        and pair.after is not None
        and "return" not in (built.pieces[pair.before].role, built.pieces[pair.after].role)
    }
    for side in ("outside", "inside"):
        count = sum(each == side for _, each in corners)
        said += [counted(count, f"{side} corner")] if count else []
    looks = "; ".join(f"{finish.name} ({color_words(finish)})" for finish in finishes)
    return f"{built.scene.title}: {listed(members)} in {', '.join(said)}. Finishes: {looks}."


def color_words(finish: Finish) -> str:
    """A finish's color and kind in words, with the color as it is written."""
    return f"{_color(finish)}, {FINISH_WORDS[finish.kind]}, {hexadecimal(finish)}"


def hexadecimal(finish: Finish) -> str:
    """A finish's color as `#rrggbb`."""
    return "#" + "".join(f"{round(255 * part):02x}" for part in finish.color)


def _color(finish: Finish) -> str:
    """A color in two words or one."""
    low, high = min(finish.color), max(finish.color)
    light = (low + high) / 2
    tone = "dark " if light < 0.3 else "light " if light > 0.72 else ""
    strength = (high - low) / (1 - abs(2 * light - 1) + 1e-9)
    if high - low < BROWN or strength < 0.09:
        return "black" if light < 0.08 else "white" if light > 0.9 else f"{tone}gray"
    red, green, blue = finish.color
    turns = {red: ((green - blue) / (high - low)) % 6, green: (blue - red) / (high - low) + 2}
    hue = 60 * turns.get(high, (red - green) / (high - low) + 4)
    if high > 0.92 and light > 0.88:
        return "off-white"
    names = ((15, "red"), (45, "brown"), (70, "yellow"), (165, "green"), (200, "blue-green"), (255, "blue"))
    name = next((word for limit, word in names if hue < limit), "violet" if hue < 320 else "red")
    if strength < 0.25:
        name = f"{'warm' if name in ('red', 'brown', 'yellow') else name + 'ish'} gray"
    return f"{tone}{name}"


def _summary(shown: Shown) -> str:
    said = [escape(described(shown))]
    if shown.inspection is not None:
        count = len(shown.inspection.findings)
        said.append(f"All {count} checks hold." if shown.holds else "Not every check holds:")
    text = f"<p>{' '.join(said)}</p>"
    if shown.failures:
        text += _list(shown.failures)
    return text


def _choices(scene: Scene, shown: Sequence[Shown]) -> list[str]:
    if not scene.choices:
        return []
    parts = ["<h3>Choices</h3>"]
    for choice in scene.choices:
        names = [f"{each.name}: {each.says}" if each.says else each.name for each in choice.alternatives]
        parts.append(f"<h4>{escape(choice.name)}</h4>{_list(names)}")
    rows = []
    for each in shown:
        holds = {None: "not checked", True: "every check holds", False: "a check fails"}[each.holds]
        rows.append([picked(scene, each), _lines(each.changes) or "as drawn", holds])
    parts.append(_table("What each changes, beside the scene as drawn", ["choice", "changes", "checks"], rows, raw={1}))
    return parts


def picked(scene: Scene, shown: Shown) -> str:
    """A variant by its alternatives' names."""
    names = [
        choice.alternatives[pick].name
        if len(scene.choices) == 1
        else f"{choice.name}: {choice.alternatives[pick].name}"
        for choice, pick in zip(scene.choices, shown.picks, strict=False)
    ]
    return ", ".join(names) or "as drawn"


def _pieces(scene: Scene, shown: Shown) -> list[str]:
    """The pieces with their lengths in the scene's unit, and in mm where that is another."""
    built = shown.built
    curved = any(piece.curvature for piece in built.pieces[:MOST_ROWS])
    columns = ["piece", *LENGTH_WORDS.values(), *(["curve of the wall line"] if curved else []), "finish"]
    rows = []
    for piece, member in list(zip(built.pieces, built.members, strict=True))[:MOST_ROWS]:
        curve = [_curve(piece, scene.units)] if curved else []
        rows.append([piece.name, *_sizes(piece, scene.units), *curve, member.finish.name])
    return [
        "<h3>Pieces</h3>",
        _table("Each piece and its lengths; a curve's are arcs", columns, rows),
        _more(len(built.pieces), "piece"),
    ]


def _sizes(piece: Piece, unit: Unit) -> list[str]:
    if piece.role == "block":
        size = measure(piece.profile)
        sides = sorted((size.d_max - size.d_min, size.h_max - size.h_min, piece.element.length))
        return ["", "", "", " by ".join(both(side, unit) for side in sides)]
    return [both(value, unit) for value in piece_lengths(piece).values()]


def _curve(piece: Piece, unit: Unit) -> str:
    if not piece.curvature:
        return ""
    return f"radius {both(piece.element.radius, unit)}, {degrees_text(abs(piece.element.sweep))}"


def both(mm: float, unit: Unit) -> str:
    """A length in the scene's unit, and in mm where that is another."""
    told = show(mm, unit)
    return told if unit == "mm" else f"{told} ({show(mm, 'mm')})"


def _joints(shown: Shown) -> list[str]:
    built, inspection = shown.built, shown.inspection
    if not shown.listed:
        return []
    holds, forecasts = shown.joints_hold(), forecasts_by_name(built)
    columns = ["joint", "kind", "corner", "turn", *(["measured on the model", "holds"] if inspection else [])]
    rows = []
    for number in shown.listed[:MOST_ROWS]:
        joint = built.joints[number].joint
        row = [joint_name(joint), joint.kind, corner_side(joint), turn_text(joint)]
        if inspection:
            told = joint_figures(inspection.meetings[number], forecasts.get(joint.name))
            held = holds.get(joint.name)
            row.append(_lines(f"{each['name']}: {each['value']}" for each in told))
            row.append({None: "", True: "yes", False: "no"}[held])
        rows.append(row)
    return ["<h3>Joints</h3>", _table("Where pieces meet", columns, rows, raw={4}), _more(len(shown.listed), "joint")]


def _finishes(shown: Shown) -> list[str]:
    worn: dict[str, Finish] = {}
    for line, look in zip(shown.built.pieces, shown.built.members, strict=True):
        worn.setdefault(line.member, look.finish)
    rows = [[member, finish.name, color_words(finish)] for member, finish in worn.items()]
    return ["<h3>Finishes</h3>", _table("What each member is finished with", ["member", "finish", "color"], rows)]


def _models(scene: Scene, shown: Sequence[Shown]) -> list[str]:
    rows = [[picked(scene, each), each.code, each.built.digest] for each in shown]
    columns = ["model", "code", "digest"]
    return ["<h3>Which model this is</h3>", _table("What an answer refers to", columns, rows)]


def _table(caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]], raw: set[int] | None = None) -> str:
    """A table with a caption and headed rows. raw: the columns that hold markup already."""
    head = "".join(f'<th scope="col">{escape(column)}</th>' for column in columns)
    body = []
    for row in rows:
        cells = [cell if i in (raw or ()) else escape(cell) for i, cell in enumerate(row)]
        body.append(f'<tr><th scope="row">{cells[0]}</th>{"".join(f"<td>{cell}</td>" for cell in cells[1:])}</tr>')
    name = escape(caption)
    return (
        f'<div class="wide" role="region" tabindex="0" aria-label="{name}">\n<table>\n<caption>{name}</caption>\n'
        f"<thead><tr>{head}</tr></thead>\n<tbody>\n" + "\n".join(body) + "\n</tbody>\n</table>\n</div>"
    )


def _more(count: int, word: str) -> str:
    return "" if count <= MOST_ROWS else f"<p>and {counted(count - MOST_ROWS, word)} more; the model shows them all</p>"


def _list(items: Iterable[str]) -> str:
    return f"<ul>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ul>"


def _lines(items: Iterable[str]) -> str:
    return "<br>".join(escape(item) for item in items)
