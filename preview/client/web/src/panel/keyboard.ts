/** Keys on the focused picture. */

import type { StageApi } from "../stage/api";
import { toWhole } from "./drive";
import type { Panel } from "./store";

const TURN = Math.PI / 24;
const MOVE = 0.05;
const NEAR = 1.15;

const ARROWS: Record<string, [right: number, down: number]> = {
  ArrowLeft: [-1, 0],
  ArrowRight: [1, 0],
  ArrowUp: [0, -1],
  ArrowDown: [0, 1],
};

export function keyboard(panel: Panel, stage: StageApi, picture: HTMLElement): void {
  const press = (event: KeyboardEvent): void => {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const arrow = ARROWS[event.key];
    if (arrow) {
      const [right, down] = arrow;
      if (event.shiftKey) stage.move(right * MOVE, down * MOVE);
      else stage.turn(right * TURN, down * TURN);
    } else if (event.key === "+" || event.key === "=") stage.nearer(NEAR);
    else if (event.key === "-" || event.key === "_") stage.nearer(1 / NEAR);
    else if (event.key === "Home") toWhole(panel);
    else if (event.key === "Escape") panel.store.set({ joint: null, marked: [] });
    else return;
    event.preventDefault();
    event.stopPropagation();
  };
  // Before the picture's own keys, which would move where these turn.
  picture.addEventListener("keydown", press, { capture: true });
}
