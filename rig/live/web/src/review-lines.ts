// Series as lines: level, current, mass, waveforms.

import uPlot from "uplot";
import { Store, envelopes, type Envelope, type Source } from "./review-data";
import { boxOf, right, type Colours, type Panel } from "./review-panel";
import type { View } from "./review-view";
import { number, value } from "./review-words";

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

  /** Begins with what the page has asked for before its script ran. */
  seed(url: string): void {
    void this.stores[0]!.seed(url, () => this.view.tell(true));
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
