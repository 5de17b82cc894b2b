// The ribbon: one band of a run in which thickness and pattern tell what the motor does. It is the same
// figure as in printed reports; each pattern means the same there:
//
//   off         a thin line in the middle
//   starting    a wedge that narrows from the full height: the inrush dies away
//   no-load     a hollow bar, a third of the height: it runs, and nothing is in it
//   loaded      a solid bar, the thicker the greater the load: the current above no load, against its greatest
//   overloaded  a bar ruled one way, with an outline: above the overload ratio for the hold
//   stalled     crossed hatching over the full height: the rotor stands and the current flows
//   tripped     a gap that begins with a cross: the protector is presumed to have opened
//   unknown     a dotted outline: the sources are gone or contradict each other
//
// The limit is an edge with teeth that the band runs towards; events are ticks with words. Lightness tells
// the shades apart without colour.

import type { RigEvent, State, Trace } from "./live";
import { states } from "./live";

const noLoadShare = 0.34;
const loadedShare = 0.46; // of the least load; the greatest takes fullShare
const fullShare = 0.92;
const unknownShare = 0.66;

/** Shades, read from the style sheet so that both themes and the air page have their own. */
export interface Shades {
  ink: string;
  soft: string;
  paper: string;
  starting: string;
  loaded: string;
  overloaded: string;
  stalled: string;
}

export function shadesOf(el: Element): Shades {
  const css = getComputedStyle(el);
  const get = (name: string) => css.getPropertyValue(name).trim();
  return {
    ink: get("--ribbon-ink"),
    soft: get("--ribbon-soft"),
    paper: get("--ribbon-paper"),
    starting: get("--ribbon-starting"),
    loaded: get("--ribbon-loaded"),
    overloaded: get("--ribbon-overloaded"),
    stalled: get("--ribbon-stalled"),
  };
}

/** What events are called on the ribbon. */
export const words: Readonly<Record<string, string>> = {
  motor_start: "motor start",
  load_start: "load start",
  stall_start: "stall start",
  stall_end: "stall end",
  overload_start: "overload start",
  overload_end: "overload end",
  trip: "trip (presumed)",
  motor_stop: "motor stop",
  load_end: "chamber clear",
};

/** Span is a stretch in one state, in seconds of the session. */
export interface Span {
  state: State;
  fromS: number;
  toS: number;
}

export interface Band {
  fromS: number; // at the left edge
  toS: number; // at the right
  nowS: number; // up to here it has come
  limitS: number; // where the limit stands; NaN: nowhere
  spans: Span[];
  load: (atS: number) => number; // 0 to 1; NaN: not known
  events: RigEvent[];
}

export interface Look {
  height: number; // of the band, CSS pixels
  font: number; // of the words
  rows: number; // of words below the band
  full: boolean; // ticks carry words
}

/** The height that a ribbon takes, CSS pixels. */
export function heightOf(look: Look): number {
  return look.height + 4 + (look.full ? look.rows * (look.font + 6) + 4 : 0);
}

/** A lull within load that is shorter shows by the thickness alone, s. */
const lullS = 3;

/** So many points without any word from the daemon are held, for it was only late: 2 s. */
const heldPoints = 20;

/** Spans of a trace from a point on; at turns a point into the session's seconds. */
export function spansOf(t: Trace, fromI: number, at: (i: number) => number): Span[] {
  const out: Span[] = [];
  const say = (state: State, i: number, toI: number) => {
    const last = out.at(-1);
    if (last?.state === state) last.toS = at(toI);
    else out.push({ state, fromS: last ? last.toS : at(i), toS: at(toI) });
  };
  for (let i = Math.max(t.first, fromI); i < t.next; ) {
    const j = i % t.state.length;
    const silent = t.state[j] === 0 && Number.isNaN(t.laf[j]!) && Number.isNaN(t.rms[j]!);
    if (!silent) {
      say(states[t.state[j]!]!, i, i + 1);
      i++;
      continue;
    }
    let n = 1;
    while (i + n < t.next && n <= heldPoints && t.state[(i + n) % t.state.length] === 0) n++;
    say(n <= heldPoints && out.length > 0 ? out.at(-1)!.state : "unknown", i, i + n);
    i += n;
  }
  for (let k = 1; k + 1 < out.length; k++) {
    const [a, b, c] = [out[k - 1]!, out[k]!, out[k + 1]!];
    if (a.state !== "loaded" || b.state !== "no-load" || c.state !== "loaded" || b.toS - b.fromS >= lullS) continue;
    a.toS = c.toS;
    out.splice(k--, 2);
  }
  return out;
}

/** draw draws a band; the canvas holds nothing else. */
export function draw(canvas: HTMLCanvasElement, band: Band, look: Look, s: Shades): void {
  const ratio = Math.min(devicePixelRatio || 1, 3);
  const w = canvas.clientWidth;
  const h = heightOf(look);
  if (w === 0) return;
  if (canvas.width !== Math.round(w * ratio) || canvas.height !== Math.round(h * ratio)) {
    canvas.width = Math.round(w * ratio);
    canvas.height = Math.round(h * ratio);
  }
  const c = canvas.getContext("2d");
  if (!c) return;
  c.setTransform(ratio, 0, 0, ratio, 0, 0);
  c.clearRect(0, 0, w, h);
  const x = (atS: number) => ((atS - band.fromS) / (band.toS - band.fromS)) * w;
  const p = new Pen(c, s, 2, look.height);
  // The way still to go.
  p.line(s.soft, 1, [1, 5], x(Math.max(band.nowS, band.fromS)), x(band.toS), p.mid);
  // What is rare and grave comes last, and is never too thin to be seen.
  for (const grave of [false, true]) {
    for (const span of band.spans) {
      if ((span.state === "stalled" || span.state === "tripped" || span.state === "overloaded") !== grave) continue;
      const x0 = Math.max(0, x(span.fromS));
      const x1 = Math.min(w, x(span.toS));
      if (x1 > 0 && x0 < w && span.toS > band.fromS) p.state(span.state, x0, Math.max(x1, x0 + (grave ? 2 : 0.5)), (px) => band.load(band.fromS + (px / w) * (band.toS - band.fromS)));
    }
  }
  if (band.nowS > band.fromS) p.head(x(band.nowS));
  if (Number.isFinite(band.limitS) && x(band.limitS) <= w) p.limit(x(band.limitS));
  p.ticks(band.events, x, look, w);
}

class Pen {
  readonly mid: number;
  readonly half: number;
  constructor(
    private readonly c: CanvasRenderingContext2D,
    private readonly s: Shades,
    private readonly top: number,
    private readonly height: number,
  ) {
    this.mid = top + height / 2;
    this.half = height / 2;
  }

  line(colour: string, width: number, dash: number[], x0: number, x1: number, y: number): void {
    const c = this.c;
    c.strokeStyle = colour;
    c.lineWidth = width;
    c.setLineDash(dash);
    c.beginPath();
    c.moveTo(x0, y);
    c.lineTo(x1, y);
    c.stroke();
    c.setLineDash([]);
  }

  private bar(x0: number, x1: number, share: number, fill: string, outline: string, width: number, dash: number[] = []): void {
    const c = this.c;
    const y = this.mid - share * this.half;
    const h = 2 * share * this.half;
    if (fill) {
      c.fillStyle = fill;
      c.fillRect(x0, y, x1 - x0, h);
    }
    if (!outline) return;
    c.strokeStyle = outline;
    c.lineWidth = width;
    c.setLineDash(dash);
    c.strokeRect(x0 + width / 2, y + width / 2, Math.max(x1 - x0 - width, 0.5), h - width);
    c.setLineDash([]);
  }

  /** Rules a box with slanting lines that stand still when the box grows. */
  private rule(x0: number, x1: number, share: number, colour: string, width: number, way: 1 | -1): void {
    const c = this.c;
    const y0 = this.mid - share * this.half;
    const h = 2 * share * this.half;
    const gap = 7;
    c.save();
    c.beginPath();
    c.rect(x0, y0, x1 - x0, h);
    c.clip();
    c.strokeStyle = colour;
    c.lineWidth = width;
    c.beginPath();
    for (let x = Math.floor((x0 - h) / gap) * gap; x < x1 + h; x += gap) {
      c.moveTo(x, way > 0 ? y0 + h : y0);
      c.lineTo(x + h, way > 0 ? y0 : y0 + h);
    }
    c.stroke();
    c.restore();
  }

  state(state: State, x0: number, x1: number, load: (x: number) => number): void {
    const { c, s } = this;
    switch (state) {
      case "off":
        this.line(s.soft, 1.2, [], x0, x1, this.mid);
        break;
      case "starting":
        c.beginPath();
        c.moveTo(x0, this.mid - this.half);
        c.lineTo(x1, this.mid - noLoadShare * this.half);
        c.lineTo(x1, this.mid + noLoadShare * this.half);
        c.lineTo(x0, this.mid + this.half);
        c.closePath();
        c.fillStyle = s.starting;
        c.fill();
        c.strokeStyle = s.ink;
        c.lineWidth = 1;
        c.stroke();
        break;
      case "no-load":
        this.bar(x0, x1, noLoadShare, s.paper, s.ink, 1.4);
        break;
      case "loaded":
        this.loaded(x0, x1, load);
        break;
      case "overloaded":
        this.bar(x0, x1, fullShare, s.paper, "", 0);
        this.rule(x0, x1, fullShare, s.overloaded, 2, 1);
        this.bar(x0, x1, fullShare, "", s.overloaded, 1.6);
        break;
      case "stalled":
        this.bar(x0, x1, 1, s.paper, "", 0);
        this.rule(x0, x1, 1, s.stalled, 1.8, 1);
        this.rule(x0, x1, 1, s.stalled, 1.8, -1);
        this.bar(x0, x1, 1, "", s.stalled, 2.4);
        break;
      case "tripped":
        this.bar(x0, x1, 1, s.paper, "", 0);
        this.cross(x0 + 4);
        break;
      case "unknown":
        this.bar(x0, x1, unknownShare, "", s.soft, 1.2, [1.5, 3]);
    }
  }

  private loaded(x0: number, x1: number, load: (x: number) => number): void {
    const c = this.c;
    c.fillStyle = this.s.loaded;
    c.beginPath();
    const upper: [number, number][] = [];
    for (let x = x0; ; x = Math.min(x + 1, x1)) {
      const l = load(x);
      const share = Number.isFinite(l) ? loadedShare + (fullShare - loadedShare) * Math.min(Math.max(l, 0), 1) : (loadedShare + fullShare) / 2;
      upper.push([x, share * this.half]);
      if (x >= x1) break;
    }
    for (const [x, d] of upper) c.lineTo(x, this.mid - d);
    for (const [x, d] of upper.reverse()) c.lineTo(x, this.mid + d);
    c.fill();
  }

  private cross(x: number): void {
    const r = Math.min(8, this.half * 0.7);
    const c = this.c;
    c.strokeStyle = this.s.stalled;
    c.lineWidth = 3;
    c.beginPath();
    c.moveTo(x, this.mid - r);
    c.lineTo(x + 2 * r, this.mid + r);
    c.moveTo(x, this.mid + r);
    c.lineTo(x + 2 * r, this.mid - r);
    c.stroke();
  }

  /** The place to which it has come. */
  head(x: number): void {
    const c = this.c;
    c.fillStyle = this.s.ink;
    c.fillRect(x - 1, this.mid - this.half - 2, 2, this.height + 4);
  }

  /** The limit: an edge with teeth on the far side. */
  limit(x: number): void {
    const c = this.c;
    c.strokeStyle = this.s.ink;
    c.lineWidth = 3;
    c.beginPath();
    c.moveTo(x, this.top - 2);
    c.lineTo(x, this.top + this.height + 2);
    c.stroke();
    c.lineWidth = 1.6;
    c.beginPath();
    for (let y = this.top - 2; y < this.top + this.height; y += 7) {
      c.moveTo(x + 1, y);
      c.lineTo(x + 8, y + 7);
    }
    c.stroke();
  }

  /** Ticks with words below the band; the newest word is never left out. */
  ticks(events: RigEvent[], x: (atS: number) => number, look: Look, w: number): void {
    const { c, s } = this;
    const bottom = this.top + this.height + 2;
    c.font = `${look.font}px system-ui, sans-serif`;
    c.textBaseline = "top";
    const texts: [number, number][][] = Array.from({ length: look.rows }, () => []);
    const lines: number[][] = Array.from({ length: look.rows }, () => []);
    const shown = events.filter((e) => e.at_s !== null && x(e.at_s) >= 0 && x(e.at_s) <= w);
    for (const e of [...shown].reverse()) {
      const at = x(e.at_s!);
      c.fillStyle = s.ink;
      c.fillRect(at - 0.75, this.top - 2, 1.5, this.height + 4);
      if (!look.full) continue;
      const word = words[e.kind] ?? e.kind.replaceAll("_", " ");
      const width = c.measureText(word).width;
      const place = this.place(texts, lines, at, width, w);
      if (!place) continue;
      const [row, left] = place;
      texts[row]!.push([left, left + width]);
      for (let r = 0; r <= row; r++) lines[r]!.push(at);
      const y = bottom + 3 + row * (look.font + 6);
      c.globalAlpha = 0.55;
      c.fillRect(at - 0.75, bottom, 1.5, y - bottom + look.font);
      c.globalAlpha = 1;
      c.fillText(word, left, y);
    }
  }

  /** Where a word has room: right of its tick or left of it, in the highest row. Neither word nor tick crosses another. */
  private place(texts: [number, number][][], lines: number[][], at: number, width: number, w: number): [number, number] | null {
    for (let row = 0; row < texts.length; row++) {
      if (texts.slice(0, row).some((r) => r.some(([a, b]) => at > a - 4 && at < b + 4))) return null;
      for (const left of [at + 4, at - 4 - width]) {
        if (left < 0 || left + width > w) continue;
        const free = texts[row]!.every(([a, b]) => left > b + 8 || left + width < a - 8) && lines[row]!.every((l) => l < left - 3 || l > left + width + 3 || Math.abs(l - at) < 0.5);
        if (free) return [row, left];
      }
    }
    return null;
  }
}
