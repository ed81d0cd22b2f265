/**
 * What the page shows, as preview/client/page/document.py writes it: one container, made by Python, read here.
 * Millimeters, z up, measured from `origin`. All words and figures are ready to be shown: nothing is worked out here.
 */

/** Where an array lies in the binary part: byte offset (a multiple of 4) and how many numbers. */
export type Span = { at: number; count: number };
export type Vec3 = [number, number, number];
/** A length in both of the units that a reader may ask for. */
export type Length = { in: string; mm: string };

export interface Finish {
  name: string;
  /** sRGB, each part 0 to 1. */
  color: Vec3;
  roughness: number;
  metallic: number;
  kind: "paint" | "clear" | "stone" | "metal";
  /** Whether molding of the scene may be shown in it (a choice in the finish lists). */
  molding: boolean;
}

/** One shape; pieces of one shape share it, in all variants. Bodies may share single arrays as well (one Span, twice). */
export interface Body {
  /** float32 x 3, mm from the `origin` of whoever uses it. */
  points: Span;
  /** int8 x 4 (the fourth is 0), 127 for 1; count is in int8s. */
  normals: Span;
  /** float32 x 2, mm: along the grain, round the profile; null for surroundings. */
  uvs: Span | null;
  /** uint32 x 3, counter-clockwise seen from outside. */
  triangles: Span;
}

export interface Dimension {
  name: string;
  value: Length;
}

export interface Piece {
  name: string;
  run: string;
  member: string;
  kind: string;
  body: number;
  origin: Vec3;
  finish: number;
  /** Where it moves when the pieces are moved wholly apart, mm. */
  apart: Vec3;
  /** Where its label stands: on its face, at mid-length. */
  label: Vec3;
  /** What its label says on demand: the lengths, radius, turn, ready to be read. */
  dimensions: Dimension[];
  /** One line for a label. */
  short: Length;
  /** Numbers of the joints at its ends, -1 where there is none. */
  begin: number;
  end: number;
}

/** A place where pieces meet, or one meets something else; free ends are not listed. */
export interface Joint {
  name: string;
  kind: string;
  corner: "inside" | "outside" | "";
  /** The turn in words, such as 90.00°; "" where there is none. */
  turn: string;
  pieces: number[];
  /** On the wall line, and on the face: where to look. */
  place: Vec3;
  target: Vec3;
  /** A good place to look at it from. */
  eye: Vec3;
  /** Which path it lies on, and where along it, mm; path -1 where it has none. */
  path: number;
  station: number;
  /** What was measured there on the finished model, ready to be read; null while not measured. */
  figures: { name: string; value: string }[] | null;
  /** Whether everything measured there holds; null while not measured. */
  holds: boolean | null;
  /** float32 x 3, the outline in which the two pieces meet, its first point again at its end; null where it has none. */
  rim: Span | null;
}

export interface Surrounding {
  name: string;
  kind: "floor" | "box" | "column" | "wall";
  body: number;
  origin: Vec3;
  finish: number;
  /** A sheet without a thickness, shown from both sides. */
  sheet: boolean;
}

/** A back line to walk along with the section: float32 x 7 for each sample: station, x, y, z, then the unit direction of travel. */
export interface Path {
  run: string;
  closed: boolean;
  length: number;
  samples: Span;
  /** The places along it ready to be read, for the slider: `step` mm apart, from 0; the last is its end. */
  step: number;
  places: { in: string[]; mm: string[] };
}

/**
 * A camera of 34° from the left edge to the right, in a picture 16 wide and 10 high, stands at `eye` and has all it is
 * for in the picture. In a picture of another shape it moves on the same line, away from `target` or nearer.
 */
export interface View {
  name: string;
  kind: "whole" | "corner" | "plan" | "end";
  eye: Vec3;
  target: Vec3;
  /** Seen without perspective: as wide as the camera sees at the target's distance. */
  flat: boolean;
  /** Nothing nearer to the eye than this, mm, is shown (a ceiling over a plan); 0: as usual. */
  near: number;
  /** Where the run is cut open for this view (not turned: seen looking along the travel); null: nowhere. */
  cut: { path: number; station: number } | null;
}

export interface Variant {
  picks: number[];
  digest: string;
  code: string;
  /** What differs from the scene as drawn, in sentences. */
  changes: string[];
  /** null while not measured. */
  holds: boolean | null;
  /** Sentences about what failed. */
  failures: string[];
  /** How many checks were made. */
  checks: number;
  /** The box that the molding fills. */
  low: Vec3;
  high: Vec3;
  pieces: Piece[];
  joints: Joint[];
  surroundings: Surrounding[];
  paths: Path[];
  /** The whole comes first; it and the plan are the same in all variants. */
  views: View[];
}

export interface Choice {
  name: string;
  alternatives: { name: string; says: string }[];
}

export interface ModelDocument {
  schema: 1;
  title: string;
  /** The scene file's own name, without a folder. */
  file: string;
  /** The unit the scene is written in. */
  units: "in" | "ft" | "mm" | "cm" | "m";
  caution: string;
  origin: Vec3;
  finishes: Finish[];
  bodies: Body[];
  choices: Choice[];
  variants: Variant[];
}

/** A container taken apart. */
export interface Model {
  document: ModelDocument;
  /** The binary part. */
  data: ArrayBuffer;
}

/** Take a container apart. Throws when it is none. */
export function takenApart(container: ArrayBuffer): Model {
  const length = new DataView(container).getUint32(0, true);
  const text = new TextDecoder("utf-8", { fatal: true }).decode(new Uint8Array(container, 4, length));
  return { document: JSON.parse(text) as ModelDocument, data: container.slice(4 + length) };
}
