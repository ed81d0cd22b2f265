"""What changed in members, blocks and finishes, in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from preview.build import Built
from preview.changes.outlines import apart, same_outline
from preview.changes.pairs import Pairs, plain
from preview.changes.saying import TINY, hexadecimal, in_a_row, long, two
from preview.profiles import Profile, measure
from preview.scene import Block, Finish, Member, RunInScene
from preview.units import Unit


def changed_profiles(pairs: Pairs[Member], unit: Unit) -> Iterator[str]:
    """Members with another profile: its name, its size, and how far the outline moves."""
    for before, after in pairs:
        if before is None or after is None:
            continue
        one, other = plain(before), plain(after)
        if not same_outline(one, other):
            words = _profile_words(one, other, unit)
            if words:
                yield f"{_called(before.name, after.name)}: {words}"
            elif before.name != after.name:
                yield f"{before.name} is now called {after.name}"
        elif before.name != after.name:
            yield f"{before.name} is now called {after.name}"


def changed_shifts(pairs: Pairs[Member], unit: Unit) -> Iterator[str]:
    """Members that stand further out or higher on their run."""
    for before, after in pairs:
        if before is None or after is None:
            continue
        out, up = after.out - before.out, after.up - before.up
        if abs(out) > TINY:
            way = "further out from" if out > 0 else "nearer to"
            yield f"{after.name} stands {long(abs(out), unit)} {way} the wall"
        if abs(up) > TINY:
            yield f"{after.name} sits {long(abs(up), unit)} {'higher' if up > 0 else 'lower'} on the wall"


def changed_blocks(pairs: Pairs[Block], unit: Unit) -> Iterator[str]:
    """Blocks of another size, shape or place."""
    for before, after in pairs:
        if before is None or after is None:
            continue
        if before.name != after.name:
            yield f"The block {before.name} is now called {after.name}"
        words: list[str] = []
        if abs(before.width - after.width) > TINY:
            then, now = two(before.width, after.width, unit)
            words.append(f"{now} wide (was {then})")
        if not same_outline(before.profile, after.profile):
            words += [_profile_words(before.profile, after.profile, unit)]
        if (before.lap or 0.0) != (after.lap or 0.0):
            words.append(f"laps the walls by {long(after.lap or 0.0, unit)}")
        if (before.up or 0.0) != (after.up or 0.0):
            words.append(f"sits {long(after.up or 0.0, unit)} up (was {long(before.up or 0.0, unit)})")
        told = [word for word in words if word]
        if told:
            yield f"Block {after.name}: {', '.join(told)}"


def changed_finishes(looks: Sequence[tuple[str, Finish, Finish]]) -> Iterator[str]:
    """looks: the name of a member or a block, its finish before and after. Those with one change are told together."""
    told: dict[str, list[str]] = {}
    verbs: dict[str, str] = {}
    for name, before, after in looks:
        if before == after:
            continue
        if before.name != after.name and _looks_alike(before, after):
            key = f"the finish {before.name} is now called {after.name}; it looks the same"
        elif before.name != after.name:
            key = f"{after.name} (was {before.name})"
            verbs[key] = "is"
        else:
            key = f"the finish {after.name} has {_look_words(before, after)}"
        told.setdefault(key, []).append(name)
    for key, names in told.items():
        unique = list(dict.fromkeys(names))
        if key in verbs:
            yield f"{in_a_row(unique)} {'is' if len(unique) == 1 else 'are'} finished in {key}"
        else:
            yield f"On {in_a_row(unique)} {key}"


def changed_lists(pairs: Pairs[RunInScene], members: Pairs[Member]) -> Iterator[str]:
    """Members that are added along a run, or left out."""
    partner = {one.name: other.name for one, other in members if one is not None and other is not None}
    for before, after in pairs:
        if before is None or after is None:
            continue
        then = [partner.get(name, name) for name in before.members]
        for said, names in (
            ("added along", [name for name in after.members if name not in then]),
            (
                "left out along",
                [old for old, new in zip(before.members, then, strict=True) if new not in after.members],
            ),
        ):
            if names:
                yield f"{in_a_row(names)} {'is' if len(names) == 1 else 'are'} {said} {after.run.name}"
        if sorted(then) == sorted(after.members) and then != list(after.members):
            yield f"The members of {after.run.name} are listed in another order"


def looks_of(members: Pairs[Member], blocks: Pairs[Block]) -> list[tuple[str, Finish, Finish]]:
    """What each member and block that stands in both versions looked like, and looks like."""
    found = [(two_[1].name, one.finish, two_[1].finish) for two_ in members if (one := two_[0]) and two_[1]]
    return found + [(after.name, before.finish, after.finish) for before, after in blocks if before and after]


def changed_count(before: Built, after: Built) -> Iterator[str]:
    """How many pieces there are to make."""
    if len(before.pieces) != len(after.pieces):
        number = len(after.pieces)
        yield f"{number} {'piece' if number == 1 else 'pieces'} in all (before: {len(before.pieces)})"


def _called(before: str, after: str) -> str:
    return after if before == after else f"{after} in place of {before}"


def _profile_words(one: Profile, other: Profile, unit: Unit) -> str:
    """How one outline differs from another; nothing where that cannot be seen."""
    far = apart(one, other).distance
    if far <= TINY:
        return ""
    first, second = measure(one), measure(other)
    sizes = []
    for name, then, now in (
        ("high", first.h_max - first.h_min, second.h_max - second.h_min),
        ("deep", first.d_max - first.d_min, second.d_max - second.d_min),
    ):
        if abs(then - now) > TINY:
            was, is_ = two(then, now, unit)
            sizes.append(f"{is_} {name} (was {was})")
    size = " and ".join(sizes) if sizes else "as high and as deep as before"
    name = f"profile {other.name} (was {one.name})" if one.name != other.name else "another shape of the profile"
    return f"{name}, {size}; the outline moves by up to {long(far, unit)}"


def _looks_alike(one: Finish, other: Finish) -> bool:
    return (one.color, one.roughness, one.metallic, one.kind) == (
        other.color,
        other.roughness,
        other.metallic,
        other.kind,
    )


def _look_words(before: Finish, after: Finish) -> str:
    words: list[str] = []
    if before.color != after.color:
        then, now = hexadecimal(before.color), hexadecimal(after.color)
        words.append(f"another color, {now} (was {then})")
    if before.roughness != after.roughness:
        words.append("less gloss" if after.roughness > before.roughness else "more gloss")
    if before.kind != after.kind:
        words.append(f"another surface, {after.kind} (was {before.kind})")
    elif before.metallic != after.metallic:
        words.append("more of a metal's shine" if after.metallic > before.metallic else "less of a metal's shine")
    return in_a_row(words)
