// What the daemon sends: its snapshot about ten times a second, and the trace of the last half hour. Keeps
// the trace in arrays of fixed size, so that a page that is left open stays small.

export type State = "off" | "starting" | "no-load" | "loaded" | "overloaded" | "stalled" | "tripped" | "unknown";
export const states: readonly State[] = ["unknown", "off", "starting", "no-load", "loaded", "overloaded", "stalled", "tripped"];

/** A measured number, or null where there is none. Units stand at the end of each name. */
export type Figure = number | null;

export interface RigEvent {
  run: number;
  kind: string;
  at_s: Figure;
  within_s: Figure;
  sure: Figure;
  evidence: string;
}

export interface Source {
  channel: string;
  device: string;
  state: string;
  reason?: string;
  note?: string;
  age_s: Figure;
}

export interface Weighing {
  fact: number;
  role: string;
  item?: string;
  vessel?: string;
  net_g: Figure;
  auto?: boolean;
  withdrawn?: boolean;
  corrected_g?: Figure;
}

export interface Expect {
  role: string;
  item?: string;
  vessel?: string;
  tare_g: Figure;
  target_g: Figure;
  tolerance_g: Figure;
  net_g: Figure;
  why?: string;
}

export interface Scale {
  mass_g: Figure;
  at_rest: boolean;
  ready: boolean;
  why?: string;
  rest_s: number;
  need_s: number;
  expect?: Expect;
  drain?: { drained_s: Figure; target_s: number };
  capture?: { why?: string; fact?: number };
  weighings?: Weighing[];
}

export interface Snapshot {
  ready: boolean;
  say: string;
  unit: string;
  procedure: string;
  session: string;
  at_s: Figure;
  state: State;
  since_s: Figure;
  run: number;
  motor_on_s: Figure;
  time_limit_s: number;
  laf_db: Figure;
  rms_a: Figure;
  mass_g: Figure;
  scale?: Scale;
  events: RigEvent[];
  sources: Source[];
}

interface Now {
  boot: string;
  at_ms: number;
  t_s: number;
  s: Snapshot | null;
}

interface Points {
  boot: string;
  from_s: number;
  step_s: number;
  laf_db: Figure[];
  rms_a: Figure[];
  mass_g: Figure[];
  state: State[];
}

/** Trace is the last half hour: ten points a second on the daemon's time. */
export class Trace {
  static readonly length = 18000;
  readonly stepS = 0.1;
  readonly laf = new Float32Array(Trace.length).fill(NaN);
  readonly rms = new Float32Array(Trace.length).fill(NaN);
  readonly mass = new Float32Array(Trace.length).fill(NaN);
  readonly state = new Uint8Array(Trace.length);
  first = 0; // index of the oldest point, counted in steps since the daemon began
  next = 0; // and of the one to come

  clear(): void {
    this.first = this.next = 0;
  }

  add(p: Points): void {
    const from = Math.round(p.from_s / this.stepS);
    if (this.next === 0 || from > this.next + Trace.length) this.first = this.next = from;
    for (; this.next < from; this.next++) this.put(this.next, NaN, NaN, NaN, 0); // not sent: a gap, and shown as one
    for (let k = 0; k < p.state.length; k++) {
      const i = from + k;
      if (i < this.first) continue;
      this.put(i, p.laf_db[k] ?? NaN, p.rms_a[k] ?? NaN, p.mass_g[k] ?? NaN, Math.max(0, states.indexOf(p.state[k]!)));
      this.next = Math.max(this.next, i + 1);
    }
    this.first = Math.max(this.first, this.next - Trace.length);
  }

  private put(i: number, laf: number, rms: number, mass: number, state: number): void {
    const j = i % Trace.length;
    this.laf[j] = laf;
    this.rms[j] = rms;
    this.mass[j] = mass;
    this.state[j] = state;
  }
}

/** Live holds the connection. It says what is new, and how old that is. */
export class Live {
  readonly trace = new Trace();
  now: Snapshot | null = null;
  atMS = 0; // the daemon's wall time of now, Unix ms
  tS = 0; // the daemon's time of now, s
  aheadMS = 0; // by how much the daemon's wall clock is ahead of the page's
  onNow: () => void = () => {};
  onTrace: () => void = () => {};

  private heard = 0; // when the last message came, ms of performance.now()
  private boot = "";
  private last = "";
  private source: EventSource | null = null;
  private pairs: { tS: number; atS: number; session: string }[] = [];

  constructor(private readonly historyS: number) {
    this.open();
    // A browser gives up for good after some failures, and a connection may hang without one.
    setInterval(() => {
      if (this.source?.readyState === EventSource.CLOSED || this.ageMS() > 15000) this.open();
    }, 3000);
    document.addEventListener("visibilitychange", () => {
      if (!document.hidden && this.ageMS() > 3000) this.open();
    });
  }

  /** How old the page's figures are, ms; Infinity: there are none yet. */
  ageMS(): number {
    return this.heard === 0 ? Infinity : performance.now() - this.heard;
  }

  /** The session's seconds at an instant of the daemon's time. On the simulated bench time may run faster. */
  sessionS(tS: number): number {
    const newest = this.pairs.at(-1);
    if (!newest) return NaN;
    return newest.atS - (newest.tS - tS) * this.rate();
  }

  /** Seconds of the session in one second of the daemon. */
  rate(): number {
    const a = this.pairs[0];
    const b = this.pairs.at(-1);
    if (!a || !b || b.tS - a.tS < 0.4) return this.lastRate;
    const r = (b.atS - a.atS) / (b.tS - a.tS);
    this.lastRate = Math.abs(r - 1) < 0.1 || !(r > 0.1) ? 1 : r;
    return this.lastRate;
  }
  private lastRate = 1;

  private open(): void {
    this.source?.close();
    if (this.heard > 0) this.heard = Math.min(this.heard, performance.now() - 3000);
    const after = this.last ? "&after=" + encodeURIComponent(this.last) : "";
    const s = new EventSource(`/stream?history=${this.historyS}${after}`);
    this.source = s;
    s.addEventListener("now", (e) => this.take(e));
    s.addEventListener("trace", (e) => {
      const p = JSON.parse(e.data) as Points;
      this.meet(p.boot, e.lastEventId);
      this.trace.add(p);
      this.onTrace();
    });
  }

  private meet(boot: string, id: string): void {
    this.heard = performance.now();
    this.last = id;
    if (boot === this.boot) return;
    this.boot = boot; // the daemon began anew, and with it its time
    this.trace.clear();
    this.pairs = [];
  }

  private take(e: MessageEvent<string>): void {
    const n = JSON.parse(e.data) as Now;
    this.meet(n.boot, e.lastEventId);
    if (!n.s) return;
    this.now = n.s;
    this.atMS = n.at_ms;
    this.tS = n.t_s;
    const ahead = n.at_ms - Date.now();
    // What arrives late seems to be behind: the quickest message tells the truth.
    this.aheadMS = this.aheadMS === 0 || ahead > this.aheadMS || Math.abs(ahead - this.aheadMS) > 2000 ? ahead : this.aheadMS;
    if (this.pairs.length > 0 && this.pairs[0]!.session !== n.s.session) this.pairs = [];
    if (n.s.at_s !== null) {
      this.pairs.push({ tS: n.t_s, atS: n.s.at_s, session: n.s.session });
      if (this.pairs.length > 60) this.pairs.splice(1, 1); // the first one gives the rate, the last the place
    }
    this.onNow();
  }
}
