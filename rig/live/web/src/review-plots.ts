// The plots of a session, one below the other on one axis of time. Each draws what is there and asks for
// what it lacks; the page is never waited for.

import uPlot from "uplot";
import type { Figure, State } from "./live";
import { draw as drawRibbon, heightOf, shadesOf, type Band, type Look, type Shades, type Span } from "./ribbon";
import { Store, envelopes, octaves, type Envelope, type Octaves, type Run, type Source } from "./review-data";
import type { View } from "./review-view";
import { number, time, value } from "./review-words";

export const right = 12; // CSS pixels right of the plots

export interface Colours extends Shades {
  faint: string;
  ground: string;
}

export function coloursOf(el: Element): Colours {
  const css = getComputedStyle(el);
  return { ...shadesOf(el), faint: css.getPropertyValue("--faint").trim(), ground: css.getPropertyValue("--ground").trim() };
}

/** A panel of the stack. */
export interface Panel {
  readonly box: HTMLElement;
  /** Draws anew; moved says that the view has changed, and not only the cursor. */
  draw(moved: boolean): void;
  /** Asks for what the view lacks. */
  want(): void;
  /** What stands under the cursor, in words; "": nothing. */
  read(atS: number): { name: string; text: string }[];
  resize(): void;
}

function boxOf(title: string, beside: string): { box: HTMLElement; title: HTMLElement } {
  const box = document.createElement("div");
  box.className = "panel";
  const t = document.createElement("p");
  t.className = "title";
  t.textContent = title + " ";
  const s = document.createElement("span");
  s.textContent = beside;
  t.append(s);
  box.append(t);
  return { box, title: t };
}

function canvasOf(box: HTMLElement): HTMLCanvasElement {
  const c = document.createElement("canvas");
  c.className = "own";
  box.append(c);
  return c;
}

/** Makes a canvas as large as it is shown, and clears it. */
function fresh(c: HTMLCanvasElement, w: number, h: number): CanvasRenderingContext2D {
  const ratio = Math.min(devicePixelRatio || 1, 3);
  if (c.width !== Math.round(w * ratio) || c.height !== Math.round(h * ratio)) {
    c.width = Math.round(w * ratio);
    c.height = Math.round(h * ratio);
    c.style.height = `${h}px`;
  }
  const g = c.getContext("2d")!;
  g.setTransform(ratio, 0, 0, ratio, 0, 0);
  g.clearRect(0, 0, w, h);
  return g;
}

export interface LineOptions {
  channel: string;
  title: string;
  height: number;
  about?: "zero"; // a waveform: as far below zero as above
  least?: number; // the smallest range that fills the panel
  deepS?: number; // shown only where the view is shorter
  marks?: { v: number; word: string }[];
}

/** Lines shows a series as a band from its least to its greatest values and a line for their mean. */
export class Lines implements Panel {
  readonly box: HTMLElement;
  private readonly plot: uPlot;
  private readonly words: HTMLElement;
  private drawn: (Envelope | undefined)[] = [];
  private range: [number, number] = [0, 1];
  private rangeOf: Envelope | undefined;
  private unit = "";
  private readonly stores: Store<Envelope>[];

  constructor(
    private readonly view: View,
    of: Source[],
    private readonly o: LineOptions,
    private readonly colours: Colours,
    private readonly names: string[],
  ) {
    this.stores = of.map((s) => envelopes(s, o.channel));
    const { box, title } = boxOf(o.title, "");
    this.box = box;
    this.words = title;
    const c = colours;
    const series: uPlot.Series[] = [{}, { stroke: "transparent", width: 0, points: { show: false } }, { stroke: "transparent", width: 0, points: { show: false } }, { stroke: c.loaded, width: 1.4, points: { show: false } }];
    if (of.length > 1) series.push({ stroke: c.overloaded, width: 1.4, dash: [5, 3], points: { show: false } });
    const font = "13px system-ui, sans-serif";
    this.plot = new uPlot(
      {
        width: 400,
        height: o.height,
        padding: [6, right, 2, 0],
        cursor: { show: false },
        select: { show: false, left: 0, top: 0, width: 0, height: 0 },
        legend: { show: false },
        scales: { x: { time: false, range: () => [view.fromS, view.toS] }, y: { range: () => this.range } },
        series,
        bands: [{ series: [2, 1], fill: c.starting + "66" }],
        axes: [
          { size: 1, splits: () => view.ticks().at, values: (_, v) => v.map(() => ""), ticks: { show: false }, grid: { stroke: c.faint, width: 1 } },
          { size: () => view.gutter, gap: 6, font, stroke: c.ink, space: 24, grid: { stroke: c.faint, width: 1 }, ticks: { stroke: c.soft, width: 1, size: 4 }, values: (_, v) => v.map((x) => plain(x)) },
        ],
        hooks: { draw: [(u) => this.marks(u)] },
      },
      [[], [], [], []],
      box,
    );
    this.plot.root.setAttribute("aria-hidden", "true");
  }

  private shown(): boolean {
    return this.o.deepS === undefined || this.view.spanS <= this.o.deepS;
  }

  resize(): void {
    this.plot.setSize({ width: this.view.width + this.view.gutter + right, height: this.o.height });
  }

  want(): void {
    if (!this.shown()) return;
    const v = this.view;
    const then = () => v.tell(true);
    for (const s of this.stores) {
      // The whole comes after what is looked at: heights and loads are measured by it.
      void s.want(v.fromS, v.toS, v.width, then).then(() => {
        if (this.o.deepS === undefined && !s.best(v.leastS, v.mostS, 1).enough) void s.want(v.leastS, v.mostS, v.width, then);
      });
    }
  }

  private has(): (Envelope | undefined)[] {
    return this.stores.map((s) => s.best(this.view.fromS, this.view.toS, this.view.width).e ?? s.partly);
  }

  draw(moved: boolean): void {
    const on = this.shown();
    if (this.box.hidden === on) {
      this.box.hidden = !on;
      if (on) this.resize();
    }
    if (!moved || !on) return;
    const all = this.has();
    this.title(all);
    const a = all.find((e) => e !== undefined);
    if (!a) return;
    this.unit = a.unit;
    this.measure(all);
    if (all.some((e, i) => e !== this.drawn[i])) {
      this.drawn = all;
      this.plot.setData(this.data(all, a));
    } else {
      this.plot.setScale("x", { min: this.view.fromS, max: this.view.toS });
    }
  }

  private title(all: (Envelope | undefined)[]): void {
    const wrong = this.stores.map((s) => s.wrong).find((w) => w !== "");
    const working = this.stores.some((s) => s.partly !== undefined);
    const text = wrong ? `cannot be shown: ${wrong}` : working ? "is being derived" : all.every((e) => e === undefined) ? "is coming" : this.names.length > 1 ? `solid: ${this.names[0]}; dashed: ${this.names[1]}` : "";
    const s = this.words.lastElementChild!;
    if (s.textContent !== text) s.textContent = text;
  }

  /** Columns of both sessions on the columns of the first. */
  private data(all: (Envelope | undefined)[], a: Envelope): uPlot.AlignedData {
    const first = all[0];
    const n = a.mean.length;
    const x = new Array<number>(n);
    for (let k = 0; k < n; k++) x[k] = a.fromS + (k + 0.5) * a.stepS;
    const none = () => new Array<null>(n).fill(null);
    const out: (number | null)[][] = [x, first ? first.max : none(), first ? first.min : none(), first ? first.mean : none()];
    if (this.stores.length > 1) {
      const b = all[1];
      out.push(b ? x.map((t) => b.mean[Math.floor((t - b.fromS) / b.stepS)] ?? null) : none());
    }
    return out as uPlot.AlignedData;
  }

  /** Heights hold still, unless they are to follow what is shown. */
  private measure(all: (Envelope | undefined)[]): void {
    const fit = this.view.fit;
    if (!fit && this.rangeOf && all.every((e) => !e || e.toS - e.fromS <= this.rangeOf!.toS - this.rangeOf!.fromS)) return;
    let lo = Infinity;
    let hi = -Infinity;
    for (const e of all) {
      if (!e) continue;
      const from = fit ? Math.max(0, Math.floor((this.view.fromS - e.fromS) / e.stepS)) : 0;
      const to = fit ? Math.min(e.min.length, Math.ceil((this.view.toS - e.fromS) / e.stepS)) : e.min.length;
      for (let k = from; k < to; k++) {
        const a = e.min[k];
        const b = e.max[k];
        if (a !== null && a !== undefined && a < lo) lo = a;
        if (b !== null && b !== undefined && b > hi) hi = b;
      }
      if (!fit && (!this.rangeOf || e.toS - e.fromS > this.rangeOf.toS - this.rangeOf.fromS)) this.rangeOf = e;
    }
    if (fit) this.rangeOf = undefined;
    if (!(hi >= lo)) return;
    if (this.o.about === "zero") {
      hi = Math.max(Math.abs(lo), Math.abs(hi), (this.o.least ?? 0) / 2);
      lo = -hi;
    } else if (!fit && this.unit !== "dB") {
      lo = Math.min(lo, 0);
    }
    const least = (this.o.least ?? 0) * (fit ? 0.1 : 1);
    if (hi - lo < least) hi = lo + least;
    const pad = 0.06 * (hi - lo) || 1;
    this.range = [lo < 0 || this.unit === "dB" || fit ? lo - pad : 0, hi + pad];
  }

  private marks(u: uPlot): void {
    const c = u.ctx;
    for (const m of this.o.marks ?? []) {
      const y = u.valToPos(m.v, "y", true);
      if (y < u.bbox.top || y > u.bbox.top + u.bbox.height) continue;
      const ratio = uPlot.pxRatio;
      c.save();
      c.strokeStyle = this.colours.soft;
      c.fillStyle = this.colours.soft;
      c.setLineDash([6 * ratio, 4 * ratio]);
      c.beginPath();
      c.moveTo(u.bbox.left, y);
      c.lineTo(u.bbox.left + u.bbox.width, y);
      c.stroke();
      c.font = `${12 * ratio}px system-ui, sans-serif`;
      c.textAlign = "right";
      c.textBaseline = "bottom";
      c.fillText(m.word, u.bbox.left + u.bbox.width - 4 * ratio, y - 2 * ratio);
      c.restore();
    }
  }

  read(atS: number): { name: string; text: string }[] {
    if (!this.shown()) return [];
    const out: { name: string; text: string }[] = [];
    for (const [i, e] of this.has().entries()) {
      const v = e?.mean[Math.floor((atS - e.fromS) / e.stepS)];
      if (e && v !== null && v !== undefined) {
        const spread = (e.max[Math.floor((atS - e.fromS) / e.stepS)] ?? v) - (e.min[Math.floor((atS - e.fromS) / e.stepS)] ?? v);
        const wide = this.o.about === "zero" && spread > 0.02 * (this.range[1] - this.range[0]);
        const name = this.o.title.replace(/,.*/, "") + (i > 0 ? " of the other" : "");
        out.push({ name, text: wide ? `${number(e.min[Math.floor((atS - e.fromS) / e.stepS)]!, e.unit)} to ${value(e.max[Math.floor((atS - e.fromS) / e.stepS)]!, e.unit)}` : value(v, e.unit) });
      }
    }
    return out;
  }

  /** The envelope of the widest view so far, of a session by its number. */
  widest(i: number): Envelope | undefined {
    return this.stores[i]?.best(this.view.leastS, this.view.mostS, 1).e;
  }
}

function plain(v: number): string {
  return Number(v.toPrecision(6)).toString();
}

/** Spectrum shows levels of third-octave bands as shades. */
export class Spectrum implements Panel {
  readonly box: HTMLElement;
  private readonly canvas: HTMLCanvasElement;
  private readonly words: HTMLElement;
  private readonly store: Store<Octaves>;
  private readonly image = document.createElement("canvas");
  private imageOf: Octaves | undefined;
  private low = 20;
  private high = 90;
  private settled = false;
  private readonly pale: boolean; // the paper
  private readonly shades: Uint8ClampedArray;
  hoverY = NaN;

  constructor(
    private readonly view: View,
    of: Source,
    private readonly colours: Colours,
    readonly height: number,
    private readonly name: string,
    private readonly like?: Spectrum, // whose shades mean the same
  ) {
    this.store = octaves(of);
    const { box, title } = boxOf("Third-octave bands, dB", "");
    this.box = box;
    this.words = title;
    this.canvas = canvasOf(box);
    this.canvas.setAttribute("aria-hidden", "true");
    this.pale = parseInt(colours.paper.slice(1, 3), 16) > 127;
    this.shades = ramp([colours.paper, colours.starting, colours.loaded, colours.ink]);
    // Hover tells which band the cursor reads.
    box.addEventListener("pointermove", (e) => {
      this.hoverY = e.clientY - this.canvas.getBoundingClientRect().top;
      this.view.tell(false);
    });
    box.addEventListener("pointerleave", () => (this.hoverY = NaN));
  }

  resize(): void {}

  want(): void {
    void this.store.want(this.view.fromS, this.view.toS, this.view.width, () => this.view.tell(true));
  }

  private now(): Octaves | undefined {
    return this.store.best(this.view.fromS, this.view.toS, this.view.width).e ?? this.store.partly;
  }

  draw(moved: boolean): void {
    if (!moved) return;
    const o = this.now();
    const text = this.store.wrong ? `cannot be shown: ${this.store.wrong}` : this.store.partly ? "is being derived" : !o ? "is coming" : `${this.name ? this.name + ", " : ""}${this.pale ? "light" : "dark"} ${this.low} dB, ${this.pale ? "dark" : "light"} ${this.high} dB`;
    const s = this.words.lastElementChild!;
    if (s.textContent !== text) s.textContent = text;
    const gutter = this.view.gutter;
    const g = fresh(this.canvas, this.view.width + gutter + right, this.height);
    if (!o || o.db.length === 0) return;
    if (o !== this.imageOf) this.paint(o);
    const top = 4;
    const h = this.height - 8;
    const x0 = gutter + this.view.x(o.fromS);
    const x1 = gutter + this.view.x(o.toS);
    g.save();
    g.beginPath();
    g.rect(gutter, top, this.view.width, h);
    g.clip();
    g.imageSmoothingEnabled = false;
    // Only what is seen: a browser balks at pictures a million pixels wide.
    const c0 = Math.max(0, Math.floor(((gutter - x0) / (x1 - x0)) * o.db.length) - 1);
    const c1 = Math.min(o.db.length, Math.ceil(((gutter + this.view.width - x0) / (x1 - x0)) * o.db.length) + 1);
    if (c1 > c0) g.drawImage(this.image, c0, 0, c1 - c0, this.image.height, x0 + ((x1 - x0) * c0) / o.db.length, top, ((x1 - x0) * (c1 - c0)) / o.db.length, h);
    g.restore();
    g.strokeStyle = this.colours.soft;
    g.lineWidth = 1;
    g.strokeRect(gutter - 0.5, top - 0.5, this.view.width + 1, h + 1);
    g.fillStyle = this.colours.ink;
    g.font = "13px system-ui, sans-serif";
    g.textAlign = "right";
    g.textBaseline = "middle";
    for (const [b, hz] of o.bandsHz.entries()) {
      if (![31.5, 125, 500, 2000, 8000].includes(hz)) continue;
      g.fillText(hertz(hz), gutter - 8, top + h - ((b + 0.5) / o.bandsHz.length) * h);
    }
  }

  private paint(o: Octaves): void {
    this.imageOf = o;
    const n = o.db.length;
    const bands = o.bandsHz.length;
    if (this.like?.settled) {
      this.low = this.like.low;
      this.high = this.like.high;
    } else if (!this.settled || o.toS - o.fromS >= 0.9 * (this.view.mostS - this.view.leastS)) {
      const all = o.db.flat().filter((v): v is number => v !== null);
      all.sort((a, b) => a - b);
      if (all.length > 0) {
        this.low = Math.floor(all[Math.floor(all.length * 0.05)]! / 5) * 5;
        this.high = Math.ceil(all[Math.floor(all.length * 0.998)]! / 5) * 5;
        if (this.high - this.low < 20) this.high = this.low + 20;
        this.settled = true;
      }
    }
    this.image.width = n;
    this.image.height = bands;
    const g = this.image.getContext("2d")!;
    const d = g.createImageData(n, bands);
    for (let k = 0; k < n; k++) {
      const column = o.db[k]!;
      for (let b = 0; b < bands; b++) {
        const v = column[b];
        const i = 4 * ((bands - 1 - b) * n + k);
        if (v === null || v === undefined) continue; // a gap lets the paper through
        const s = 3 * Math.round(255 * Math.min(Math.max((v - this.low) / (this.high - this.low), 0), 1));
        d.data[i] = this.shades[s]!;
        d.data[i + 1] = this.shades[s + 1]!;
        d.data[i + 2] = this.shades[s + 2]!;
        d.data[i + 3] = 255;
      }
    }
    g.putImageData(d, 0, 0);
  }

  read(atS: number): { name: string; text: string }[] {
    const o = this.now();
    if (!o || !Number.isFinite(this.hoverY)) return [];
    const b = Math.floor((1 - (this.hoverY - 4) / (this.height - 8)) * o.bandsHz.length);
    const v = o.db[Math.floor((atS - o.fromS) / o.stepS)]?.[b];
    const hz = o.bandsHz[b];
    return v === null || v === undefined || hz === undefined ? [] : [{ name: `Band of ${hertz(hz)}Hz`, text: `${v.toFixed(1)} dB` }];
  }
}

function hertz(hz: number): string {
  return hz >= 1000 ? `${hz / 1000} k` : `${hz} `;
}

/** 256 shades between some colours. */
function ramp(colours: string[]): Uint8ClampedArray {
  const c = document.createElement("canvas");
  c.width = 256;
  c.height = 1;
  const g = c.getContext("2d")!;
  const way = g.createLinearGradient(0, 0, 256, 0);
  for (const [i, s] of colours.entries()) way.addColorStop(i / (colours.length - 1), s);
  g.fillStyle = way;
  g.fillRect(0, 0, 256, 1);
  const d = g.getImageData(0, 0, 256, 1).data;
  const out = new Uint8ClampedArray(3 * 256);
  for (let i = 0; i < 256; i++) out.set(d.subarray(4 * i, 4 * i + 3), 3 * i);
  return out;
}

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

  want(): void {}

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

  resize(): void {}
  want(): void {}
  read(): { name: string; text: string }[] {
    return [];
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
