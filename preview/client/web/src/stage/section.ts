/**
 * A run cut open: the wood that the plane goes through is filled and hatched, and outlined.
 *
 * The fill is worked out from the meshes (slice.ts) and not with a stencil: it is the exact section in one draw call,
 * it holds when the eye stands inside a piece, and it tells which piece is where.
 */

import { BufferAttribute, BufferGeometry, DoubleSide, Group, Mesh, type Raycaster, ShaderMaterial, Vector3, Box3 } from "three";
import type { Finish, Vec3 } from "../document";
import type { Bodies } from "./bodies";
import type { Finishes } from "./finishes";
import { type Strokes, strokes } from "./lines";
import type { Met, Shown } from "./shown";
import { type Chain, type Cutting, filled, sliced } from "./slice";

/** One piece's cut. */
export interface Filled {
  piece: number;
  box: Box3;
}

const BARE_WOOD: Vec3 = [0.875, 0.765, 0.6];
/** How much of a finish's color is in the cut under it. */
const TINT = 0.3;
const AROUND_SHADE = 0.5;
/** mm between hatch lines; members of one run differ. */
const PITCHES = [2.8, 3.7, 4.8];
const OUTLINE = 0x241f1a;
const AROUND_OUTLINE = 0x6d675f;

/** The color, sRGB, of a cut through wood under a finish. */
export function capColor(finish: Finish): Vec3 {
  const mixed = (share: number): Vec3 => finish.color.map((part, i) => BARE_WOOD[i]! + share * (part - BARE_WOOD[i]!)) as Vec3;
  if (finish.kind === "paint") return mixed(TINT);
  return finish.color.map((part) => part * (finish.kind === "clear" ? 0.84 : 0.78)) as Vec3;
}

export class Section {
  readonly group = new Group();
  cuts: Filled[] = [];
  private caps: Mesh | null = null;
  private faces: number[] = [];
  private readonly outline: Strokes;
  private readonly aroundOutline: Strokes;
  private readonly wood: ShaderMaterial;
  private readonly around: ShaderMaterial;

  constructor(plainCap: boolean) {
    this.wood = capMaterial(!plainCap, 0);
    this.around = capMaterial(false, 1);
    this.outline = strokes({ color: OUTLINE, width: 1.7 });
    this.aroundOutline = strokes({ color: AROUND_OUTLINE, width: 1.1 });
    this.group.add(this.outline.object, this.aroundOutline.object);
  }

  /** Cut what is shown; with no plane, nothing. */
  update(shown: Shown, bodies: Bodies, finishes: Finishes, other: ReadonlyMap<string, number>, plane: Cutting | null): void {
    this.clear();
    if (!plane) return;
    const wood = new Cap(plane);
    const lines: number[] = [];
    const order = orders(shown);
    shown.pieces.forEach((piece, i) => {
      if (!crosses(shown.box(i), plane)) return;
      const chains = cutAt(bodies, piece.body, plane, shown.offset(i));
      const { hatch, pitch } = order[i]!;
      const finish = finishes.at(other.get(piece.member) ?? piece.finish);
      const box = wood.add(chains, capColor(finish), [hatch, pitch], i);
      if (box) this.cuts.push({ piece: i, box });
      outlined(chains, lines);
    });
    const rest = new Cap(plane);
    const restLines: number[] = [];
    for (const mesh of shown.surroundings) {
      const { body, sheet } = mesh.userData as { body: number; sheet: boolean };
      if (!crosses(bodies.box(body).clone().translate(mesh.position), plane)) continue;
      const chains = cutAt(bodies, body, plane, mesh.position);
      const { color } = mesh.material as unknown as { color: { clone(): { getRGB(to: object, space: string): Rgb } } };
      const { r, g, b } = color.clone().getRGB({}, "srgb");
      if (!sheet) rest.add(chains, [r * AROUND_SHADE, g * AROUND_SHADE, b * AROUND_SHADE], [0, 1], -1);
      outlined(chains, restLines);
    }
    this.faces = wood.faces;
    this.caps = wood.mesh(this.wood);
    this.group.add(this.caps, rest.mesh(this.around));
    this.outline.set(lines);
    this.aroundOutline.set(restLines);
  }

  /** The piece whose cut a ray meets. */
  met(ray: Raycaster): Met | null {
    const hit = this.caps && ray.intersectObject(this.caps)[0];
    if (!hit) return null;
    return { piece: this.faces[hit.faceIndex ?? 0] ?? null, point: hit.point, distance: hit.distance };
  }

  dispose(): void {
    this.clear();
    for (const material of [this.wood, this.around]) material.dispose();
    this.outline.dispose();
    this.aroundOutline.dispose();
  }

  private clear(): void {
    this.cuts = [];
    this.caps = null;
    for (const mesh of this.group.children.filter((child): child is Mesh => child.name === "cap")) {
      mesh.geometry.dispose();
      mesh.removeFromParent();
    }
    this.outline.set([]);
    this.aroundOutline.set([]);
  }
}

interface Rgb {
  r: number;
  g: number;
  b: number;
}

function cutAt(bodies: Bodies, body: number, plane: Cutting, offset: Vector3): Chain[] {
  const chains = sliced(bodies.points(body), bodies.triangles(body), bodies.welded(body), plane, offset);
  for (const { points } of chains) {
    for (let i = 0; i < points.length; i += 3) {
      points[i]! += offset.x;
      points[i + 1]! += offset.y;
      points[i + 2]! += offset.z;
    }
  }
  return chains;
}

function crosses(box: Box3, { normal, constant }: Cutting): boolean {
  const middle = box.getCenter(new Vector3());
  const half = box.getSize(new Vector3()).multiplyScalar(0.5);
  const reach = Math.abs(normal.x) * half.x + Math.abs(normal.y) * half.y + Math.abs(normal.z) * half.z;
  return Math.abs(normal.dot(middle) + constant) <= reach;
}

/** Hatches of pieces that meet, end to end or member on member, lean against each other. */
function orders(shown: Shown): { hatch: number; pitch: number }[] {
  const members = new Map<string, Map<string, number>>();
  return shown.pieces.map(({ run, member }) => {
    const ofRun = members.get(run) ?? new Map<string, number>();
    members.set(run, ofRun);
    const first = [...ofRun.keys()].indexOf(member);
    const layer = first < 0 ? ofRun.size : first;
    const along = ofRun.get(member) ?? 0;
    ofRun.set(member, along + 1);
    return { hatch: (layer + along) % 2 ? -1 : 1, pitch: PITCHES[layer % PITCHES.length]! };
  });
}

/** Two points for each step along the chains. */
function outlined(chains: Chain[], into: number[]): void {
  for (const { points, closed } of chains) {
    const count = points.length / 3;
    for (let i = 0; i < (closed ? count : count - 1); i++) {
      const j = (i + 1) % count;
      into.push(points[3 * i]!, points[3 * i + 1]!, points[3 * i + 2]!, points[3 * j]!, points[3 * j + 1]!, points[3 * j + 2]!);
    }
  }
}

/** The fills of many pieces in one geometry. */
class Cap {
  /** The piece of each triangle. */
  readonly faces: number[] = [];
  private readonly positions: number[] = [];
  private readonly flat: number[] = [];
  private readonly tints: number[] = [];
  private readonly hatches: number[] = [];
  private readonly triangles: number[] = [];

  constructor(private readonly plane: Cutting) {}

  /** hatch: which way it leans (1 or -1, 0 for none) and its pitch, mm. Returns its box, null for no fill. */
  add(chains: Chain[], tint: Vec3, hatch: [number, number], piece: number): Box3 | null {
    const { across, up, normal, constant } = this.plane;
    const fill = filled(chains, this.plane);
    const first = this.positions.length / 3;
    const box = new Box3();
    const point = new Vector3();
    for (let i = 0; i < fill.points.length; i += 2) {
      const [x, y] = [fill.points[i]!, fill.points[i + 1]!];
      point.copy(normal).multiplyScalar(-constant).addScaledVector(across, x).addScaledVector(up, y);
      box.expandByPoint(point);
      this.positions.push(point.x, point.y, point.z);
      this.flat.push(x, y);
      this.tints.push(...tint);
      this.hatches.push(...hatch);
    }
    for (const corner of fill.triangles) this.triangles.push(first + corner);
    for (let i = 0; i < fill.triangles.length; i += 3) this.faces.push(piece);
    return fill.triangles.length ? box : null;
  }

  mesh(material: ShaderMaterial): Mesh {
    const made = new BufferGeometry();
    made.setAttribute("position", new BufferAttribute(new Float32Array(this.positions), 3));
    made.setAttribute("flatPlace", new BufferAttribute(new Float32Array(this.flat), 2));
    made.setAttribute("tint", new BufferAttribute(new Float32Array(this.tints), 3));
    made.setAttribute("hatch", new BufferAttribute(new Float32Array(this.hatches), 2));
    made.setIndex(this.triangles);
    const mesh = new Mesh(made, material);
    mesh.name = "cap";
    mesh.visible = this.triangles.length > 0;
    return mesh;
  }
}

/** Drawn as it is, without light or tone mapping, so that a cut's color is exact. */
function capMaterial(hatched: boolean, behind: number): ShaderMaterial {
  return new ShaderMaterial({
    side: DoubleSide,
    toneMapped: false,
    polygonOffset: behind > 0,
    polygonOffsetFactor: behind,
    polygonOffsetUnits: behind,
    defines: hatched ? { HATCHED: 1 } : {},
    vertexShader: /* glsl */ `
      attribute vec2 flatPlace;
      attribute vec3 tint;
      attribute vec2 hatch;
      varying vec2 vPlace;
      varying vec3 vTint;
      varying vec2 vHatch;
      void main() {
        vPlace = flatPlace;
        vTint = tint;
        vHatch = hatch;
        gl_Position = projectionMatrix * modelViewMatrix * vec4( position, 1.0 );
      }`,
    fragmentShader: /* glsl */ `
      varying vec2 vPlace;
      varying vec3 vTint;
      varying vec2 vHatch;
      void main() {
        vec3 color = vTint;
        #ifdef HATCHED
          float along = ( vPlace.x + vHatch.x * vPlace.y ) * 0.70710678 / vHatch.y;
          float soft = max( fwidth( along ), 1e-4 );
          float away = abs( fract( along ) - 0.5 );
          float line = smoothstep( 0.5 - 0.09 - soft, 0.5 - 0.09 + soft, away );
          line = mix( line, 0.18, clamp( soft * 3.0 - 0.8, 0.0, 1.0 ) );
          color *= 1.0 - 0.34 * line * abs( vHatch.x );
        #endif
        gl_FragColor = vec4( color, 1.0 );
      }`,
  });
}
