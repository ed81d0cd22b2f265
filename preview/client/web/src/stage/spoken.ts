/** What is spoken of, and the finishes asked for: kept by name, so that it holds in other variants and in the next model. */

import type { Variant } from "../document";
import type { Finishes } from "./finishes";

export class Spoken {
  private pieces: readonly string[] = [];
  private joint: string | null = null;
  private readonly painted = new Map<string, string>();

  markPieces(variant: Variant, numbers: readonly number[]): void {
    this.pieces = numbers.flatMap((i) => variant.pieces[i]?.name ?? []);
  }

  markJoint(variant: Variant, number: number | null): void {
    this.joint = number === null ? null : (variant.joints[number]?.name ?? null);
  }

  /** finish: its name, or null for the member's own. */
  paint(member: string, finish: string | null): void {
    if (finish === null) this.painted.delete(member);
    else this.painted.set(member, finish);
  }

  forget(): void {
    this.pieces = [];
    this.joint = null;
    this.painted.clear();
  }

  piecesIn(variant: Variant): ReadonlySet<number> {
    if (!this.pieces.length) return new Set();
    const names = new Set(this.pieces);
    return new Set(variant.pieces.flatMap(({ name }, i) => (names.has(name) ? [i] : [])));
  }

  jointIn(variant: Variant): number | null {
    const found = this.joint === null ? -1 : variant.joints.findIndex(({ name }) => name === this.joint);
    return found < 0 ? null : found;
  }

  /** The finish of each repainted member, by its number there. */
  finishesIn(finishes: Finishes): ReadonlyMap<string, number> {
    const numbers = new Map<string, number>();
    for (const [member, name] of this.painted) {
      const number = finishes.named(name);
      if (number !== null) numbers.set(member, number);
    }
    return numbers;
  }
}
