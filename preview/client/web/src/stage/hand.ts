/** Hands on the picture: one finger or the left button turns, two fingers or another button move, a pinch or the wheel zooms. */

export interface Handled {
  /** A gesture begins (or the wheel turns after a rest) at a place of the canvas, CSS px. */
  grip(x: number, y: number): void;
  /** px. */
  turn(right: number, down: number): void;
  move(right: number, down: number): void;
  zoom(factor: number, x: number, y: number): void;
  tap(x: number, y: number): void;
  done(): void;
}

const TAP_PIXELS = 6;
const TAP_TIME = 500;
const WHEEL_REST = 250;
const LINE = 16;

interface Touch {
  x: number;
  y: number;
}

export class Hand {
  private readonly touches = new Map<number, Touch>();
  private readonly ends = new AbortController();
  private begun = { x: 0, y: 0, time: 0, moved: false, moving: false };
  private wheeled = -Infinity;
  private rest = 0;

  constructor(
    private readonly canvas: HTMLElement,
    private readonly to: Handled,
  ) {
    canvas.style.touchAction = "none";
    const { signal } = this.ends;
    canvas.addEventListener("pointerdown", (event) => this.down(event), { signal });
    canvas.addEventListener("pointermove", (event) => this.drag(event), { signal });
    for (const name of ["pointerup", "pointercancel"] as const) {
      canvas.addEventListener(name, (event) => this.up(event), { signal });
    }
    canvas.addEventListener("wheel", (event) => this.wheel(event), { signal, passive: false });
    canvas.addEventListener("contextmenu", (event) => event.preventDefault(), { signal });
  }

  dispose(): void {
    this.ends.abort();
    clearTimeout(this.rest);
  }

  private down(event: PointerEvent): void {
    this.canvas.setPointerCapture(event.pointerId);
    const at = this.place(event);
    this.touches.set(event.pointerId, at);
    if (this.touches.size === 1) {
      const moving = event.button !== 0 || event.shiftKey || event.ctrlKey || event.metaKey;
      this.begun = { ...at, time: event.timeStamp, moved: false, moving };
    } else this.begun.moved = true;
  }

  private drag(event: PointerEvent): void {
    const before = this.touches.get(event.pointerId);
    if (!before) return;
    const at = this.place(event);
    if (!this.begun.moved) {
      if (Math.hypot(at.x - this.begun.x, at.y - this.begun.y) < TAP_PIXELS) return;
      this.begun.moved = true;
      this.to.grip(this.begun.x, this.begun.y);
    }
    const old = this.spread();
    this.touches.set(event.pointerId, at);
    if (this.touches.size === 1) {
      const step = [at.x - before.x, at.y - before.y] as const;
      if (this.begun.moving) this.to.move(...step);
      else this.to.turn(...step);
    } else {
      const now = this.spread();
      this.to.move(now.x - old.x, now.y - old.y);
      if (old.wide > 1 && now.wide > 1) this.to.zoom(now.wide / old.wide, now.x, now.y);
    }
  }

  private up(event: PointerEvent): void {
    if (!this.touches.delete(event.pointerId)) return;
    if (this.touches.size) return;
    const quick = event.timeStamp - this.begun.time < TAP_TIME;
    if (!this.begun.moved && quick && event.type === "pointerup" && event.button === 0) this.to.tap(this.begun.x, this.begun.y);
    else if (this.begun.moved) this.to.done();
  }

  private wheel(event: WheelEvent): void {
    event.preventDefault();
    const at = this.place(event);
    if (event.timeStamp - this.wheeled > WHEEL_REST) this.to.grip(at.x, at.y);
    this.wheeled = event.timeStamp;
    // A pinch on a touch pad arrives as a wheel with the control key, in smaller steps.
    const step = event.deltaY * (event.deltaMode === 1 ? LINE : 1) * (event.ctrlKey ? 6 : 1);
    this.to.zoom(Math.exp(-Math.max(-240, Math.min(240, step)) * 0.0015), at.x, at.y);
    clearTimeout(this.rest);
    this.rest = window.setTimeout(() => this.to.done(), WHEEL_REST);
  }

  private spread(): Touch & { wide: number } {
    const [a, b] = [...this.touches.values()] as [Touch, Touch | undefined];
    if (!b) return { ...a, wide: 0 };
    return { x: (a.x + b.x) / 2, y: (a.y + b.y) / 2, wide: Math.hypot(a.x - b.x, a.y - b.y) };
  }

  private place(event: MouseEvent): Touch {
    const { left, top } = this.canvas.getBoundingClientRect();
    return { x: event.clientX - left, y: event.clientY - top };
  }
}
