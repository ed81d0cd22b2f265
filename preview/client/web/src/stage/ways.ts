/** Back lines: where a station lies, and which way one travels there. */

import { Vector3 } from "three";
import type { Joint, Path } from "../document";

const COLUMNS = 7;
/** A plane this near a joint, mm, is moved so far into the side that is kept: it would lie in the ends' faces. */
export const OFF_JOINT = 0.4;
const NEAR_JOINT = 0.5;
const STRAIGHT = Math.cos((0.25 * Math.PI) / 180);

export interface Place {
  at: Vector3;
  travel: Vector3;
}

/** Where a station lies on a path whose samples are given. */
export function placeOn(samples: Float32Array, station: number): Place {
  const count = samples.length / COLUMNS;
  let low = 0;
  let high = count - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (samples[middle * COLUMNS]! <= station) low = middle;
    else high = middle;
  }
  const row = (i: number, from: number) => new Vector3().fromArray(samples, Math.min(i, count - 1) * COLUMNS + from);
  const begin = samples[low * COLUMNS]!;
  const end = samples[Math.min(low + 1, count - 1) * COLUMNS]!;
  const share = end > begin ? Math.min(Math.max((station - begin) / (end - begin), 0), 1) : 0;
  const at = row(low, 1).lerp(row(low + 1, 1), share);
  return { at, travel: travelled(row(low, 4), row(low + 1, 4), row(low + 1, 1).sub(row(low, 1)), share) };
}

/** On a straight its one direction, whatever its end says of what comes after; on a curve between those of its ends. */
function travelled(begin: Vector3, end: Vector3, chord: Vector3, share: number): Vector3 {
  if (chord.lengthSq() < 1e-12) return begin.normalize();
  chord.normalize();
  if (begin.dot(chord) > STRAIGHT) return begin.normalize();
  if (end.dot(chord) > STRAIGHT) return chord;
  return begin.lerp(end, share).normalize();
}

/** The station to cut at: on the path, and off the plane of any joint. */
export function clearStation(path: Path, number: number, joints: readonly Joint[], station: number, keepsAhead: boolean): number {
  const clear = (at: number) => Math.min(Math.max(at, OFF_JOINT), Math.max(path.length - OFF_JOINT, OFF_JOINT));
  const wanted = clear(station);
  const near = joints.find((joint) => joint.path === number && Math.abs(joint.station - wanted) < NEAR_JOINT);
  return near ? clear(near.station + (keepsAhead ? OFF_JOINT : -OFF_JOINT)) : wanted;
}
