/** The camera: goes where a sight says, at once or in a short flight. */

import { type Box3, type Camera, MathUtils, OrthographicCamera, PerspectiveCamera, Raycaster, Vector2, Vector3 } from "three";
import { type Bounds, type Sight, axesOf, between, bounded, copyOf, distanceOf, eyeOf, isFlat, opening } from "./sight";

const FLIGHT = 420;

export class Eye {
  aspect = 1;
  bounds: Bounds | null = null;
  private now: Sight = { target: new Vector3(), azimuth: -Math.PI / 2, elevation: 0.3, half: 500, lens: 1, front: Infinity };
  private flight: { from: Sight; to: Sight; begun: number | null } | null = null;
  private readonly perspective = new PerspectiveCamera();
  private readonly orthographic = new OrthographicCamera();

  get sight(): Sight {
    return copyOf(this.now);
  }

  /** Where it is going, or is. */
  get goal(): Sight {
    return copyOf(this.flight?.to ?? this.now);
  }

  get flying(): boolean {
    return this.flight !== null;
  }

  /** Go there at once. */
  put(sight: Sight): void {
    this.flight = null;
    this.now = this.within(sight);
  }

  fly(to: Sight): void {
    if (matchMedia("(prefers-reduced-motion: reduce)").matches) this.put(to);
    else this.flight = { from: copyOf(this.now), to: this.within(to), begun: null };
  }

  /** Move on to a time (ms); whether it is still on its way. */
  advance(time: number): boolean {
    if (!this.flight) return false;
    this.flight.begun ??= time;
    const share = MathUtils.clamp((time - this.flight.begun) / FLIGHT, 0, 1);
    const eased = share < 0.5 ? 4 * share ** 3 : 1 - (2 - 2 * share) ** 3 / 2;
    this.now = between(this.flight.from, this.flight.to, eased);
    if (share >= 1) this.flight = null;
    return this.flight !== null;
  }

  /** Carry all of it along, a flight as well. */
  carry(change: (sight: Sight) => Sight): void {
    this.now = change(this.now);
    if (this.flight) this.flight = { ...this.flight, from: change(this.flight.from), to: change(this.flight.to) };
  }

  /** Turn round the target, radians right and down. */
  turn(right: number, down: number): void {
    const { azimuth, elevation, ...rest } = this.now;
    this.put({ ...rest, azimuth: azimuth - right, elevation: elevation + down, front: Infinity });
  }

  /** Move sideways and down, in shares of the picture's width and height. */
  move(right: number, down: number): void {
    const { right: across, up } = axesOf(this.now);
    const sight = this.sight;
    sight.target.addScaledVector(across, 2 * right * sight.half * this.aspect).addScaledVector(up, -2 * down * sight.half);
    this.put(sight);
  }

  /** Come nearer by a factor; what lies under a place of the picture (-1 to 1, right and up) stays there. */
  nearer(factor: number, at: { x: number; y: number } = { x: 0, y: 0 }): void {
    const { right, up } = axesOf(this.now);
    const sight = this.sight;
    sight.half = this.bounds ? MathUtils.clamp(sight.half / factor, this.bounds.least, this.bounds.most) : sight.half / factor;
    const gained = this.now.half - sight.half;
    sight.target.addScaledVector(right, at.x * gained * this.aspect).addScaledVector(up, at.y * gained);
    this.put(sight);
  }

  /** Take the depth of a point for that of the target. The picture stays as it is. */
  focus(point: Vector3): void {
    const { back } = axesOf(this.now);
    const sight = this.sight;
    const nearer = point.clone().sub(sight.target).dot(back);
    const distance = distanceOf(sight, this.aspect) - nearer;
    if (distance <= 0) return;
    sight.target.addScaledVector(back, nearer);
    sight.front -= nearer;
    if (!isFlat(sight)) sight.half = distance * opening(this.aspect, sight.lens);
    if (this.bounds && (!this.bounds.box.containsPoint(sight.target) || sight.half < this.bounds.least)) return;
    this.now = sight;
  }

  /** The camera as it stands, for a scene of this size. */
  camera(scene: Box3): Camera {
    const sight = this.now;
    const { right, up, back } = axesOf(sight);
    const reach = scene.getSize(new Vector3()).length() + scene.distanceToPoint(sight.target) + 1;
    let made: PerspectiveCamera | OrthographicCamera;
    if (isFlat(sight)) {
      made = this.orthographic;
      made.top = sight.half;
      made.bottom = -sight.half;
      made.right = sight.half * this.aspect;
      made.left = -made.right;
      made.near = Math.max(reach - sight.front, 0);
      made.far = 2 * reach;
      made.position.copy(sight.target).addScaledVector(back, reach);
    } else {
      made = this.perspective;
      const distance = distanceOf(sight, this.aspect);
      made.fov = 2 * MathUtils.radToDeg(Math.atan(opening(this.aspect, sight.lens)));
      made.aspect = this.aspect;
      made.near = Math.max(distance - reach, distance - sight.front, 0.02 * distance);
      made.far = distance + reach;
      made.position.copy(eyeOf(sight, this.aspect));
    }
    made.up.copy(up);
    made.matrixAutoUpdate = true;
    made.matrix.makeBasis(right, up, back);
    made.quaternion.setFromRotationMatrix(made.matrix);
    made.updateProjectionMatrix();
    made.updateMatrixWorld(true);
    return made;
  }

  /** A ray through a place of the picture (-1 to 1, right and up). */
  ray(at: { x: number; y: number }, scene: Box3): Raycaster {
    const ray = new Raycaster();
    ray.setFromCamera(new Vector2(at.x, at.y), this.camera(scene));
    return ray;
  }

  private within(sight: Sight): Sight {
    return this.bounds ? bounded(sight, this.bounds, this.aspect) : copyOf(sight);
  }
}
