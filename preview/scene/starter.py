"""The scene that `molding new` writes: it works as it stands, and its comments teach the format."""

STARTER = """\
# A scene: what the molding looks like in section, and the walls it follows in plan.
# Change the numbers to your own measurements, then run:  molding check THIS-FILE
# Everything after a # is a note to yourself. The order of the parts does not matter, except that title,
# units and chord stand at the top.

title = "Dining room, base round the chimney breast"

# What a bare number means: "in", "ft", "mm", "cm" or "m". A length in quotes may bring its own unit or
# fractions: "1 1/4", "5' 3-1/2", "32 mm". Angles are degrees: 45, 22.5 or "22 1/2".
units = "in"

# How far a curve in the model may stray from the true curve: 0.005 mm to 2 mm. You can leave it out.
chord = "0.05 mm"


# JOB: what the sheet for the client says besides the title. Every key can be left out. It never changes what is cut.
# [job]
# client = "R. and M. Oduya"
# place = "14 Quay Lane, dining room"
# number = "1187"
# drawn_by = "L. Brandt"
# revision = "A"
# date = 2026-11-29      # or text, as you want it printed
# species = "poplar, paint grade"
# includes = ["Supply and fitting of the base and shoe shown"]
# excludes = ["Painting on site"]
# notes = ["Site to be measured again before cutting."]
# brand = "shop.toml"    # a file of your own beside this one: name, lines, logo, color, tint and footer
# paper = "letter"       # "letter", "tabloid", "a4" or "a3"


# PROFILES: the cross-sections. Each has a name of its own after the dot, for use below.

# One that ships with the program ...
[profile.base]
library = "cove-and-bead-base"
# ... or one that you drew in a file, which is looked for from this file's folder:
# file = "profiles/our-base.toml"
# ... or the outline in a drawing (DXF or SVG), or points measured along the face (CSV):
# drawing = "profiles/our-base.dxf"

# ... or one sketched here, from the foot up. foot is the thickness at the bottom. Each line of face is one
# shape: how far it rises, and how far the face moves in to the wall or out from it on the way.
# The shapes are fillet (a flat band), bevel, bead, astragal, torus, cove, cavetto, ovolo, ogee, reverse-ogee,
# scotia, quirked-ovolo and quirked-reverse-ogee. A cove, ovolo or ogee may be given a radius.
[profile.shoe]
foot = "1/2"
face = [
  { fillet = "1/4" },
  { ovolo = "1/2", in = "1/2" },
]
# A crown is sprung between wall and ceiling, and says how much of its back is flat on each:
# wall = "5/8"
# ceiling = "1/2"
# Or it is written lying on its back, and says at what angle between its back and the wall it stands:
# spring = 38
# flats = "1/4"          # only where its edges are square: how much to flatten for the wall and the ceiling

# ... or one cut from a blank with your own cutters: where each works, and how deep.
# [profile.board]
# blank = { width = "4", thickness = "1 1/4" }
# cuts = [
#   { roundover = "1/4", at = "face top" },
#   { core_box = "3/8", on = "face", up = "1 1/2", depth = "1/4" },
# ]


# FINISHES: what the client sees. They never change what is cut.

[finish.linen]
color = "#efe9dc"        # red, green and blue, two digits each from 00 to ff, as paint makers publish them
kind = "paint"           # "paint", "clear" (wood under a clear coat), "stone" or "metal"
roughness = 0.4          # 0 is a mirror, 1 is chalk
metallic = 0             # 1 for bare metal, else 0

[finish.brick]
color = "#8d5a46"
kind = "stone"
roughness = 0.9


# MEMBERS: the layers of the molding, each with a profile. A base with a shoe has two.

[member.base]
profile = "base"
finish = "linen"         # left out, it is a neutral white paint

[member.shoe]
profile = "shoe"
out = "1 1/4"            # how far out from the wall its back stands: here, on the face of the base
up = 0                   # how far up from the run's level
finish = "linen"


# RUNS: unbroken paths of molding. Every run has its own heading in double brackets.

[[run]]
name = "fireplace wall"
members = ["base", "shoe"]
room = "left"            # on which side the room is as you walk along the wall; the molding projects to it
start = [0, 0]           # where you start, in plan: x, y
heading = 0              # the way you face: 0 is along x, 90 along y, counter-clockwise
level = 0                # the height of the molding's foot
begin = "square"         # how the two ends are cut: "square", "return" (to the wall, by a small mitered piece),
end = "square"           # "self-return" (its own end worked to the profile), "butt" (square against what stands there),
                         # "beveled" (back from the wall at 45 degrees)
closed = false           # true when the run comes back to where it started and has no ends
wall = "8'"              # how much wall to show behind the molding; leave it out for none

# Walk along the wall, measuring the wall itself. Each step is one thing:
#   { straight = "5' 3-1/2" }         a length of wall
#   { inside = 90 }                   an inside corner: the angle between its two walls, 90 when square
#   { outside = 135 }                 an outside corner, measured between its walls in the same way
#   { left = 90 } or { right = 90 }   a corner by how far you turn, if you prefer that
#   { curve_left = 90, radius = 6 }   a curved wall: how far it turns, and the radius of the wall itself
#   { curve_right = 90, radius = 6 }
#   { straight = 84, rise = 56 }      it climbs: measured level; pitch = 33.7 (degrees) may stand for rise
#   { rake = 101, pitch = 33.7 }      it climbs: measured along the slope
#   { easement = 18 }                 between two slopes of one wall: a curve of that radius, up or over
#   { block = "plinth" }              a block in line, declared below
# A corner is mitered; { inside = 90, joint = "miter" } says so. It may be made in other ways:
#   { inside = 90, joint = "cope", coped = "after" }   the piece after it is cut to the other's face; or "before"
#   { outside = 90, turns = 3, facet = "1 1/2" }       in equal turns with short pieces between: a rounded corner
#   { inside = 90, block = "corner" }                  a block stands in the corner
steps = [
  { straight = "5' 3-1/2" },
  { inside = 90 },                  # to the side of the chimney breast
  { straight = 16 },
  { outside = 90 },                 # round to its front
  { straight = 48 },
  { outside = 90 },
  { straight = 16 },
  { inside = "90.5" },              # the old wall is half a degree out of square
  { straight = "2' 6" },
  { curve_right = 90, radius = 6 }, # the wall rounds into the hall, away from the room
  { straight = 20 },
]
# Instead of start, heading and steps, a run of straights may list the plan positions of its ends and corners:
# points = [[0, 0], [63.5, 0], [63.5, 16], [111.5, 16]]
# Straights longer than the boards are joined by scarfs:
# stock = "12'"
# scarf = { angle = 45, from_corner = 24 }
# Where a run climbs, each piece has the profile that meets the next; "same" keeps one profile for all:
# raked = "derived"
# A casing runs on the face of a wall: x along it, y up. along is the wall's heading in plan.
# on_wall = { origin = [40, 0, 0], along = 0 }
# No measured room closes. Say how far its measurements may be off, and the miss is spread over them, and told:
# measured = { lengths = "1/8", angles = 0.5 }   # each step may say its own: { straight = 48, within = "1/4" }
# closing = "spread"     # "show" forces nothing and leaves the gap in the model
# arrives = [175, 16]    # for an open run: where its end is known to be


# BLOCKS: plinths and corner blocks, which molding runs square against.
# [block.plinth]
# width = 4              # along the wall
# thickness = "1 1/4"    # out from the wall
# height = 8
# [block.corner]
# width = 2
# profile = "base"       # in place of thickness and height: its section
# lap = 2                # how far it covers each wall at an outside corner


# SITE: how true saw and walls are, and the air the wood moves between. From it follows how far each joint may open.
# [site]
# saw = 0.25             # how far off each cut may be, in degrees
# wall = 0.5             # how far off a corner may be, in degrees
# radius = "1/32"        # how far off its radius a curved piece may come out
# wood = "red oak"
# cut = "flat"           # how the boards were sawn: "flat" or "quarter"
# made_at = { temperature = "70 F", humidity = 45 }   # the shop's air; or { moisture = 8 }
# lives_at = { temperature = "70 F", humidity = 30 }  # the room's air
# grade = "custom"       # "premium", "custom" or "economy"


# SHOP: what the bench has, for cut lists and stock (molding shop). All of it may be left out.
# [shop]
# kerf = "1/8"           # what the saw takes
# trim = "1/2"           # cut off each end of a stick
# defects = 5            # percent of each stick reckoned as lost to knots and checks
# rounding = "1/16"      # what lists are read to
# sticks = ["16'", { length = "12'", have = 4 }]   # lengths that can be had; or each with a price = 41.5
# match = true           # neighbors from one stick, where that costs none
# [shop.turning]
# staves = 4             # of a glued-up blank, 3 to 16
# kerf = "1/8"           # of the saw that parts it
# chucking = "1"         # spare length at each end
# clean = "1/16"         # how far the rough blank stands over the finished round
# method = "turned"      # or "rings", "lamination", "sawn"; left out: what the numbers favor
# [shop.prices]
# currency = "$"
# board_foot = 4.2       # or one for each member: { base = 4.2, shoe = 5 }
# running_foot = 1.1     # running the molding
# setup = 60             # for each profile
# corner = 35            # for each curved piece
# square_foot = 1.5      # finishing


# OPTIONS: what the client may choose between. Every combination is built, checked and shown beside the scene as it
# stands. Options of one choice exclude each other; where there is only one choice, leave choice out.
# [[option]]
# choice = "shoe"
# name = "without a shoe"
# says = "the base alone"         # words for the client
# changes = [{ run = "fireplace wall", members = ["base"] }]       # any key of a run, a member, a block, a finish ...
# [[option]]
# choice = "depth"
# name = "deeper breast"
# changes = [{ run = "fireplace wall", step = 3, straight = 18 }]  # ... or of one step
# [[option]]
# choice = "finish"
# name = "brick shoe"
# changes = [{ member = "shoe", finish = "brick" }, { surrounding = "chimney breast", top = "7'" }]
# Of a run with curves: { run = "hall", curves = "miter" } makes them mitered corners, curves = "turns" with turns = 3
# goes round them in equal turns, radius = 3 gives them another radius. The walls stay where they are.


# SURROUNDINGS: what stands around the molding, so that a picture can be read. They never enter a check.

[[surrounding]]
kind = "floor"           # "floor", "box" or "column"
top = 0

[[surrounding]]
kind = "box"
name = "chimney breast"
at = ["5' 3-1/2", 0]     # the corner with the least x and y; for a column, its center
size = [48, 16]          # along x and along y
bottom = 0
top = "8'"
turn = 0                 # degrees, counter-clockwise about that corner
finish = "brick"

# A column has a radius and no size; a box may have a radius too, for rounded corners:
# [[surrounding]]
# kind = "column"
# at = [150, 40]
# radius = 4
# top = "8'"


# PICTURES: the tool chooses cameras from the molding; here you ask for more. They never change what is cut.
# [[picture]]
# name = "From the door"
# eye = [20, "7'", "5' 2"]  # where you stand, and the height of your eye
# target = [88, 8, 2]       # the place you look at
# across = 40               # how much you take in from side to side, in degrees: 10 to 100
# [[picture]]
# name = "Second corner, kneeling"
# corner = 2                # by the number it has on the drawings
# height = "knee"           # or "eye"
# [[picture]]
# name = "Everything"
# view = "whole"            # or "end", or "options" side by side
"""
"""The text of the starter scene."""
