"""What changed along one run, in sentences: corners, straights, ends, and where it stands."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from preview.changes.features import Feature, features
from preview.changes.matching import Pair, matched
from preview.changes.saying import (
    TINY,
    TINY_ANGLE,
    count,
    degrees,
    in_a_row,
    is_are,
    long,
    ordinal,
    plural,
    some,
    two,
    two_angles,
    was_were,
)
from preview.runs import EndWay, Run
from preview.units import Unit

TURNED_BY_LATHE = 300.0
"""mm of radius up to which a curve of a corner is spoken of as turned."""
WIDE = math.radians(135)
"""A curve that goes further round is no corner."""
MOST_GROUPS = 2
"""Straights that differ by more lengths than so many are told in one sentence."""
MOST_PLACES = 3
ENDED = {
    "square": "cut square",
    "return": "returned to the wall by a piece of its own",
    "self-return": "returned in its own wood",
    "butt": "butted square against what stands there",
}


def changed_corners(before: Run, after: Run, unit: Unit) -> Iterator[str]:
    """What became of the turns of a run: how they are made, their radii and their angles."""
    groups: dict[str, list[Feature]] = {}
    first: dict[str, tuple[Feature, Feature]] = {}
    earlier = features(before)
    for one, other in matched(earlier, features(after)):
        if one is None or other is None or one.kind != "turn" or same_turn(one, other):
            continue
        key = f"{_noun(one)}|{_treated(one, unit)}|{_now(one, other, unit)}"
        groups.setdefault(key, []).append(one)
        first.setdefault(key, (one, other))
    for key, mine in groups.items():
        one, other = first[key]
        same = [each for each in earlier if each.kind == "turn" and _noun(each) == _noun(one)]
        radius = f" (radius {long(one.radius, unit)})" if one.treatment == "turned" != other.treatment else ""
        which = _which(mine, same, replace(before, name=after.name))
        yield f"{which}{radius} {_verb(_now(one, other, unit), len(mine))}"


def changed_lengths(before: Run, after: Run, unit: Unit) -> Iterator[str]:
    """Straights longer or shorter, steeper, joined from more or fewer lengths; easements; what came and what went."""
    earlier = features(before)
    pairs = matched(earlier, features(after))
    both = [(one, other) for one, other in pairs if one is not None and other is not None]
    straights = [(one, other) for one, other in both if one.kind == "straight"]
    changed = [pair for pair in straights if abs(pair[1].length - pair[0].length) > TINY]
    yield from _longer(
        changed, [each for each in earlier if each.kind == "straight"], replace(before, name=after.name), unit
    )
    yield from _steeper(straights, after.name)
    for one, other in straights:
        if one.lengths != other.lengths:
            yield f"A straight of {after.name} is in {count(other.lengths, 'length')} of stock (was in {one.lengths})"
    for one, other in both:
        if one.kind == "easement" and abs(one.radius - other.radius) > TINY:
            then, now = two(one.radius, other.radius, unit)
            yield f"An easement of {after.name} has a radius of {now} (was {then})"
    yield from _come_and_gone(pairs, after.name, unit)


def _ended(way: EndWay) -> str:
    """How an end is cut, in words."""
    return ENDED.get(way, way if way == "beveled" else f'cut to "{way}"')


def changed_ends(before: Run, after: Run) -> Iterator[str]:
    """How the ends are cut, whether the run is closed, which profile climbs, and which side it faces."""
    if before.closed != after.closed:
        yield f"{after.name} {'comes back to its start' if after.closed else 'no longer comes back to its start'}"
    for word, then, now in (("beginning", before.begin, after.begin), ("end", before.end, after.end)):
        if then != now and not (before.closed or after.closed):
            yield f"The {word} of {after.name} is {_ended(now)} (was {_ended(then)})"
    if before.raked != after.raked:
        ways = {
            "derived": "carry a profile derived for the slope",
            "same": "carry the same profile as the level ones",
        }
        yield f"The climbing pieces of {after.name} {ways[after.raked]} (before, they {ways[before.raked]})"
    if before.room != after.room:
        yield f"{after.name} stands on the other side of its wall line"


def changed_place(before: Run, after: Run, unit: Unit) -> Iterator[str]:
    """Where a run stands: its height, where it begins and which way it sets out."""
    up = after.level - before.level
    if abs(up) > TINY:
        then, now = two(before.level, after.level, unit)
        yield f"{after.name} is {long(abs(up), unit)} {'higher' if up > 0 else 'lower'} ({then} to {now})"
    one, other = before.elements[0], after.elements[0]
    turn = math.atan2(
        one.tangent[0] * other.tangent[1] - one.tangent[1] * other.tangent[0],
        one.tangent[0] * other.tangent[0] + one.tangent[1] * other.tangent[1],
    )
    if before.stand != after.stand:
        yield f"{after.name} lies elsewhere on its wall, or on another wall"
    moved = math.dist(one.start, other.start)
    if moved > TINY:
        yield f"{after.name} begins {long(moved, unit)} from where it began"
    if abs(turn) > TINY_ANGLE:
        side = "left" if turn > 0 else "right"
        yield f"{after.name} sets out {degrees(abs(turn))} further to the {side}"


def same_turn(one: Feature, other: Feature) -> bool:
    """Whether two turns are made alike, as far as can be seen or cut."""
    told = (one.treatment, one.facets, one.block, one.coped)
    if told != (other.treatment, other.facets, other.block, other.coped):
        return False
    sizes = abs(one.radius - other.radius) <= TINY and abs(one.facet - other.facet) <= TINY
    return sizes and abs(one.turn - other.turn) <= TINY_ANGLE


def corner_words(one: Feature, other: Feature, unit: Unit) -> str:
    """What became of one corner: `now mitered, before turned to a radius of 2"`."""
    now, then = _treated(other, unit), _treated(one, unit)
    if now == then:
        return _verb(_now(one, other, unit), 1)
    return f"now {now}, before {then}"


def _is_turned(one: Feature) -> bool:
    return one.radius <= TURNED_BY_LATHE and abs(one.turn) <= WIDE


def _noun(one: Feature) -> str:
    if one.treatment == "turned":
        return "turned corner" if _is_turned(one) else "curve"
    nouns = {"mitered": "mitered corner", "coped": "coped corner", "splayed": "splayed corner"}
    return nouns.get(str(one.treatment), "corner with a block")


def _treated(one: Feature, unit: Unit) -> str:
    """How a corner is made."""
    match one.treatment:
        case "turned":
            return f"{'turned' if _is_turned(one) else 'curved'} to a radius of {long(one.radius, unit)}"
        case "splayed":
            return f"made with {one.facets} miters, {long(one.facet, unit)} apart"
        case "blocked":
            return f"set with the block {one.block}"
        case _:
            return str(one.treatment)


def _angle(one: Feature) -> float:
    """A corner between its walls, as it is measured; of a curve, how far it goes round."""
    return abs(one.turn) if one.treatment == "turned" else math.pi - abs(one.turn)


def _now(one: Feature, other: Feature, unit: Unit) -> str:
    """What became of a turn, to follow its name; {be}, {have}, {was}: verbs."""
    words: list[str] = []
    if (one.turn > 0) != (other.turn > 0):
        words.append(f"{{be}} now {'an inside' if other.turn > 0 else 'an outside'} turn")
    if one.treatment != other.treatment:
        words.append(f"{{be}} now {_treated(other, unit)}")
    elif one.treatment == "turned" and abs(one.radius - other.radius) > TINY:
        then, now = two(one.radius, other.radius, unit)
        words.append(f"{{have}} a radius of {now} ({{was}} {then})")
    elif one.coped != other.coped:
        words.append(f"{{have}} the cope on the piece {other.coped} the corner ({{was}} {one.coped})")
    elif _treated(one, unit) != _treated(other, unit):
        words.append(f"{{be}} now {_treated(other, unit)} ({{was}} {_treated(one, unit)})")
    if abs(abs(one.turn) - abs(other.turn)) > TINY_ANGLE:
        if (one.treatment == "turned") != (other.treatment == "turned"):
            words.append(f"{{have}} {degrees(_angle(other))} between the walls")
        elif one.treatment == "turned":
            then, now = two_angles(_angle(one), _angle(other))
            words.append(f"{{go}} round {now} ({{was}} {then})")
        else:
            then, now = two_angles(_angle(one), _angle(other))
            words.append(f"{{have}} {now} between the walls ({{was}} {then})")
    return in_a_row(words)


def _verb(text: str, number: int) -> str:
    verbs = {
        "{be}": is_are(number),
        "{have}": "has" if number == 1 else "have",
        "{was}": was_were(number),
        "{go}": "goes" if number == 1 else "go",
    }
    for mark, verb in verbs.items():
        text = text.replace(mark, verb)
    return text


def _which(mine: Sequence[Feature], same: Sequence[Feature], run: Run) -> str:
    """`Both turned corners of seat`: how many of the corners of one kind are meant, and which where it is some."""
    noun = _noun(mine[0])
    here, of = len(mine), len(same)
    if here == of:
        every = {1: "The", 2: "Both"}.get(here, f"All {here}")
        return f"{every} {noun if here == 1 else plural(noun)} of {run.name}"
    if here > MOST_PLACES:
        return f"{here} of the {of} {plural(noun)} of {run.name}"
    return f"Of the {of} {plural(noun)} of {run.name}, {_places(mine, same, run)}"


def _places(mine: Sequence[Feature], same: Sequence[Feature], run: Run) -> str:
    """`the 2nd and 3rd from the left`: where along a run, as one stands before it, some of its features are."""
    chosen = {id(each) for each in mine}
    places = [ordinal(number) for number, each in enumerate(same, 1) if id(each) in chosen]
    told = "" if run.closed else " from the left" if run.room == "right" else " from the right"
    return f"the {in_a_row(places)}{told}"


def _longer(pairs: Sequence[tuple[Feature, Feature]], same: Sequence[Feature], run: Run, unit: Unit) -> Iterator[str]:
    """Straights that are longer or shorter, those by one length together; which of all, where they are few."""
    name = run.name
    groups: dict[float, list[tuple[Feature, Feature]]] = {}
    for one, other in pairs:
        groups.setdefault(round(other.length - one.length, 2), []).append((one, other))
    if len(groups) <= MOST_GROUPS:
        for by, mine in groups.items():
            spans = some((" to ".join(two(one.length, other.length, unit)) for one, other in mine), 2)
            word = "longer" if by > 0 else "shorter"
            number = len(mine)
            which = f"{count(number, 'straight')} of {name}"
            if number < len(same) and number <= MOST_PLACES:
                which = f"Of the {len(same)} straights of {name}, {_places([one for one, _ in mine], same, run)}"
            yield (
                f"{which} {is_are(number)} {long(abs(by), unit)} {word}"
                + (" each" if number > 1 else "")
                + f" ({spans})"
            )
        return
    more = sum(len(mine) for by, mine in groups.items() if by > 0)
    most = max(abs(by) for by in groups)
    ways = [f"{number} longer" for number in [more] if number] + [f"{n} shorter" for n in [len(pairs) - more] if n]
    yield f"{len(pairs)} straights of {name} change by up to {long(most, unit)} ({in_a_row(ways)})"


def _steeper(pairs: Sequence[tuple[Feature, Feature]], name: str) -> Iterator[str]:
    groups: dict[str, int] = {}
    for one, other in pairs:
        then, now = math.atan(one.slope), math.atan(other.slope)
        if abs(then - now) > TINY_ANGLE:
            was, is_ = two_angles(then, now)
            key = f"{'climb at ' + is_ if other.slope else 'run level'} (before: {was if one.slope else 'level'})"
            groups[key] = groups.get(key, 0) + 1
    for key, number in groups.items():
        said = key if number > 1 else key.replace("climb", "climbs", 1).replace("run level", "runs level", 1)
        yield f"{count(number, 'straight')} of {name} {said}"


def _come_and_gone(pairs: Sequence[Pair], name: str, unit: Unit) -> Iterator[str]:
    for said, found in (
        (f"New along {name}", [other for one, other in pairs if one is None and other is not None]),
        (f"Gone from {name}", [one for one, other in pairs if other is None and one is not None]),
    ):
        if found:
            yield f"{said}: {in_a_row(list(_listed(found, unit)))}"


def _listed(found: Sequence[Feature], unit: Unit) -> Iterator[str]:
    """`2 straights (3", 10"), 2 mitered corners`."""
    nouns: dict[str, list[Feature]] = {}
    for each in found:
        noun = _noun(each) if each.kind == "turn" else f"block {each.block}" if each.kind == "block" else each.kind
        nouns.setdefault(noun, []).append(each)
    for noun, mine in nouns.items():
        sizes = some(
            long(each.radius if each.kind == "turn" else each.length, unit)
            for each in mine
            if each.kind == "straight" or each.treatment == "turned"
        )
        size = f" ({'radius ' if mine[0].kind == 'turn' else ''}{sizes})" if sizes else ""
        named = f"{len(mine)} of the {noun}" if mine[0].kind == "block" else count(len(mine), noun)
        yield named + size
