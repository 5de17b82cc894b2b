// Level, current and mass under the ribbon, on its axis of time.

import uPlot from "uplot";
import type { Trace } from "./live";
import type { Band } from "./ribbon";

/** Where the ribbon and the traces begin, CSS pixels: room for the figures of the axes. */
export const gutter = 56;

interface Row {
  plot: uPlot;
  of: Float32Array;
}

/** Traces draws three plots, one below the other. */
export class Traces {
  private rows: Row[] = [];
  private window: [number, number] = [0, 1];

  constructor(
    private readonly place: HTMLElement,
    trace: Trace,
    private readonly fromS: () => number,
  ) {
    // What it is, and how much of it the axis shows at least.
    const all: [string, Float32Array, number][] = [
      ["Level, dB(A)", trace.laf, 10],
      ["Current, A", trace.rms, 1],
      ["Scale, g", trace.mass, 10],
    ];
    for (const [title, of, least] of all) {
      const box = document.createElement("figure");
      const words = document.createElement("figcaption");
      words.textContent = title;
      box.append(words);
      place.append(box);
      const last = of === trace.mass;
      this.rows.push({ of, plot: this.make(box, least, last) });
    }
    new ResizeObserver(() => this.fit()).observe(place);
    this.fit();
  }

  private make(box: HTMLElement, least: number, axis: boolean): uPlot {
    const css = (name: string) => getComputedStyle(box).getPropertyValue(name).trim();
    const font = "13px system-ui, sans-serif";
    return new uPlot(
      {
        width: 300,
        height: axis ? 106 : 82,
        padding: [20, 0, axis ? 0 : 4, 0],
        cursor: { show: false },
        legend: { show: false },
        select: { show: false, left: 0, top: 0, width: 0, height: 0 },
        scales: { x: { time: false, range: () => this.window }, y: { range: (_, lo, hi) => wide(lo, hi, least) } },
        axes: [
          {
            show: axis,
            size: 24,
            gap: 2,
            font,
            stroke: () => css("--soft"),
            grid: { show: false },
            ticks: { stroke: () => css("--line"), size: 4 },
            values: (_, at) => at.map((v) => mmss(v - this.fromS())),
            incrs: [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 1800],
            splits: (_, __, lo, hi, incr) => {
              const out: number[] = [];
              const zero = this.fromS();
              for (let v = zero + Math.ceil((lo - zero) / incr) * incr; v <= hi; v += incr) out.push(v);
              return out;
            },
          },
          {
            size: gutter,
            gap: 6,
            font,
            stroke: () => css("--soft"),
            space: 24,
            grid: { stroke: () => css("--faint"), width: 1 },
            ticks: { show: false },
            values: (_, at) => at.map((v) => v.toFixed(at.length > 1 && at[1]! - at[0]! < 1 ? 1 : 0)),
          },
        ],
        series: [{}, { stroke: () => css("--ink"), width: 1.5, points: { show: false }, spanGaps: false }],
      },
      [[], []],
      box,
    );
  }

  private fit(): void {
    const width = Math.floor(this.place.clientWidth);
    if (width > 0) for (const r of this.rows) if (r.plot.width !== width) r.plot.setSize({ width, height: r.plot.height });
  }

  /** Colours are read anew: the theme has changed. */
  repaint(): void {
    for (const r of this.rows) r.plot.redraw(false, true);
  }

  draw(t: Trace, band: Band, at: (i: number) => number): void {
    this.window = [band.fromS, band.toS];
    let first = t.first;
    while (first < t.next && at(first) < band.fromS) first += Math.max(1, Math.floor((t.next - first) / 256));
    first = Math.max(t.first, first - 256);
    // Not more points than pixels: of each stretch the least and the greatest.
    const n = t.next - first;
    const bucket = Math.max(1, Math.floor(n / 600));
    for (const r of this.rows) {
      const x: number[] = [];
      const y: (number | null)[] = [];
      for (let i = first; i < t.next; i += bucket) {
        let lo = Infinity;
        let hi = -Infinity;
        for (let k = i; k < Math.min(i + bucket, t.next); k++) {
          const v = r.of[k % r.of.length]!;
          if (v < lo) lo = v;
          if (v > hi) hi = v;
        }
        const a = at(i);
        if (a < band.fromS) continue;
        x.push(a);
        y.push(Number.isFinite(lo) ? lo : null);
        if (hi > lo) {
          x.push(a + 1e-3);
          y.push(hi);
        }
      }
      r.plot.setData([x, y]);
    }
  }
}

/** A range that does not jump with every point: whole steps, and never of no height. */
function wide(lo: number, hi: number, least: number): [number, number] {
  if (!Number.isFinite(lo) || !Number.isFinite(hi)) return [0, least];
  const span = Math.max(hi - lo, least);
  const step = 10 ** Math.floor(Math.log10(span));
  return [Math.floor(lo / step) * step, Math.max(Math.ceil(hi / step) * step, Math.floor(lo / step) * step + step)];
}

function mmss(s: number): string {
  const t = Math.round(Math.abs(s));
  return `${s < -0.5 ? "-" : ""}${Math.floor(t / 60)}:${String(t % 60).padStart(2, "0")}`;
}
