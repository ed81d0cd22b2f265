/** Lines over surfaces: where pieces meet, and what is spoken of. Widths are CSS px. */

import { BufferAttribute, BufferGeometry, Group, LineBasicMaterial, LineSegments, type Plane } from "three";
import { LineMaterial } from "three/addons/lines/LineMaterial.js";
import { LineSegments2 } from "three/addons/lines/LineSegments2.js";
import { LineSegmentsGeometry } from "three/addons/lines/LineSegmentsGeometry.js";
import type { Bodies } from "./bodies";
import type { Shown } from "./shown";

/** More line pieces than this are drawn thin. */
const MOST_WIDE = 30_000;
/** With more pieces than this, the lines of joints go while the pieces are apart: each shows its own end then. */
const MOST_MOVED = 300;
const RIM = 0x3a342d;
const SPOKEN_OF = 0xc2571a;

export interface Strokes {
  object: Group;
  /** Six numbers for each line: its two ends. */
  set(lines: ArrayLike<number>): void;
  dispose(): void;
}

interface Stroke {
  color: number;
  /** CSS px. */
  width: number;
  /** Whether they are seen through what lies before them. */
  through?: boolean;
  opacity?: number;
  /** What cuts them. */
  plane?: Plane | null;
}

/** Many short lines of one color. */
export function strokes({ color, width, through = false, opacity = 1, plane = null }: Stroke): Strokes {
  const object = new Group();
  const look = {
    color,
    opacity,
    depthTest: !through,
    depthWrite: false,
    transparent: opacity < 1,
    toneMapped: false,
    clippingPlanes: plane && [plane],
  };
  const wide = new LineMaterial({ ...look, linewidth: width });
  const thin = new LineBasicMaterial(look);
  const clear = () => {
    for (const child of object.children as (LineSegments2 | LineSegments)[]) child.geometry.dispose();
    object.clear();
  };
  return {
    object,
    set(lines) {
      clear();
      if (!lines.length) return;
      if (lines.length / 6 <= MOST_WIDE) {
        const geometry = new LineSegmentsGeometry().setPositions(lines as Float32Array | number[]);
        object.add(new LineSegments2(geometry, wide));
      } else {
        const geometry = new BufferGeometry();
        geometry.setAttribute("position", new BufferAttribute(new Float32Array(lines), 3));
        object.add(new LineSegments(geometry, thin));
      }
      const made = object.children[0]!;
      made.renderOrder = through ? 2 : 1;
      made.frustumCulled = false;
    },
    dispose() {
      clear();
      wide.dispose();
      thin.dispose();
    },
  };
}

/** The rims of joints, so that two flush pieces of one color are told apart, and marks. */
export class JointLines {
  readonly group = new Group();
  private readonly rims: Strokes;
  private readonly spoken: Strokes;
  private readonly hidden: Strokes;

  constructor(plane: Plane) {
    this.rims = strokes({ color: RIM, width: 1.15, opacity: 0.55, plane });
    this.spoken = strokes({ color: SPOKEN_OF, width: 2.6, plane });
    this.hidden = strokes({ color: SPOKEN_OF, width: 1.6, through: true, opacity: 0.35, plane });
    this.group.add(this.rims.object, this.spoken.object, this.hidden.object);
  }

  update(shown: Shown, bodies: Bodies, marked: ReadonlySet<number>, joint: number | null): void {
    this.rims.set(rims(shown, bodies));
    const lines: number[] = [];
    for (const i of marked) if (shown.pieces[i]) arrises(shown, bodies, i, lines);
    if (joint !== null) rim(shown, bodies, joint, lines);
    this.spoken.set(lines);
    this.hidden.set(lines);
  }

  dispose(): void {
    for (const each of [this.rims, this.spoken, this.hidden]) each.dispose();
  }
}

function rims(shown: Shown, bodies: Bodies): number[] {
  const lines: number[] = [];
  if (shown.share > 0 && shown.pieces.length > MOST_MOVED) return lines;
  shown.variant.joints.forEach(({ pieces }, i) => {
    if (pieces.length > 1 || shown.share > 0) rim(shown, bodies, i, lines);
  });
  return lines;
}

/** A joint's rim, once while together, else once on each of its pieces. */
function rim(shown: Shown, bodies: Bodies, index: number, into: number[]): void {
  const joint = shown.variant.joints[index];
  if (!joint?.rim) return;
  const points = bodies.floats(joint.rim);
  const count = points.length / 3;
  for (const piece of shown.share > 0 ? joint.pieces : joint.pieces.slice(0, 1)) {
    const [x, y, z] = shown.piece(piece).apart.map((part) => part * shown.share) as [number, number, number];
    for (let i = 0; i < count; i++) {
      const j = (i + 1) % count;
      if (points[3 * i] === points[3 * j] && points[3 * i + 1] === points[3 * j + 1] && points[3 * i + 2] === points[3 * j + 2]) continue;
      into.push(points[3 * i]! + x, points[3 * i + 1]! + y, points[3 * i + 2]! + z);
      into.push(points[3 * j]! + x, points[3 * j + 1]! + y, points[3 * j + 2]! + z);
    }
  }
}

function arrises(shown: Shown, bodies: Bodies, piece: number, into: number[]): void {
  const { x, y, z } = shown.offset(piece);
  const ends = bodies.arrises(shown.piece(piece).body);
  for (let i = 0; i < ends.length; i += 3) into.push(ends[i]! + x, ends[i + 1]! + y, ends[i + 2]! + z);
}
