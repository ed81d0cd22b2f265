/** When to draw: once for each thing that was asked, all along a motion, and once more, finely, when all is at rest. */

/** ms without motion that count as rest. */
const REST = 110;

export interface Drawn {
  /** Draw; whether there is more to come without being asked. */
  draw(time: number, moving: boolean): boolean;
  /** All is at rest; whether the picture has to be drawn again. */
  settle(): boolean;
}

export class Loop {
  private asked = 0;
  private resting = 0;
  private touched = -Infinity;
  private stopped = false;

  constructor(private readonly drawn: Drawn) {}

  /** Whether anything is still to be drawn. */
  get busy(): boolean {
    return this.asked !== 0 || this.resting !== 0;
  }

  request(): void {
    if (this.asked || this.stopped) return;
    this.asked = requestAnimationFrame((time) => {
      this.asked = 0;
      this.draw(time);
    });
  }

  /** Something has moved: the next pictures may be coarser. */
  touch(): void {
    this.touched = performance.now();
  }

  /** Draw in this very task. */
  now(): void {
    cancelAnimationFrame(this.asked);
    this.asked = 0;
    this.draw(performance.now());
  }

  rest(): void {
    clearTimeout(this.resting);
    this.resting = 0;
    if (this.stopped || this.asked || !this.drawn.settle()) return;
    this.touched = -Infinity;
    this.draw(performance.now());
  }

  stop(): void {
    this.stopped = true;
    cancelAnimationFrame(this.asked);
    clearTimeout(this.resting);
    this.asked = this.resting = 0;
  }

  private draw(time: number): void {
    if (this.stopped) return;
    if (this.drawn.draw(time, performance.now() - this.touched < REST)) this.request();
    clearTimeout(this.resting);
    this.resting = window.setTimeout(() => this.rest(), REST);
  }
}
