/** On paper: the picture as it stands, and everything folded away opened. */

import type { StageApi } from "../stage/api";
import { at } from "./dom";

export function printing(stage: StageApi, picture: HTMLElement): void {
  const still = at<HTMLCanvasElement>("still");
  const fold = at<HTMLDetailsElement>("facts-fold");
  let opened = false;
  addEventListener("beforeprint", () => {
    const drawn = picture.querySelector("canvas");
    // Drawn at once, so that it can be copied before the browser lays the paper out.
    stage.snapshot().catch(() => undefined);
    if (drawn?.width) {
      still.width = drawn.width;
      still.height = drawn.height;
      still.getContext("2d")?.drawImage(drawn, 0, 0);
      still.hidden = false;
    }
    opened = fold.open;
    fold.open = true;
  });
  addEventListener("afterprint", () => {
    still.hidden = true;
    fold.open = opened;
  });
}
