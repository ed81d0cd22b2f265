/** The shapes of a model, read from its binary part. They are shared by pieces, panes and variants. */

import { Box3, BufferAttribute, BufferGeometry, EdgesGeometry, Vector3 } from "three";
import type { Model, Span } from "../document";

const ARRIS_DEGREES = 25;

/** A part of a surface: the unit normal, and its area, mm². */
export interface Face {
  normal: Vector3;
  area: number;
}

const MOST_FACES = 150;

export class Bodies {
  private readonly boxes: (Box3 | undefined)[] = [];
  private readonly welds: (Uint32Array | undefined)[] = [];
  private readonly samples: (Face[] | undefined)[] = [];
  private readonly edges: (Float32Array | undefined)[] = [];

  constructor(private readonly model: Model) {}

  /** Three numbers for each point, mm. */
  points(index: number): Float32Array {
    return this.floats(this.body(index).points);
  }

  /** Three points for each triangle. */
  triangles(index: number): Uint32Array {
    const { at, count } = this.body(index).triangles;
    return new Uint32Array(this.model.data, at, count);
  }

  floats(span: Span): Float32Array {
    return new Float32Array(this.model.data, span.at, span.count);
  }

  box(index: number): Box3 {
    return (this.boxes[index] ??= new Box3().setFromArray(this.points(index)));
  }

  /** The least number of a point that stands at the same place, for each point: where the surface hangs together. */
  welded(index: number): Uint32Array {
    return (this.welds[index] ??= welded(this.points(index)));
  }

  /** A geometry of its own over the shared arrays; whoever asks for it disposes of it. */
  geometry(index: number): BufferGeometry {
    const { normals, uvs } = this.body(index);
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(this.points(index), 3));
    made.setAttribute("normal", new BufferAttribute(new Int8Array(this.model.data, normals.at, normals.count), 4, true));
    if (uvs) made.setAttribute("uv", new BufferAttribute(this.floats(uvs), 2));
    made.setIndex(new BufferAttribute(this.triangles(index), 1));
    made.boundingBox = this.box(index).clone();
    return made;
  }

  /** The arrises: two points for each. */
  arrises(index: number): Float32Array {
    return (this.edges[index] ??= this.foundArrises(index));
  }

  /** Some of the triangles, spread over the whole of it. */
  faces(index: number): Face[] {
    return (this.samples[index] ??= this.foundFaces(index));
  }

  private foundFaces(index: number): Face[] {
    const points = this.points(index);
    const triangles = this.triangles(index);
    const step = 3 * Math.ceil(triangles.length / 3 / MOST_FACES);
    const corner = (i: number) => new Vector3().fromArray(points, 3 * triangles[i]!);
    const faces: Face[] = [];
    for (let i = 0; i < triangles.length; i += step) {
      const a = corner(i);
      const normal = corner(i + 1).sub(a).cross(corner(i + 2).sub(a));
      const area = normal.length() / 2;
      if (area > 0) faces.push({ normal: normal.normalize(), area });
    }
    return faces;
  }

  private foundArrises(index: number): Float32Array {
    const whole = new BufferGeometry();
    whole.setAttribute("position", new BufferAttribute(this.points(index), 3));
    whole.setIndex(new BufferAttribute(this.triangles(index), 1));
    return new EdgesGeometry(whole, ARRIS_DEGREES).getAttribute("position").array as Float32Array;
  }

  private body(index: number) {
    const body = this.model.document.bodies[index];
    if (!body) throw new RangeError(`the model has no body ${index}`);
    return body;
  }
}

function welded(points: Float32Array): Uint32Array {
  const count = points.length / 3;
  const first = new Map<string, number>();
  const found = new Uint32Array(count);
  for (let i = 0; i < count; i++) {
    const key = `${points[3 * i]} ${points[3 * i + 1]} ${points[3 * i + 2]}`;
    const known = first.get(key);
    if (known === undefined) first.set(key, i);
    found[i] = known ?? i;
  }
  return found;
}
