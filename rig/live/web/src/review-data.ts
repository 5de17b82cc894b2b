// What the daemon tells of a recorded session: its result, and series as envelopes of the size of the view.
// Nothing is fetched twice, and while something finer is on its way the page draws what it has.

import type { Figure, State } from "./live";

export interface Event {
  kind: string;
  at_s: Figure;
  within_s: Figure;
  sure: Figure;
  evidence: string;
}

export interface Run {
  start_s: Figure;
  end_s: Figure;
  elapsed_s: Figure;
  run_time_s: Figure;
  events: Event[];
  states: { state: State; from_s: Figure; to_s: Figure }[];
  motor: { idle_a: Figure };
}

export interface Result {
  session: string;
  seconds: Figure;
  channels: string[];
  settings: { full_scale_db: Figure; time_limit_s: Figure; rated_current_a: Figure; overload_a: Figure };
  analysis: { progress: Figure };
  runs: Run[];
}

/** An envelope: column k covers the time from fromS + k stepS on. */
export interface Envelope {
  fromS: number;
  toS: number;
  stepS: number;
  unit: string;
  min: Figure[];
  max: Figure[];
  mean: Figure[];
}

export interface Octaves {
  fromS: number;
  toS: number;
  stepS: number;
  bandsHz: number[];
  db: Figure[][];
}

export async function ask<T>(url: string, signal?: AbortSignal): Promise<T> {
  for (;;) {
    const r = await fetch(url, signal ? { signal } : {});
    if (r.status === 503) {
      await later(1000 * Number(r.headers.get("Retry-After") ?? 2), signal); // it is busy
      continue;
    }
    if (!r.ok) throw new Error((await r.text()).trim() || r.statusText);
    return (await r.json()) as T;
  }
}

export function later(ms: number, signal?: AbortSignal): Promise<void> {
  return new Promise((yes, no) => {
    const t = setTimeout(yes, ms);
    signal?.addEventListener("abort", () => (clearTimeout(t), no(signal.reason)), { once: true });
  });
}

export function resultOf(name: string): Promise<Result> {
  return ask<Result>(`/sessions/${encodeURIComponent(name)}/result`);
}

/** Whether a session is analysed: until then it has no runs. */
export function analysed(r: Result): boolean {
  return r.analysis.progress === null || r.analysis.progress >= 1;
}

const kept = 48; // envelopes of a series
const most = 4000; // columns that the daemon gives at once
const tile = 64; // columns: a view moves in such steps, so that the same addresses come again

interface Wire {
  unit?: string;
  from_s: number;
  step_s: number;
  min?: Figure[];
  max?: Figure[];
  mean?: Figure[];
  bands_hz?: number[];
  db?: Figure[][];
  progress: number;
}

/** Source is a session on the page's axis of time: its second offsetS stands at 0. */
export interface Source {
  session: string;
  offsetS: number;
  leastS: number; // where it begins and ends on the axis
  mostS: number;
}

/** Store holds one series of one session, on the page's axis. */
export class Store<T extends { fromS: number; toS: number; stepS: number }> {
  private all: T[] = []; // the one used last comes last
  private under = new AbortController();
  private asked = "";
  wrong = "";

  constructor(
    readonly of: Source,
    readonly channel: string,
    private readonly make: (w: Wire) => T,
    private leastStepS: number, // finer than this there is nothing
  ) {}

  /** The finest envelope for a view that is there, and whether it is as fine as pixels. */
  best(fromS: number, toS: number, width: number): { e: T | undefined; enough: boolean } {
    const a = Math.max(fromS, this.of.leastS);
    const b = Math.min(toS, this.of.mostS);
    const want = Math.max(((toS - fromS) / width) * 1.05, this.leastStepS * 1.001);
    let found: T | undefined;
    for (const e of this.all) {
      if (e.fromS > a + e.stepS || e.toS < b - e.stepS) continue;
      // The coarsest that is fine enough, or else the finest.
      if (!found || (e.stepS <= want ? found.stepS > want || e.stepS > found.stepS : e.stepS < found.stepS)) found = e;
    }
    if (!found) {
      // A part of the view is better than nothing.
      const cover = (e: T) => Math.min(e.toS, b) - Math.max(e.fromS, a);
      for (const e of this.all) if (cover(e) > 0 && (!found || cover(e) > cover(found))) found = e;
      return { e: found, enough: b <= a };
    }
    this.all.splice(this.all.indexOf(found), 1);
    this.all.push(found);
    return { e: found, enough: found.stepS <= want };
  }

  /** Fetches what a view needs; then is called when something new is there. */
  async want(fromS: number, toS: number, width: number, then: () => void): Promise<void> {
    if (this.best(fromS, toS, width).enough) return;
    const span = toS - fromS;
    // Steps in powers of the root of two, at most a pixel, and half a view to each side.
    let step = Math.pow(2, Math.floor(2 * Math.log2(span / width)) / 2);
    step = Math.max(step, this.leastStepS);
    let first = Math.floor(Math.max(fromS - span / 2, this.of.leastS) / step / tile) * tile;
    let last = Math.ceil(Math.min(toS + span / 2, this.of.mostS + step) / step / tile) * tile;
    if (last - first > most) {
      first = Math.floor(Math.max(fromS, this.of.leastS) / step / tile) * tile;
      last = Math.min(first + most, Math.ceil(Math.min(toS, this.of.mostS + step) / step / tile) * tile);
    }
    if (last <= first) return;
    const q = new URLSearchParams({ channel: this.channel, from: (first * step).toPrecision(12), to: (last * step).toPrecision(12), points: String(last - first) });
    if (this.of.offsetS !== 0) q.set("offset", String(this.of.offsetS));
    const url = `/sessions/${encodeURIComponent(this.of.session)}/series?${q}`;
    if (url === this.asked) return;
    this.asked = url;
    this.under.abort();
    this.under = new AbortController();
    const signal = this.under.signal;
    try {
      for (;;) {
        const w = await ask<Wire>(url, signal);
        const e = this.make(w);
        if (e.stepS > step * 1.01) this.leastStepS = e.stepS; // as fine as the samples
        if (w.progress >= 1) {
          this.keep(e);
          then();
          return;
        }
        this.partly = e;
        then();
        await later(500, signal);
      }
    } catch (e) {
      if (!signal.aborted) {
        this.wrong = (e as Error).message;
        then();
      }
    } finally {
      this.partly = undefined;
      if (this.asked === url) this.asked = "";
    }
  }

  /** Takes the whole series from an address that the page has asked for already. */
  async seed(url: string, then: () => void): Promise<void> {
    const w = await ask<Wire>(url).catch(() => null);
    if (!w) return;
    const e = this.make({ ...w, from_s: w.from_s - this.of.offsetS });
    if (w.progress >= 1) this.keep(e);
    else this.partly ??= e;
    then();
  }

  /** What is there while the series is still being derived. */
  partly: T | undefined;

  private keep(e: T): void {
    this.all.push(e);
    if (this.all.length > kept) this.all.shift();
  }
}

export function envelopes(of: Source, channel: string): Store<Envelope> {
  return new Store(
    of,
    channel,
    (w) => {
      const mean = w.mean ?? [];
      return { fromS: w.from_s, toS: w.from_s + mean.length * w.step_s, stepS: w.step_s, unit: w.unit ?? "", min: w.min ?? [], max: w.max ?? [], mean };
    },
    1e-7,
  );
}

export function octaves(of: Source): Store<Octaves> {
  return new Store(
    of,
    "third-octaves",
    (w) => {
      const db = w.db ?? [];
      return { fromS: w.from_s, toS: w.from_s + db.length * w.step_s, stepS: w.step_s, bandsHz: w.bands_hz ?? [], db };
    },
    0.125, // s: the daemon's cells are not shorter
  );
}
