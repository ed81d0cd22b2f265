/** The renderer: draws panes into one canvas, only when asked, finer at rest than in motion. */

import { type Camera, Color, NeutralToneMapping, PCFShadowMap, SRGBColorSpace, WebGLRenderer } from "three";
import { NoPicture, type Statistics } from "./api";
import type { Pane } from "./pane";

const MOST_PIXELS = 2;
/** How fine pictures in motion are, from quick machines to slow ones: shares of the fineness at rest. */
const FINENESS = [1, 0.65, 0.45];
/** ms between pictures in motion: slower than this twice, the next are coarser; quicker than this all along, finer. */
const SLOW = 50;
const QUICK = 20;
const DIVIDER = new Color(0x8a857c);
const SOFTWARE = /swiftshader|llvmpipe|softpipe|software|basic render/i;

export class Pencil {
  readonly renderer: WebGLRenderer;
  readonly name: string;
  frames = 0;
  milliseconds = 0;
  private readonly ground = new Color();
  /** Kept from motion to motion: a slow machine is slow again. */
  private level: number;
  private coarse = false;
  private slow = 0;
  private steps: number[] = [];
  private last = 0;

  constructor(
    private readonly host: HTMLElement,
    readonly canvas: HTMLCanvasElement,
  ) {
    const context = canvas.getContext("webgl2", { antialias: true, stencil: false, powerPreference: "high-performance" });
    if (!context) throw new NoPicture("this browser has no WebGL 2");
    this.renderer = new WebGLRenderer({ canvas, context, antialias: true });
    this.renderer.outputColorSpace = SRGBColorSpace;
    this.renderer.toneMapping = NeutralToneMapping;
    this.renderer.toneMappingExposure = 1;
    this.renderer.shadowMap.enabled = true;
    this.renderer.shadowMap.type = PCFShadowMap;
    this.renderer.localClippingEnabled = true;
    this.renderer.info.autoReset = false;
    this.name = nameOf(context);
    this.level = this.software ? FINENESS.length - 1 : 0;
  }

  /** Whether the picture is worked out without a graphics processor, as far as the browser tells. */
  get software(): boolean {
    return SOFTWARE.test(this.name);
  }

  size(): { width: number; height: number } {
    return { width: Math.max(this.host.clientWidth, 1), height: Math.max(this.host.clientHeight, 1) };
  }

  background(color: number): void {
    this.ground.set(color);
    this.renderer.setClearColor(this.ground, 1);
  }

  /** The graphics are back. */
  restored(): void {
    this.renderer.setClearColor(this.ground, 1);
  }

  /** Draw now. moving: one of many pictures to come, which may be coarser. */
  draw(panes: readonly Pane[], camera: Camera, moving: boolean): void {
    const begun = performance.now();
    this.pace(begun, moving);
    this.fit();
    const { renderer } = this;
    const { width, height } = this.size();
    renderer.info.reset();
    renderer.setScissorTest(panes.length > 1);
    for (const { frame, scene } of panes) {
      const box = [frame.left, height - frame.top - frame.height, frame.width, frame.height] as const;
      renderer.setViewport(...box);
      renderer.setScissor(...box);
      renderer.render(scene, camera);
    }
    if (panes.length > 1) this.divide(panes[1]!, width, height);
    this.frames++;
    this.milliseconds = performance.now() - begun;
  }

  /** Draw and wait until it is done, for timing; ms. */
  timed(panes: readonly Pane[], camera: Camera): number {
    const begun = performance.now();
    this.draw(panes, camera, false);
    const context = this.renderer.getContext();
    context.readPixels(0, 0, 1, 1, context.RGBA, context.UNSIGNED_BYTE, new Uint8Array(4));
    return performance.now() - begun;
  }

  /** Motion has ended; whether the picture has to be drawn again because it is coarse. */
  settle(): boolean {
    if (this.steps.length > 2 && Math.max(...this.steps) < QUICK) this.level = Math.max(this.level - 1, 0);
    const again = this.coarse;
    this.coarse = false;
    this.slow = this.last = 0;
    this.steps = [];
    return again;
  }

  statistics(): Statistics {
    const { calls, triangles } = this.renderer.info.render;
    return { frames: this.frames, calls, triangles, milliseconds: this.milliseconds, renderer: this.name };
  }

  dispose(): void {
    this.renderer.dispose();
  }

  private pace(now: number, moving: boolean): void {
    if (!moving) return;
    if (this.last) {
      this.steps.push(now - this.last);
      this.slow = now - this.last > SLOW ? this.slow + 1 : 0;
    }
    this.last = now;
    if (this.slow === 2) {
      this.level = Math.min(this.level + 1, FINENESS.length - 1);
      this.slow = 0;
    }
    this.coarse = this.level > 0;
  }

  private fit(): void {
    const ratio = Math.min(window.devicePixelRatio || 1, MOST_PIXELS) * (this.coarse ? FINENESS[this.level]! : 1);
    const { width, height } = this.size();
    if (this.renderer.getPixelRatio() !== ratio) this.renderer.setPixelRatio(ratio);
    const { canvas } = this;
    if (canvas.width !== Math.floor(width * ratio) || canvas.height !== Math.floor(height * ratio)) {
      this.renderer.setSize(width, height, false);
    }
  }

  private divide({ frame }: Pane, width: number, height: number): void {
    if (frame.left > 0) this.renderer.setScissor(frame.left - 1, 0, 2, height);
    else this.renderer.setScissor(0, height - frame.top - 1, width, 2);
    this.renderer.setClearColor(DIVIDER, 1);
    this.renderer.clear();
    this.renderer.setClearColor(this.ground, 1);
    this.renderer.setScissorTest(false);
  }
}

function nameOf(context: WebGL2RenderingContext): string {
  const name = String(context.getParameter(context.RENDERER));
  if (!/^webkit webgl$/i.test(name)) return name;
  const told = context.getExtension("WEBGL_debug_renderer_info");
  return told ? String(context.getParameter(told.UNMASKED_RENDERER_WEBGL)) : name;
}

