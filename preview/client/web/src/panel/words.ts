/** Names and figures as they are read on the page. */

import type { ModelDocument, Path, Variant } from "../document";
import type { Dimensions } from "../stage/api";

/** The unit that lengths are listed in: as asked for on the picture, else as the scene is written. */
export function unit(document: ModelDocument, dimensions: Dimensions): "in" | "mm" {
  if (dimensions !== "off") return dimensions;
  return document.units === "in" || document.units === "ft" ? "in" : "mm";
}

/** What was picked, by choice. */
export function picks(document: ModelDocument, variant: Variant): [choice: string, alternative: string][] {
  return document.choices.map(({ name, alternatives }, number) => [name, alternatives[variant.picks[number] ?? 0]!.name]);
}

/** What a variant has that another has not: its alternatives of the choices in which the two differ. */
export function unlike(document: ModelDocument, variant: Variant, other: Variant): string {
  const differing = picks(document, variant).filter((_, choice) => variant.picks[choice] !== other.picks[choice]);
  return differing.map(([, name]) => name).join(", ");
}

/** The variant that differs from one in one choice only. */
export function variantWith(document: ModelDocument, variant: Variant, choice: number, pick: number): number {
  return document.variants.findIndex((each) =>
    each.picks.every((picked, number) => picked === (number === choice ? pick : variant.picks[number])),
  );
}

/** The number of the place along a path that is nearest to a station: places stand `step` apart, the last at its end. */
export function nearestPlace({ places, length, step }: Path, station: number): number {
  const last = places.in.length - 1;
  const number = Math.min(Math.round(station / step), last);
  return length - station < Math.abs(number * step - station) ? last : number;
}

/** The scene file's name without its ending. */
export function stem(file: string): string {
  return file.replace(/\.[^.]*$/, "") || "molding";
}

export function count(number: number, one: string, many: string): string {
  return number === 1 ? `1 ${one}` : `${number.toLocaleString("en-US")} ${many}`;
}

/** Today where the reader is, as 2026-11-25. */
export function today(now = new Date()): string {
  const two = (part: number): string => String(part).padStart(2, "0");
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
}
