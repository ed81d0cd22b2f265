"""The usual cautions for this work. They come before any figure here: so do the machine's manual and local codes."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """What to mind, and where that comes from."""

    words: str
    source: str


OSHA_LATHE = (
    "29 CFR 1910.213(o), as OSHA's woodworking pages explain it; taken as good practice, since OSHA's letter of "
    "1978-05-30 finds that parts of it do not bind ordinary hand lathes"
)
TURNERS = "woodturners' own checklists (trade, not government)"
CROSSCUT = "HSE, crosscut saws; WIS 36"

FIRST = Caution(
    "These figures are sizes, not instructions. The machine's manual and local codes come first, and work beyond one's "
    "training is for someone who has it.",
    "common practice",
)
DUST = Caution(
    "Extract dust at the source and wear eye, face and breathing protection.",
    "OSHA: 15 mg/m³ of wood dust in all, 5 respirable; HSE: hardwood 3, softwood 5 mg/m³ over 8 hours",
)
LATHE = (
    Caution(
        "Choose the speed by the rough diameter over the points, from the machine's manual; begin slow.",
        TURNERS,
    ),
    Caution(
        "Let the glue cure fully; use no blank with a crack, a loose knot or a joint of end grain alone.",
        "common practice",
    ),
    Caution(
        "Glued blanks do burst as they start: stand out of their path, turn the work two turns by hand before the "
        "power goes on, and check how it is held again and again while roughing.",
        TURNERS,
    ),
    Caution(
        "Pieces that are faulty or badly held are thrown, and so are keys left in chucks.",
        "a safety publisher's page on wood lathes",
    ),
    Caution(
        "Keep loose clothing, jewelry and hands off turning stock, and knives covered but for the cut.", OSHA_LATHE
    ),
)
BETWEEN_CENTERS = Caution("Keep the tailstock up whenever the work allows it.", TURNERS)
HOLLOW = Caution(
    "Hollow work hangs from one end: no tailstock holds it, the tool reaches far over its rest, and the wall is thin "
    "where it is deepest. Take light cuts, with a steady around the outside.",
    "common practice",
)
PARTING = Caution(
    "Saw the round apart in a cradle that holds it and what comes off, hands at least 300 mm from the blade on either "
    "side; short pieces go in a jig, never in the hand.",
    CROSSCUT,
)
SHAPING = Caution(
    "A profile is worked on a curved blank against a jig that holds it and guards the cutter as well as the standard "
    "guard would; push sticks where hands would come near.",
    "29 CFR 1910.213(a); push sticks: 1910.211",
)
BENDING = Caution(
    "A clamped bend stores its force: stay out of its line, and leave it on the form until the glue has cured.",
    "common practice",
)
SAWING = Caution(
    "A curved offcut is short and has weak grain: saw it on the flat, with the guides close above the work.",
    "common practice",
)
