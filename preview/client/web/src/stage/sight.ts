/** Where one looks from, as numbers: what can be shown is worked out here, without a camera. */

import { Box3, MathUtils, Vector3 } from "three";
import type { View } from "../document";

/**
 * Azimuth and elevation say from where the target is seen: azimuth 0 from +x, counter-clockwise; elevation up.
 * half: half the height of the picture at the target, mm. lens: 1 in perspective, 0 flat, between while flying.
 * front: how far before the target, mm, things are still shown; Infinity: all.
 */
export interface Sight {
  target: Vector3;
  azimuth: number;
  elevation: number;
  half: number;
  lens: number;
  front: number;
}

export interface Axes {
  right: Vector3;
  up: Vector3;
  /** From the target to the eye. */
  back: Vector3;
}

/** The angle of view along the picture's longer side. */
const ACROSS = MathUtils.degToRad(34);
const FLAT = 0.02;
const STEEPEST = Math.PI / 2;

export function isFlat(sight: Sight): boolean {
  return sight.lens < FLAT;
}

export function copyOf(sight: Sight): Sight {
  return { ...sight, target: sight.target.clone() };
}

/** The tangent of half the angle of view, from bottom to top. */
export function opening(aspect: number, lens = 1): number {
  return (Math.tan(ACROSS / 2) / Math.max(aspect, 1)) * Math.max(lens, FLAT);
}

/** How far the eye stands from the target, mm. */
export function distanceOf(sight: Sight, aspect: number): number {
  return sight.half / opening(aspect, sight.lens);
}

export function axesOf({ azimuth, elevation }: { azimuth: number; elevation: number }): Axes {
  const flat = Math.cos(elevation);
  const back = new Vector3(flat * Math.cos(azimuth), flat * Math.sin(azimuth), Math.sin(elevation));
  const right = new Vector3(-Math.sin(azimuth), Math.cos(azimuth), 0);
  return { right, up: back.clone().cross(right), back };
}

export function eyeOf(sight: Sight, aspect: number): Vector3 {
  return sight.target.clone().addScaledVector(axesOf(sight).back, distanceOf(sight, aspect));
}

/** From where a direction looks back at the target; straight down has north up. */
export function directionOf(back: Vector3): { azimuth: number; elevation: number } {
  const level = Math.hypot(back.x, back.y);
  const azimuth = level > 1e-6 * back.length() ? Math.atan2(back.y, back.x) : -Math.PI / 2;
  return { azimuth, elevation: Math.atan2(back.z, level) };
}

/** A view as its author gave it; in a picture narrower than 16 to 10 it stays as wide. */
export function sightOf(view: View, aspect: number): Sight {
  const target = new Vector3(...view.target);
  const back = new Vector3(...view.eye).sub(target);
  const half = (back.length() * Math.tan(ACROSS / 2)) / Math.min(aspect, 1.6);
  return clearOf(view, { target, ...directionOf(back), half, lens: view.flat ? 0 : 1, front: Infinity });
}

/** The sight without what its view leaves out as too near. */
export function clearOf(view: View, sight: Sight): Sight {
  if (!(view.near > 0)) return sight;
  const { back } = axesOf(sight);
  const eye = new Vector3(...view.eye).sub(sight.target).dot(back);
  return { ...sight, front: eye - view.near };
}

/** The free edge round what is shown: shares of the picture's half width and half height. */
export interface Margin {
  across: number;
  upward: number;
}

/** How often the middle is looked for; a corner that has moved into sight first takes another round. */
const CENTERING = 4;

/** The nearest sight in a direction that shows all boxes, with them in its middle. */
export function fitted(boxes: readonly Box3[], way: { azimuth: number; elevation: number; lens: number }, aspect: number, margin: Margin): Sight {
  const { right, up, back } = axesOf(way);
  const opens = opening(aspect, 1);
  const tall = opens * (1 - margin.upward);
  const wide = opens * aspect * (1 - margin.across);
  const most = { left: -Infinity, right: -Infinity, down: -Infinity, up: -Infinity, near: -Infinity, far: -Infinity };
  const flat = way.lens < FLAT;
  const corner = new Vector3();
  for (const box of boxes) {
    for (let i = 0; i < 8; i++) {
      corner.set(i & 1 ? box.max.x : box.min.x, i & 2 ? box.max.y : box.min.y, i & 4 ? box.max.z : box.min.z);
      const [x, y, z] = [corner.dot(right), corner.dot(up), corner.dot(back)];
      const depth = flat ? 0 : z;
      most.right = Math.max(most.right, x + depth * wide);
      most.left = Math.max(most.left, -x + depth * wide);
      most.up = Math.max(most.up, y + depth * tall);
      most.down = Math.max(most.down, -y + depth * tall);
      most.near = Math.max(most.near, z);
      most.far = Math.max(most.far, -z);
    }
  }
  if (!Number.isFinite(most.near)) return { target: new Vector3(), ...way, half: 500, front: Infinity };
  const middle = (most.near - most.far) / 2;
  const needs = { across: (most.left + most.right) / 2, upward: (most.up + most.down) / 2 };
  const away = Math.max(needs.across / wide, needs.upward / tall);
  const target = new Vector3()
    .addScaledVector(right, (most.right - most.left) / 2)
    .addScaledVector(up, (most.up - most.down) / 2)
    .addScaledVector(back, middle);
  const distance = flat ? away : Math.max(away - middle, 0.05 * (most.near + most.far));
  if (!flat) center(boxes, target, distance, { right, up, back });
  return { target, ...way, half: Math.max(distance * opens, 1), front: Infinity };
}

/** Shift a target so that what is shown stands in the middle of the picture, whichever side of it is nearer. */
function center(boxes: readonly Box3[], target: Vector3, distance: number, axes: { right: Vector3; up: Vector3; back: Vector3 }): void {
  const corner = new Vector3();
  for (let round = 0; round < CENTERING; round++) {
    for (const axis of [axes.right, axes.up]) {
      const ends = { least: [Infinity, 0], most: [-Infinity, 0] };
      for (const box of boxes) {
        for (let i = 0; i < 8; i++) {
          corner.set(i & 1 ? box.max.x : box.min.x, i & 2 ? box.max.y : box.min.y, i & 4 ? box.max.z : box.min.z).sub(target);
          const depth = distance - corner.dot(axes.back);
          const slope = corner.dot(axis) / depth;
          if (slope < ends.least[0]!) ends.least = [slope, depth];
          if (slope > ends.most[0]!) ends.most = [slope, depth];
        }
      }
      const [low, near] = ends.least as [number, number];
      const [high, far] = ends.most as [number, number];
      target.addScaledVector(axis, (low + high) / (1 / near + 1 / far));
    }
  }
}

/** How far one may go. */
export interface Bounds {
  /** Where the target stays. */
  box: Box3;
  /** The floor's height, mm, or null. */
  floor: number | null;
  least: number;
  most: number;
}

const OVER_FLOOR = 25;

/** The same sight, kept within bounds: never lost, never under the floor. */
export function bounded(sight: Sight, bounds: Bounds, aspect: number): Sight {
  const kept = copyOf(sight);
  kept.target.clamp(bounds.box.min, bounds.box.max);
  kept.half = MathUtils.clamp(kept.half, bounds.least, bounds.most);
  kept.elevation = MathUtils.clamp(kept.elevation, -STEEPEST, STEEPEST);
  if (bounds.floor !== null && !isFlat(kept)) {
    const rise = (bounds.floor + OVER_FLOOR - kept.target.z) / distanceOf(kept, aspect);
    kept.elevation = Math.max(kept.elevation, Math.asin(MathUtils.clamp(rise, -1, 0.99)));
  }
  return kept;
}

/** Part of the way from one sight to another, the short way round. */
export function between(from: Sight, to: Sight, share: number): Sight {
  if (share >= 1) return copyOf(to);
  const turn = Math.atan2(Math.sin(to.azimuth - from.azimuth), Math.cos(to.azimuth - from.azimuth));
  return {
    target: from.target.clone().lerp(to.target, share),
    azimuth: from.azimuth + share * turn,
    elevation: MathUtils.lerp(from.elevation, to.elevation, share),
    half: from.half * (to.half / from.half) ** share,
    lens: MathUtils.lerp(from.lens, to.lens, share),
    front: Infinity,
  };
}
