"""The profiles that climbing pieces need, square to their length, at full size: what the cutters have to make."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from preview.build import Built
from preview.drafting import profile_dxf, profile_pdf, profile_svg
from preview.exports.names import file_names
from preview.profiles import Profile, raked_section
from preview.units import degrees_text

FOLDER = "profiles/"


@dataclass(frozen=True)
class RakedProfile:
    """One profile square to the length of the pieces that need it.

    deviation: how far its arcs stray from the true curves, mm. slope: mm risen for each mm in plan. shear: mm higher
    for each mm out. pieces: their names. files: where it is drawn, below the output folder.
    """

    profile: Profile
    deviation: float
    slope: float
    shear: float
    pieces: tuple[str, ...]
    files: tuple[str, ...]


def raked_profiles(built: Built, drawn: bool = True) -> list[RakedProfile]:
    """The profiles that differ from their members' because pieces climb, or meet pieces that do; each once.

    drawn: whether they are to be written to files.
    """
    wanted: dict[tuple[str, float, float], list[int]] = {}
    for i, piece in enumerate(built.pieces):
        slope = 0.0 if piece.square else piece.element.slope
        if (slope or piece.shear) and not piece.element.bend:
            wanted.setdefault((piece.member, round(slope, 9), round(piece.shear, 9)), []).append(i)
    found: list[RakedProfile] = []
    titles: list[str] = []
    for mine in wanted.values():
        piece, member = built.pieces[mine[0]], built.members[mine[0]]
        slope = piece.element.slope
        section, deviation = raked_section(member.profile.moved(-member.out, -member.up), slope, piece.shear)
        angle = degrees_text(abs(piece.pitch))
        names = tuple(built.pieces[i].name for i in mine)
        place = f"{names[0]}{f' and {len(names) - 1} more' if len(names) > 1 else ''}"
        way = f"raked at {angle}" if slope else "to meet a rake"
        title = f"{member.profile.name}, {way}, for {place}"
        titles.append(title)
        found.append(RakedProfile(replace(section, name=title), deviation, slope, piece.shear, names, ()))
    if not drawn:
        return found
    stems = file_names(titles, "")
    return [
        replace(each, files=tuple(f"{FOLDER}{stem}{end}" for end in (".svg", ".dxf", ".pdf")))
        for each, stem in zip(found, stems, strict=True)
    ]


def raked_files(profiles: Sequence[RakedProfile], inches: bool) -> list[tuple[str, bytes]]:
    """What to write for them: a drawing, a DXF and a paper template of each, all at full size."""
    found: list[tuple[str, bytes]] = []
    for each in profiles:
        drawn = (
            profile_svg(each.profile),
            profile_dxf(each.profile),
            profile_pdf(each.profile, "letter" if inches else "a4", "in" if inches else "mm"),
        )
        found += zip(each.files, drawn, strict=True)
    return found
