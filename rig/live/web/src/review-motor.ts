// What the motor did: the ribbon on the axis of time, and the axis itself.

import type { Figure, State } from "./live";
import { draw as drawRibbon, heightOf, type Band, type Look, type Span } from "./ribbon";
import type { Envelope, Run } from "./review-data";
import { boxOf, canvasOf, fresh, right, type Colours, type Panel } from "./review-panel";
import type { View } from "./review-view";
import { time } from "./review-words";

/** What the motor did, on the axis. */
export interface Motor {
  spans: Span[];
  events: { kind: string; at_s: number; run: number; within_s: Figure; sure: Figure; evidence: string }[];
  limits: number[];
  idle: { fromS: number; toS: number; a: number }[];
}

export function motorOf(runs: Run[], offsetS: number, limitS: Figure, endS: number): Motor {
  const m: Motor = { spans: [], events: [], limits: [], idle: [] };
  let at = -offsetS;
  const add = (state: State, fromS: number, toS: number) => {
    if (toS > fromS) m.spans.push({ state, fromS, toS });
    at = Math.max(at, toS);
  };
  for (const [i, r] of runs.entries()) {
    if (r.start_s === null || r.end_s === null) continue;
    add("off", at, r.start_s - offsetS);
    for (const s of r.states) if (s.from_s !== null && s.to_s !== null) add(s.state, s.from_s - offsetS, s.to_s - offsetS);
    for (const e of r.events) if (e.at_s !== null) m.events.push({ ...e, at_s: e.at_s - offsetS, run: i + 1 });
    if (r.motor.idle_a !== null) m.idle.push({ fromS: r.start_s - offsetS, toS: r.end_s - offsetS, a: r.motor.idle_a });
    const limit = limitS === null ? NaN : limitAt(r, limitS);
    if (Number.isFinite(limit)) m.limits.push(limit - offsetS);
  }
  add("off", at, endS - offsetS);
  return m;
}

/** When a run reaches the limit on its clock, or would have, had it gone on. */
function limitAt(r: Run, limitS: number): number {
  if (r.start_s === null || r.end_s === null) return NaN;
  if (r.run_time_s === null || r.elapsed_s === null || r.run_time_s === r.elapsed_s) return r.start_s + limitS;
  let on = 0;
  let since = NaN;
  for (const e of r.events) {
    if (e.at_s === null) continue;
    if (e.kind === "motor_start" && Number.isNaN(since)) since = e.at_s;
    if ((e.kind === "motor_stop" || e.kind === "trip") && !Number.isNaN(since)) {
      if (on + e.at_s - since >= limitS) return since + limitS - on;
      on += e.at_s - since;
      since = NaN;
    }
  }
  return r.end_s + Math.max(limitS - on, 0);
}

/** Ribbon shows what the motor did, with the events in words. */
export class Ribbon implements Panel {
  readonly box: HTMLElement;
  readonly canvas: HTMLCanvasElement;
  private peak = 0; // greatest current above no load

  constructor(
    private readonly view: View,
    private readonly motor: Motor,
    private readonly rms: () => Envelope | undefined,
    private readonly colours: Colours,
    title: string,
    private readonly look: Look,
  ) {
    const { box } = boxOf(title, "");
    if (title === "") box.firstElementChild!.remove();
    this.box = box;
    box.classList.add("motor");
    this.canvas = canvasOf(box);
    this.canvas.style.marginTop = title ? "2px" : "8px";
    this.canvas.setAttribute("role", "img");
    this.canvas.setAttribute("aria-label", `Ribbon: ${title || "what the motor did"}; the events are listed below`);
  }

  resize(): void {
    this.canvas.style.marginLeft = `${this.view.gutter}px`;
    this.canvas.style.width = `${this.view.width}px`;
    this.canvas.style.height = `${heightOf(this.look)}px`;
  }

  band(fromS: number, toS: number): Band {
    return { fromS, toS, nowS: Infinity, limitS: this.motor.limits.find((l) => l >= fromS && l <= toS) ?? NaN, spans: this.motor.spans, load: this.load(), events: this.motor.events as Band["events"] };
  }

  private load(): (atS: number) => number {
    const e = this.rms();
    if (!e) return () => NaN;
    const idleAt = (t: number) => this.motor.idle.find((i) => t >= i.fromS - 1 && t <= i.toS + 1)?.a;
    if (this.peak === 0) {
      for (const s of this.motor.spans) {
        if (s.state !== "loaded" && s.state !== "overloaded") continue;
        const k0 = Math.ceil((s.fromS - e.fromS) / e.stepS);
        for (let k = Math.max(k0, 0); k < e.mean.length && e.fromS + (k + 1) * e.stepS < s.toS; k++) {
          const v = e.mean[k];
          const idle = idleAt(s.fromS);
          if (v !== null && v !== undefined && idle !== undefined) this.peak = Math.max(this.peak, v - idle);
        }
      }
    }
    return (atS) => {
      const v = e.mean[Math.floor((atS - e.fromS) / e.stepS)];
      const idle = idleAt(atS);
      return v === null || v === undefined || idle === undefined || this.peak <= 0 ? NaN : (v - idle) / this.peak;
    };
  }

  draw(moved: boolean): void {
    if (!moved) return;
    drawRibbon(this.canvas, this.band(this.view.fromS, this.view.toS), this.look, this.colours);
  }

  /** Draws a stretch that is not the view's. */
  paint(fromS: number, toS: number): void {
    drawRibbon(this.canvas, this.band(fromS, toS), this.look, this.colours);
  }

  state(atS: number): State | undefined {
    return this.motor.spans.find((s) => atS >= s.fromS && atS < s.toS)?.state;
  }

  read(atS: number): { name: string; text: string }[] {
    const s = this.state(atS);
    return s ? [{ name: "Motor", text: s === "tripped" ? "tripped (presumed)" : s }] : [];
  }
}

/** The figures of the axis of time. */
export class Times implements Panel {
  readonly box: HTMLElement;
  private readonly canvas: HTMLCanvasElement;

  constructor(
    private readonly view: View,
    private readonly colours: Colours,
    private readonly words: string,
  ) {
    this.box = document.createElement("div");
    this.box.className = "panel";
    this.canvas = canvasOf(this.box);
    this.canvas.setAttribute("aria-hidden", "true");
  }

  draw(moved: boolean): void {
    if (!moved) return;
    const gutter = this.view.gutter;
    const w = this.view.width + gutter + right;
    const g = fresh(this.canvas, w, 26);
    g.strokeStyle = g.fillStyle = this.colours.ink;
    g.font = "13px system-ui, sans-serif";
    g.textBaseline = "top";
    g.beginPath();
    g.moveTo(gutter, 0.5);
    g.lineTo(gutter + this.view.width, 0.5);
    const t = this.view.ticks();
    for (const at of t.at) {
      const x = gutter + this.view.x(at);
      g.moveTo(x, 0);
      g.lineTo(x, 5);
      g.textAlign = "center";
      const text = time(at, t.decimals);
      const half = g.measureText(text).width / 2;
      if (x - half > gutter - 10 && x + half < w) g.fillText(text, x, 8);
    }
    g.stroke();
    g.textAlign = "left";
    g.fillText(this.words, 4, 8);
  }
}
