"""The [[option]]s of a scene: what a client may choose, and what each choice changes, read and checked as written."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from preview.errors import PreviewError
from preview.runs import LEAST_TURNS, MOST_TURNS
from preview.scene import block, run
from preview.scene.kinds import Kind, choice, in_a_row, name, suggested, text, whole
from preview.scene.looks import KEYS as SURROUNDING
from preview.scene.model import Alternative, Choice, Picked, Scene, Variant
from preview.scene.steps import VERBS
from preview.scene.table import Log, Table
from preview.scene.written import written

KEYS = ("choice", "name", "says", "changes")
USUAL_CHOICE = "option"
"""What the choice is called in a scene that has one and does not name it."""
AS_DRAWN = "as drawn"
"""The name of the scene itself, where no option gives it one."""
MOST_CHOICES = 8
MOST_VARIANTS = 24
MOST_CHANGES = 50
"""Changes of one option."""
EXAMPLE = '{ run = "seat", curves = "miter" }'

Noun = Literal["run", "member", "block", "finish", "surrounding"]
Curves = Literal["miter", "turns"]
CURVES: tuple[Curves, ...] = ("miter", "turns")
"""What a curve can become."""
BENDS = ("curves", "turns", "radius")
"""Keys of a change that speak of a run's curves, all of them or that of one step."""
PATHS = ("steps", "points")
OF_RUN = (*BENDS, *(key for key in run.KEYS if key != "name"))
OF_STEP = tuple(dict.fromkeys(("step", "curves", *VERBS, *(key for keys in VERBS.values() for key in keys))))
OF: dict[Noun, tuple[str, ...]] = {
    "run": OF_RUN,
    "member": ("profile", "out", "up", "finish"),
    "block": block.KEYS,
    "finish": ("color", "roughness", "metallic", "kind"),
    "surrounding": tuple(dict.fromkeys(key for keys in SURROUNDING.values() for key in keys if key != "name")),
}
"""What can be changed, and its keys that can be."""
LISTED: tuple[Noun, ...] = ("run", "surrounding")
"""What stands under headings in double brackets."""


@dataclass(frozen=True)
class Change:
    """One change of an option.

    row: where it stands. noun: what is changed. at: which one, by its name or its place in the file. place: how errors
    speak of that one.
    """

    row: Table
    noun: Noun
    at: str | int
    place: str

    @property
    def keys(self) -> dict[str, object]:
        """What is given new values, the curves' keys among them."""
        return {key: value for key, value in self.row.data.items() if key not in (self.noun, "step")}

    @property
    def step(self) -> object:
        """The number of the step that is changed, as written; None for a change of the whole."""
        return self.row.data.get("step") if self.noun == "run" else None


@dataclass(frozen=True)
class Option:
    """One [[option]]. Without changes it is the scene as drawn."""

    table: Table
    choice: str
    alternative: Alternative
    changes: tuple[Change, ...]


Offered = tuple[tuple[Choice, tuple[Option | None, ...]], ...]
"""Each choice, and the options its alternatives stand for; None for the scene as drawn where no option names it."""


def read_options(top: Table) -> Offered:
    """The choices of a scene; mistakes are noted. What the changes change is not read yet."""
    tables = top.headed("option")
    targets = {noun: _targets(top, noun) for noun in OF} if tables else {}
    noted = len(top.log.problems)
    options = [each for table in tables if (each := _option(table, targets))]
    _refuse_unnamed_choices(options)
    choices = {label: [each for each in options if each.choice == label] for label in _in_order(options)}
    offered = [_choice(label, each) for label, each in choices.items()]
    if len(top.log.problems) == noted:
        _refuse_too_many(top, offered)
    if len(top.log.problems) == noted:
        _refuse_changed_twice(options)
    return tuple(offered) if len(top.log.problems) == noted else ()


def _in_order(options: Sequence[Option]) -> dict[str, None]:
    return dict.fromkeys(each.choice for each in options)


def _option(table: Table, targets: Mapping[Noun, Mapping[str, tuple[str | int, str]] | None]) -> Option | None:
    table.only(KEYS, "in an option")
    label = table.need("name", name, 'name the option: name = "mitered"')
    decides = table.take("choice", name, USUAL_CHOICE)
    says = table.take("says", text, "")
    rows = table.rows("changes", "change", EXAMPLE)
    if len(rows) > MOST_CHANGES:
        problem = f"the option makes {len(rows)} changes, and {MOST_CHANGES} is the most"
        table.wrong("changes", None, problem, "write the option as a scene of its own")
        return None
    changes = [each for row in rows if (each := _change(row, targets))]
    if label is None or table.told("changes"):
        return None
    return Option(table, decides, Alternative(label, says), tuple(changes))


# One change.


def _change(row: Table, targets: Mapping[Noun, Mapping[str, tuple[str | int, str]] | None]) -> Change | None:
    of_step = "step" in row or any(key in OF_STEP and key not in (*OF_RUN, *OF) for key in row.data)
    verb = row.one({str(noun): OF_STEP if noun == "run" and of_step else keys for noun, keys in OF.items()}, "change")
    noun = next((noun for noun in OF if noun == verb), None)
    if noun is None:
        return None
    if noun == "run" and of_step and "step" not in row and not row.told("step"):
        problem = "it changes one step of the run, and does not say which"
        row.wrong("step", None, problem, "write its number, counted from 1: step = 2")
        return None
    if all(key in (noun, "step") for key in row.data):
        row.wrong("", written(row.data), "it does not say what is different", f"write that beside it, as in {EXAMPLE}")
        return None
    if noun == "run":
        _refuse_bends(row)
    known = targets[noun]
    if known is None:
        return None
    found = row.take(noun, _one_of(noun, known), None)
    return None if found is None else Change(row, noun, *found)


def _targets(top: Table, noun: Noun) -> dict[str, tuple[str | int, str]] | None:
    """What can be changed, by name: its key or place, and how errors speak of it; None where its heading is wrong."""
    scratch = Table(top.data, "", Log())
    if noun not in LISTED:
        named = scratch.named(noun)
        return None if scratch.told(noun) else {label: (label, table.place) for label, table in named.items()}
    found: dict[str, tuple[str | int, str]] = {}
    for at, table in enumerate(scratch.headed(noun)):
        label = table.data.get("name", f"{table.data.get('kind')} {at + 1}" if noun == "surrounding" else None)
        if isinstance(label, str):
            found.setdefault(label, (at, table.place))
    return None if scratch.told(noun) else found


def _one_of(noun: Noun, known: Mapping[str, tuple[str | int, str]]) -> Kind[tuple[str | int, str]]:
    def read(value: object) -> tuple[str | int, str]:
        wanted = text(value)
        if wanted in known:
            return known[wanted]
        meant = suggested(wanted, known)
        fix = f"did you mean {written(meant)}?" if meant else f"write {in_a_row([written(each) for each in known])}"
        if not meant and (not known or len(known) > 12):
            fix = f"write the name of one that the scene has under a heading {_heading(noun)}"
        raise PreviewError("", written(value), f"the scene has no {noun} of that name", fix)

    return read


def _heading(noun: Noun) -> str:
    return f"[[{noun}]]" if noun in LISTED else f"[{noun}.NAME]"


def _refuse_bends(row: Table) -> None:
    """Note what makes no sense of the keys that speak of curves."""
    said = "a curve becomes a mitered corner, or goes round in mitered turns"
    curves = row.take("curves", choice(CURVES, said), None)
    turned = row.data.get("curves") == "turns"
    if turned:
        few = f"a curve goes round in {LEAST_TURNS} to {MOST_TURNS} equal turns"
        fix = "write turns = 3, say; one turn is a mitered corner"
        row.need("turns", whole(LEAST_TURNS, MOST_TURNS, few, fix), "write how many equal turns: turns = 3")
    elif "turns" in row and ("step" not in row or curves):
        problem = "it says how many turns, and nothing goes round in turns"
        row.wrong("turns", row.shown("turns"), problem, 'write curves = "turns" beside it, or leave turns out')
    if curves == "miter" and "radius" in row:
        problem = "the curves become mitered corners, which have no radius"
        row.wrong("radius", row.shown("radius"), problem, "leave radius out, or curves")


# The choices.


def _choice(label: str, options: Sequence[Option]) -> tuple[Choice, tuple[Option | None, ...]]:
    """One choice with its alternatives, the scene as drawn first; what cannot be chosen between is noted."""
    drawn = [each for each in options if not each.table.data.get("changes")]
    for each in drawn[1:]:
        problem = f"the scene as drawn is an option of this choice already, {written(drawn[0].alternative.name)}"
        each.table.wrong("", None, problem, f"write what is different: changes = [{EXAMPLE}]")
    if drawn and len(options) == 1:
        problem = "this is the only option of its choice, and the scene as drawn"
        options[0].table.wrong("", None, problem, "add another option that changes something, or take this one out")
    names: dict[str, None] = {} if drawn else {AS_DRAWN: None}
    for each in options:
        own = each.alternative.name
        if own.casefold() in names:
            used = "another option of this choice has this name"
            if not drawn and own.casefold() == AS_DRAWN:
                used = "the scene as drawn is called this where no option without changes has a name for it"
            each.table.wrong("name", written(own), used, "give every option of a choice a name of its own")
        names[own.casefold()] = None
    first: Option | None = drawn[0] if drawn else None
    ordered = (first, *(each for each in options if each not in drawn))
    alternatives = tuple(each.alternative if each else Alternative(AS_DRAWN) for each in ordered)
    return Choice(label, alternatives), ordered


def _refuse_unnamed_choices(options: Sequence[Option]) -> None:
    """Where a scene has several choices, each option says to which it belongs."""
    if len(_in_order(options)) > 1:
        for each in options:
            if "choice" not in each.table and not each.table.told("choice"):
                others = [label for label in _in_order(options) if label != USUAL_CHOICE]
                problem = "other options name their choice, and this one does not"
                each.table.wrong(
                    "choice", None, problem, f"write the choice it belongs to: choice = {written(others[0])}"
                )


def _refuse_too_many(top: Table, offered: Sequence[tuple[Choice, object]]) -> None:
    if len(offered) > MOST_CHOICES:
        problem = f"the options belong to {len(offered)} choices, and {MOST_CHOICES} is the most"
        top.wrong("option", None, problem, "put what a client decides together into one choice")
        return
    count = math.prod(len(each.alternatives) for each, _ in offered)
    if count > MOST_VARIANTS:
        problem = f"the options can be combined in {count} ways, and {MOST_VARIANTS} is the most"
        top.wrong("option", None, problem, "put what goes together into one option, or take some out")


def _refuse_changed_twice(options: Sequence[Option]) -> None:
    """Note a change of what an option of another choice changes too: the two could not be combined."""
    changes = [(option, change) for option in options for change in option.changes]
    for i, (option, change) in enumerate(changes):
        for other, earlier in changes[:i]:
            key = _both(earlier, change) if other.choice != option.choice else None
            if key:
                told = f"choice {written(other.choice)}, option {written(other.alternative.name)}"
                problem = f"{told}, changes this too, and choices are combined freely"
                change.row.wrong(key, change.row.shown(key), problem, "put these options into one choice")
                break


def _both(one: Change, other: Change) -> str | None:
    """A key of the second change by which both change the same thing; None where there is none."""
    if (one.noun, one.at) != (other.noun, other.at):
        return None
    shared = [key for key in other.keys if key in one.keys and key != "turns"]
    if one.step != other.step:
        shared = [key for key in shared if key in BENDS and None in (one.step, other.step)]
    if shared:
        return shared[0]
    along = ["step" if each.step else next((key for key in BENDS if key in each.keys), "") for each in (one, other)]
    paths = [next((key for key in PATHS if key in each.keys), "") for each in (one, other)]
    if one.noun == "run" and paths[0] and (along[1] or paths[1]):
        return along[1] or paths[1]
    return paths[1] if one.noun == "run" and along[0] and paths[1] else None


# The variants.


def every_variant(scene: Scene) -> tuple[Variant, ...]:
    """Every combination of a scene's choices, as drawn first; the scene itself where it has none."""
    return scene.variants or (Variant((), scene),)


def chosen(scene: Scene, names: Sequence[str]) -> Scene:
    """The scene with the alternatives of these names picked ("mitered", or "corner=mitered"), the rest as drawn.

    Raises PreviewError, naming the nearest, for a name that no alternative or more than one has, and for two of one
    choice.
    """
    picks: dict[int, tuple[int, str]] = {}
    for wanted in names:
        at, pick = _picked(scene, wanted)
        if at in picks and picks[at][0] != pick:
            problem = f"{written(picks[at][1])} is of the same choice, {written(scene.choices[at].name)}"
            raise _unchosen(scene, wanted, problem, "choose one of the two")
        picks[at] = pick, wanted
    named = tuple(picks[at][0] if at in picks else None for at in range(len(scene.choices)))
    found = next(each.scene for each in every_variant(scene) if each.picks == tuple(pick or 0 for pick in named))
    return replace(found, picked=Picked(scene.choices, named)) if picks else found


def _picked(scene: Scene, wanted: str) -> tuple[int, int]:
    """The place of a choice, and of its alternative, that a name means."""
    if not scene.choices:
        raise _unchosen(scene, wanted, "this scene has no options", "leave it out, or write one: [[option]]")
    full = {f"{label}={name}": at for at, label, name in _alternatives(scene)}
    for same in (str, str.casefold):
        found = [
            at for at, label, name in _alternatives(scene) if same(wanted) in (same(name), same(f"{label}={name}"))
        ]
        if len(found) == 1:
            return found[0]
        if found:
            fix = f"say which: {in_a_row([written(each) for each, at in full.items() if at in found])}"
            raise _unchosen(scene, wanted, f"{len(found)} choices have an option of that name", fix)
    plain = list(dict.fromkeys(name for _, _, name in _alternatives(scene)))
    meant = suggested(wanted, [*plain, *full])
    fix = f"did you mean {written(meant)}?" if meant else f"choose {in_a_row([written(each) for each in plain])}"
    raise _unchosen(scene, wanted, "the scene has no option of that name", fix)


def _alternatives(scene: Scene) -> Iterator[tuple[tuple[int, int], str, str]]:
    for at, each in enumerate(scene.choices):
        for pick, alternative in enumerate(each.alternatives):
            yield (at, pick), each.name, alternative.name


def _unchosen(scene: Scene, wanted: str, problem: str, fix: str) -> PreviewError:
    return PreviewError("option", written(wanted), problem, fix, scene.path.name)
