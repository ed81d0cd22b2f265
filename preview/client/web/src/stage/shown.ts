/**
 * One variant as meshes. The pieces of a member in one finish are one batch, drawn with one call however many they are;
 * each keeps its own place, so that it can be moved apart, marked and picked.
 */

import { BatchedMesh, Box3, Color, Group, type Intersection, Matrix4, Mesh, Raycaster, Vector3 } from "three";
import type { Piece, Variant, Vec3 } from "../document";
import type { Bodies, Face } from "./bodies";
import type { Finishes } from "./finishes";

interface Batch {
  member: string;
  own: number;
  mesh: BatchedMesh;
  /** The piece under each instance. */
  pieces: number[];
}

/** What a ray meets. */
export interface Met {
  /** null: something that stands round the molding. */
  piece: number | null;
  point: Vector3;
  distance: number;
}

const PLAIN = new Color(1, 1, 1);
const SPOKEN_OF = new Color(1, 0.8, 0.6);
const PICKED = 1e-9;
const SAMPLED = 24;

export class Shown {
  readonly group = new Group();
  /** All molding, together and moved wholly apart. */
  readonly together = new Box3();
  readonly apart = new Box3();
  /** Molding and all that stands round it. */
  readonly whole = new Box3();
  share = 0;

  private readonly batches: Batch[] = [];
  private readonly places: { batch: Batch; instance: number }[] = [];
  private readonly around = new Group();

  constructor(
    readonly variant: Variant,
    private readonly bodies: Bodies,
    private readonly finishes: Finishes,
  ) {
    this.addPieces();
    this.addSurroundings();
    this.group.add(this.around);
    this.moveApart(0);
  }

  get pieces(): readonly Piece[] {
    return this.variant.pieces;
  }

  piece(index: number): Piece {
    const piece = this.variant.pieces[index];
    if (!piece) throw new RangeError(`the model has no piece ${index}`);
    return piece;
  }

  /** Where a piece's body stands now. */
  offset(index: number, share = this.share): Vector3 {
    const { origin, apart } = this.piece(index);
    return new Vector3(...origin).addScaledVector(new Vector3(...apart), share);
  }

  /** The box of a piece where it stands now. */
  box(index: number): Box3 {
    return this.bodies.box(this.piece(index).body).clone().translate(this.offset(index));
  }

  get surroundings(): readonly Mesh[] {
    return this.around.visible ? (this.around.children as Mesh[]) : [];
  }

  showSurroundings(shown: boolean): void {
    this.around.visible = shown;
  }

  /** The height of the floor, where there is one and it is shown. */
  get floor(): number | null {
    const found = this.variant.surroundings.findIndex((thing) => thing.kind === "floor");
    if (found < 0 || !this.around.visible) return null;
    const thing = this.variant.surroundings[found]!;
    return this.bodies.box(thing.body).max.z + thing.origin[2];
  }

  moveApart(share: number): void {
    this.share = share;
    const matrix = new Matrix4();
    this.places.forEach(({ batch, instance }, i) => {
      batch.mesh.setMatrixAt(instance, matrix.setPosition(this.offset(i)));
    });
    for (const { mesh } of this.batches) {
      mesh.boundingBox = null;
      mesh.boundingSphere = null;
      mesh.computeBoundingSphere();
    }
  }

  /** Show members in other finishes than their own. */
  paint(other: ReadonlyMap<string, number>): void {
    for (const batch of this.batches) batch.mesh.material = this.finishes.molding(other.get(batch.member) ?? batch.own);
  }

  mark(pieces: ReadonlySet<number>): void {
    this.places.forEach(({ batch, instance }, i) => {
      batch.mesh.setColorAt(instance, pieces.has(i) ? SPOKEN_OF : PLAIN);
    });
  }

  /** What a ray meets first, of what is not cut away. */
  met(ray: Raycaster, kept: (point: Vector3) => boolean): Met | null {
    const hits: Intersection[] = ray.intersectObject(this.group, true).filter((hit) => hit.distance > PICKED);
    const hit = hits.find(({ object, point }) => seen(object, this.around.visible) && kept(point));
    if (!hit) return null;
    const batch = this.batches.find(({ mesh }) => mesh === hit.object);
    const piece = batch && hit.batchId !== undefined ? batch.pieces[hit.batchId]! : null;
    return { piece, point: hit.point, distance: hit.distance };
  }

  /** How well light from a direction reaches the faces turned to the eye: of some pieces, where there are many. */
  lit(from: Vector3, eye: Vector3): number {
    const solids = this.surroundings.filter((mesh) => mesh.castShadow);
    const far = this.whole.getSize(new Vector3()).length() + 1;
    const inward = from.clone().negate();
    const step = Math.ceil(this.pieces.length / SAMPLED);
    let sum = 0;
    for (let i = 0; i < this.pieces.length; i += step) {
      const face = new Vector3(...this.piece(i).label).addScaledVector(from, far);
      const blocked = new Raycaster(face, inward, 0, far - 1).intersectObjects(solids, false).length > 0;
      if (!blocked) sum += this.bodies.faces(this.piece(i).body).reduce((lit, face) => lit + lightOn(face, from, eye), 0);
    }
    return sum;
  }

  dispose(): void {
    for (const { mesh } of this.batches) mesh.dispose();
    for (const mesh of this.around.children as Mesh[]) mesh.geometry.dispose();
    this.group.clear();
    this.group.removeFromParent();
  }

  private addPieces(): void {
    const members = new Map<string, number[]>();
    this.pieces.forEach(({ member, finish }, i) => {
      const key = JSON.stringify([member, finish]);
      members.set(key, [...(members.get(key) ?? []), i]);
    });
    for (const pieces of members.values()) this.batches.push(this.batch(pieces));
  }

  private batch(pieces: number[]): Batch {
    const { member, finish } = this.piece(pieces[0]!);
    const shapes = [...new Set(pieces.map((i) => this.piece(i).body))];
    const sum = (of: (body: number) => number) => shapes.reduce((total, body) => total + of(body), 0);
    const mesh = new BatchedMesh(
      pieces.length,
      sum((body) => this.bodies.points(body).length / 3),
      sum((body) => this.bodies.triangles(body).length),
      this.finishes.molding(finish),
    );
    mesh.sortObjects = false;
    mesh.castShadow = mesh.receiveShadow = true;
    const numbers = new Map(shapes.map((body) => [body, mesh.addGeometry(this.bodies.geometry(body))]));
    const batch: Batch = { member, own: finish, mesh, pieces: [] };
    for (const i of pieces) {
      const instance = mesh.addInstance(numbers.get(this.piece(i).body)!);
      mesh.setColorAt(instance, PLAIN);
      batch.pieces[instance] = i;
      this.places[i] = { batch, instance };
      this.together.union(this.bodies.box(this.piece(i).body).clone().translate(this.offset(i, 0)));
      this.apart.union(this.bodies.box(this.piece(i).body).clone().translate(this.offset(i, 1)));
    }
    this.whole.union(this.together).union(this.apart);
    this.group.add(mesh);
    return batch;
  }

  private addSurroundings(): void {
    for (const thing of this.variant.surroundings) {
      const mesh = new Mesh(this.bodies.geometry(thing.body), this.finishes.around(thing.finish));
      mesh.name = thing.name;
      mesh.position.set(...(thing.origin as Vec3));
      // A sheet between the light and the molding is a wall that the eye looks through as well.
      mesh.castShadow = !thing.sheet;
      mesh.receiveShadow = true;
      mesh.userData = { body: thing.body, sheet: thing.sheet };
      this.around.add(mesh);
      this.whole.union(this.bodies.box(thing.body).clone().translate(mesh.position));
    }
    this.around.updateMatrixWorld(true);
  }
}

function seen(object: { parent: unknown }, around: boolean): boolean {
  return around || !(object instanceof Mesh && !(object instanceof BatchedMesh));
}

/** Beyond this, more light square on only makes a face flat. */
const ENOUGH = 0.6;

function lightOn({ normal, area }: Face, from: Vector3, eye: Vector3): number {
  return area * Math.max(normal.dot(eye), 0) * Math.min(Math.max(normal.dot(from), 0), ENOUGH);
}
