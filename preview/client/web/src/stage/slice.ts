/**
 * Where a plane cuts a closed mesh: exact outlines, whatever the camera does.
 *
 * A point on the plane counts as before it, so every triangle is either passed by or crossed at just two of its
 * edges, and the crossings chain from triangle to triangle by edge number; no distance is compared.
 */

import { ShapeUtils, Vector2, Vector3 } from "three";

/** A plane: normal . p + constant = 0, with two axes in it that make a right-handed frame with the normal. */
export interface Cutting {
  normal: Vector3;
  constant: number;
  across: Vector3;
  up: Vector3;
}

/** A chain of points, three numbers each; a closed one does not repeat its first. */
export interface Chain {
  points: number[];
  closed: boolean;
}

export function cuttingPlane(at: Vector3, normal: Vector3): Cutting {
  // Level across and upright where the plane is, so that whoever reads the hatch finds it as on a drawing.
  const across = new Vector3(-normal.y, normal.x, 0);
  if (across.lengthSq() < 1e-12) across.set(1, 0, 0);
  across.normalize();
  return { normal: normal.clone(), constant: -normal.dot(at), across, up: normal.clone().cross(across) };
}

/** The chains in which a plane cuts triangles (moved by `offset`); points are in the mesh's own place. */
export function sliced(
  points: Float32Array,
  triangles: Uint32Array,
  weld: Uint32Array,
  plane: Cutting,
  offset: Vector3,
): Chain[] {
  const { x: nx, y: ny, z: nz } = plane.normal;
  const constant = plane.constant + plane.normal.dot(offset);
  const count = points.length / 3;
  const before = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    before[i] = nx * points[3 * i]! + ny * points[3 * i + 1]! + nz * points[3 * i + 2]! + constant;
  }
  const next = new Map<number, number>();
  for (let t = 0; t < triangles.length; t += 3) {
    const corner = [triangles[t]!, triangles[t + 1]!, triangles[t + 2]!] as const;
    const ahead = [before[corner[0]]! >= 0, before[corner[1]]! >= 0, before[corner[2]]! >= 0] as const;
    if (ahead[0] === ahead[1] && ahead[1] === ahead[2]) continue;
    let down = 0;
    let up = 0;
    for (let i = 0; i < 3; i++) {
      const j = (i + 1) % 3;
      if (ahead[i] === ahead[j]) continue;
      const a = weld[corner[i]!]!;
      const b = weld[corner[j]!]!;
      // The edge's number, the same from both of its triangles: the end before the plane first.
      if (ahead[i]) down = a * count + b;
      else up = b * count + a;
    }
    next.set(down, up);
  }
  return chained(next, (edge) => crossing(points, before, Math.floor(edge / count), edge % count));
}

function crossing(points: Float32Array, before: Float64Array, a: number, b: number): [number, number, number] {
  const share = before[a]! / (before[a]! - before[b]!);
  const at = (k: number) => points[3 * a + k]! + share * (points[3 * b + k]! - points[3 * a + k]!);
  return [at(0), at(1), at(2)];
}

function chained(next: Map<number, number>, place: (edge: number) => [number, number, number]): Chain[] {
  const reached = new Set(next.values());
  const open = [...next.keys()].filter((edge) => !reached.has(edge));
  const chains: Chain[] = [];
  const follow = (first: number, closed: boolean) => {
    const points: number[] = [];
    let edge: number | undefined = first;
    while (edge !== undefined) {
      points.push(...place(edge));
      const after: number | undefined = next.get(edge);
      next.delete(edge);
      edge = after === first ? undefined : after;
    }
    chains.push({ points, closed });
  };
  for (const edge of open) follow(edge, false);
  for (const edge of next.keys()) if (next.has(edge)) follow(edge, true);
  return chains;
}

/** A filled cut: points (two numbers each, along the plane's axes) and triangles into them. */
export interface Fill {
  points: number[];
  triangles: number[];
}

const LEAST_AREA = 1e-3;

/** Fill closed chains, holes left open. */
export function filled(chains: Chain[], plane: Cutting): Fill {
  const loops = chains
    .filter((chain) => chain.closed)
    .map((chain) => flattened(chain, plane))
    .map((points) => ({ points, area: ShapeUtils.area(points) }))
    .filter(({ area }) => Math.abs(area) > LEAST_AREA);
  const whole = loops.reduce((sum, { area }) => sum + area, 0);
  const outers = loops.filter(({ area }) => area * whole > 0).map(({ points }) => ({ points, holes: [] as Vector2[][] }));
  for (const { points, area } of loops) {
    if (area * whole > 0) continue;
    outers.find((outer) => holds(outer.points, points[0]!))?.holes.push(points);
  }
  const fill: Fill = { points: [], triangles: [] };
  for (const { points, holes } of outers) {
    const first = fill.points.length / 2;
    for (const [a, b, c] of ShapeUtils.triangulateShape(points, holes) as [number, number, number][]) {
      fill.triangles.push(first + a, first + b, first + c);
    }
    for (const point of [points, ...holes].flat()) fill.points.push(point.x, point.y);
  }
  return fill;
}

function flattened(chain: Chain, plane: Cutting): Vector2[] {
  const found: Vector2[] = [];
  const point = new Vector3();
  for (let i = 0; i < chain.points.length; i += 3) {
    point.fromArray(chain.points, i);
    const flat = new Vector2(point.dot(plane.across), point.dot(plane.up));
    if (!found.length || found[found.length - 1]!.distanceToSquared(flat) > 1e-10) found.push(flat);
  }
  if (found.length > 1 && found[0]!.distanceToSquared(found[found.length - 1]!) <= 1e-10) found.pop();
  return found;
}

function holds(loop: Vector2[], point: Vector2): boolean {
  let inside = false;
  loop.forEach((b, i) => {
    const a = loop[(i + loop.length - 1) % loop.length]!;
    if (a.y > point.y !== b.y > point.y && point.x < a.x + ((point.y - a.y) / (b.y - a.y)) * (b.x - a.x)) inside = !inside;
  });
  return inside;
}
