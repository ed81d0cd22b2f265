/** Light: a sky, a key light that rakes over the face from the camera's side, and later a room that is mirrored. */

import {
  type Box3,
  DirectionalLight,
  Group,
  HemisphereLight,
  PMREMGenerator,
  type Scene,
  Sphere,
  type Texture,
  Vector3,
  type WebGLRenderer,
} from "three";
import { RoomEnvironment } from "three/addons/environments/RoomEnvironment.js";
import type { Sight } from "./sight";

const SHADOW_PIXELS = 2048;
/** How much light comes from everywhere: alone, and beside the room that is mirrored. */
const SKY = 2.05;
const SKY_WITH_ROOM = 1.2;
const ROOM = 0.2;
const KEY = 1.9;
/** From where the key light may come: to the left of the camera, and up; those that rake come first. */
const PLACES = [
  [50, 42],
  [-50, 42],
  [30, 50],
  [-30, 50],
  [12, 58],
].map(([aside, above]) => ({ aside: ((aside ?? 0) * Math.PI) / 180, above: ((above ?? 0) * Math.PI) / 180 }));
/** Seen from below (a cornice), the light is as low as in a room whose floor shines back. */
const LOW = -0.3;
/** By how far, in azimuth, the camera may turn away before it takes the light along. */
const LEASH = (40 * Math.PI) / 180;

/** A place is good enough when its light does this share of what the best does. */
const GOOD = 0.75;

/** How well light from a direction shows what matters. */
export type Shows = (from: Vector3) => number;

export class Light {
  readonly group = new Group();
  private readonly sky = new HemisphereLight(0xffffff, 0xb6b2ab, SKY);
  private readonly key = new DirectionalLight(0xfffdf9, KEY);
  private azimuth = 0;
  private place = PLACES[0]!;
  private readonly lit = new Sphere(new Vector3(), -1);

  constructor() {
    this.sky.position.set(0, 0, 1);
    this.key.castShadow = true;
    this.key.shadow.mapSize.set(SHADOW_PIXELS, SHADOW_PIXELS);
    this.key.shadow.autoUpdate = false;
    this.key.shadow.radius = 2.2;
    this.key.shadow.intensity = 0.8;
    this.group.add(this.sky, this.key, this.key.target);
  }

  /** Let the light follow the eye, to its own place for this sight. */
  settle(sight: Sight, scene: Box3, shows: Shows): void {
    this.azimuth = sight.azimuth;
    const shown = PLACES.map((place) => shows(this.from(place, sight)));
    const enough = GOOD * Math.max(...shown);
    this.place = PLACES[shown.findIndex((light) => light >= enough)] ?? PLACES[0]!;
    this.aim(sight, scene);
  }

  /** Let the light follow the eye only as far as it has to. */
  follow(sight: Sight, scene: Box3): void {
    const away = Math.atan2(Math.sin(sight.azimuth - this.azimuth), Math.cos(sight.azimuth - this.azimuth));
    if (Math.abs(away) > LEASH) this.azimuth += away - Math.sign(away) * LEASH;
    else if (this.lit.radius > 0 && this.covers(sight)) return;
    this.aim(sight, scene);
  }

  /** The shadows are drawn again in the next picture. */
  stale(): void {
    this.key.shadow.needsUpdate = true;
  }

  room(scene: Scene, texture: Texture | null): void {
    scene.environment = texture;
    scene.environmentRotation.set(Math.PI / 2, 0, 0);
    scene.environmentIntensity = ROOM;
    this.sky.intensity = texture ? SKY_WITH_ROOM : SKY;
  }

  dispose(): void {
    this.key.dispose();
  }

  /** Whether the shadows reach as far as this sight shows, and are not much coarser than it needs. */
  private covers(sight: Sight): boolean {
    const radius = 1.6 * sight.half;
    return this.lit.center.distanceTo(sight.target) + radius <= this.lit.radius * 1.5 && this.lit.radius < 6 * radius;
  }

  private from(place: { aside: number; above: number }, sight: Sight): Vector3 {
    const above = sight.elevation >= -0.05 ? place.above : LOW;
    const azimuth = this.azimuth - place.aside;
    return new Vector3(Math.cos(azimuth) * Math.cos(above), Math.sin(azimuth) * Math.cos(above), Math.sin(above));
  }

  private aim(sight: Sight, scene: Box3): void {
    const whole = scene.getBoundingSphere(new Sphere());
    const radius = Math.min(whole.radius, 3.2 * sight.half);
    this.lit.center.copy(radius < whole.radius ? sight.target : whole.center);
    this.lit.radius = radius;
    const from = this.from(this.place, sight);
    const far = 2 * whole.radius + radius + 10;
    this.key.position.copy(this.lit.center).addScaledVector(from, far);
    this.key.target.position.copy(this.lit.center);
    this.key.target.updateMatrixWorld();
    const camera = this.key.shadow.camera;
    camera.up.set(0, 0, 1);
    camera.left = camera.bottom = -radius;
    camera.right = camera.top = radius;
    camera.near = 1;
    camera.far = 2 * far;
    camera.updateProjectionMatrix();
    const texel = (2 * radius) / SHADOW_PIXELS;
    this.key.shadow.normalBias = 2.4 * texel;
    this.key.shadow.bias = (-0.6 * texel) / (camera.far - camera.near);
    this.stale();
  }
}

/** The room that surfaces mirror; slow to make where rendering is slow. */
export function madeRoom(renderer: WebGLRenderer): Texture {
  const maker = new PMREMGenerator(renderer);
  const room = new RoomEnvironment();
  const { texture } = maker.fromScene(room, 0.04);
  room.dispose();
  maker.dispose();
  return texture;
}

