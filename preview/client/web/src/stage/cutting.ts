/** Where a run is cut open, what that takes away, and how one looks at it. */

import { Box3, Plane, Vector3 } from "three";
import type { Variant } from "../document";
import type { Cut } from "./api";
import type { Bodies } from "./bodies";
import type { Pane } from "./pane";
import { type Sight, directionOf, fitted } from "./sight";
import { type Cutting, cuttingPlane } from "./slice";
import { type Place, clearStation, placeOn } from "./ways";

/** mm: a plane this far away cuts nothing. */
const NOWHERE = 1e9;
/** A run that climbs more steeply than this has no side in plan. */
const STEEP = 0.8;
/** Pieces of the cut run this far, mm, from the place of the cut are what one looks at. */
const AT_HAND = 350;
/** How much of the picture stays free round the section. */
const FREE = 0.42;
/** From how far to the side of the face one looks at a cut, and from how far above: shares of the distance. */
const ASIDE = 0.42;
const ABOVE = 0.2;

export class CutAway {
  /** Always the same plane, so that no shader changes when the cut goes on or off; far away while there is no cut. */
  readonly plane = new Plane(new Vector3(0, 0, 1), NOWHERE);
  wanted: Cut | null = null;
  cutting: Cutting | null = null;
  place: Place | null = null;
  private run: string | null = null;

  /** Cut there; null, or a path that the variant does not have: nowhere. */
  set(cut: Cut | null, variant: Variant, bodies: Bodies): void {
    this.wanted = cut;
    const path = cut ? variant.paths[cut.path] : undefined;
    if (!cut || !path) {
      this.place = this.cutting = this.run = null;
      this.plane.set(new Vector3(0, 0, 1), NOWHERE);
      return;
    }
    const keepsAhead = !cut.turned;
    const station = clearStation(path, cut.path, variant.joints, cut.station, keepsAhead);
    this.run = path.run;
    this.place = placeOn(bodies.floats(path.samples), station);
    this.cutting = cuttingPlane(this.place.at, this.place.travel.clone().multiplyScalar(keepsAhead ? 1 : -1));
    this.plane.set(this.cutting.normal, this.cutting.constant);
  }

  /** The same cut in another variant or model: on the run of that name, as far along as it goes. */
  follow(variant: Variant, bodies: Bodies): void {
    if (!this.wanted) return;
    const found = variant.paths.findIndex(({ run }) => run === this.run);
    const path = variant.paths[found];
    this.set(path ? { ...this.wanted, path: found, station: Math.min(this.wanted.station, path.length) } : null, variant, bodies);
  }

  /** Whether a point is left standing. */
  readonly keeps = (point: Vector3): boolean => this.plane.distanceToPoint(point) >= -1e-3;

  /** A sight of the cut, a little from the side where the face is and from above. */
  facing(pane: Pane, aspect: number): Sight | null {
    if (!this.place || !this.cutting) return null;
    const { at, travel } = this.place;
    const { shown, section } = pane;
    const near = section.cuts.filter(
      ({ piece, box }) => shown.piece(piece).run === this.run && box.distanceToPoint(at) < AT_HAND + 1000 * shown.share,
    );
    const boxes = near.length ? near.map(({ box }) => box) : [new Box3().setFromCenterAndSize(at, new Vector3(200, 200, 200))];
    const aside = boxes
      .reduce((whole, box) => whole.union(box), new Box3())
      .getCenter(new Vector3())
      .sub(at);
    aside.addScaledVector(travel, -aside.dot(travel));
    if (Math.abs(travel.z) < STEEP) aside.z = 0;
    if (aside.lengthSq() < 1e-6) aside.set(-travel.y, travel.x, 0);
    const back = this.cutting.normal.clone().negate().addScaledVector(aside.normalize(), ASIDE);
    back.z += ABOVE;
    return fitted(boxes, { ...directionOf(back), lens: 1 }, aspect, { across: FREE, upward: FREE });
  }
}

/** A sight carried along with a cut, so that the section stays in its place of the picture. */
export function ridden(sight: Sight, from: Place, to: Place): Sight {
  const turn = levelAngle(to.travel) - levelAngle(from.travel);
  const yaw = Number.isFinite(turn) ? Math.atan2(Math.sin(turn), Math.cos(turn)) : 0;
  return {
    ...sight,
    azimuth: sight.azimuth + yaw,
    target: sight.target.clone().sub(from.at).applyAxisAngle(new Vector3(0, 0, 1), yaw).add(to.at),
  };
}

/** Which way a direction leads in plan; NaN where it leads straight up. */
function levelAngle(direction: Vector3): number {
  return Math.hypot(direction.x, direction.y) < 0.05 ? NaN : Math.atan2(direction.y, direction.x);
}
