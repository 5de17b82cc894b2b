// The run at hand as the ribbon shows it: from a little before its first start to its limit, and on.

import type { Live, Snapshot } from "./live";
import { states } from "./live";
import type { Band, Span } from "./ribbon";
import { spansOf } from "./ribbon";

const leadS = 0.03; // of the whole, before the first start
const roomS = 0.04; // and behind the limit

/** The run clock, s: motor-on leaves pauses out, elapsed does not. null: no run has begun. */
export function clockNow(s: Snapshot, kind: string): number | null {
  if (s.at_s === null || s.run === 0) return null;
  if (kind !== "elapsed") return s.motor_on_s;
  const of = s.events.filter((e) => e.run === s.run && (e.kind === "motor_start" || e.kind === "motor_stop" || e.kind === "trip"));
  const first = of[0]?.at_s ?? null;
  const last = of.at(-1);
  if (first === null || !last || last.at_s === null) return null;
  return (last.kind === "motor_start" ? s.at_s : last.at_s) - first;
}

/** Follows the no-load current and the greatest load of the run, so that load has a measure. */
export class RunBand {
  private key = "";
  private upTo = 0;
  private idleSum = 0;
  private idleN = 0;
  private most = 0;

  constructor(private readonly live: Live) {}

  /** The band now; null: nothing has come yet. clockS is the run clock, aheadS how far now is ahead of it. */
  band(limitS: number, clockS: number | null, aheadS: number): Band | null {
    const s = this.live.now;
    if (!s) return null;
    const t = this.live.trace;
    const rate = this.live.rate();
    const open = s.at_s !== null;
    // Without a session there is no run: the last half minute stands before the way still to go.
    const at = open ? (i: number) => this.live.sessionS(i * t.stepS) : (i: number) => (i * t.stepS - this.live.tS) * rate;
    const nowS = (open ? s.at_s! : 0) + aheadS;
    const events = s.events.filter((e) => e.run === s.run);
    const first = events.find((e) => e.kind === "motor_start")?.at_s ?? null;
    const startS = first ?? nowS;
    const used = clockS ?? 0;
    // The clock stands in pauses: then the limit moves on with time.
    const limitAt = first === null ? startS + limitS : nowS + (limitS - used);
    const wide = Math.max(limitAt - startS, nowS - startS);
    const fromS = startS - leadS * wide - (first === null ? 0.12 * wide : 0);
    const toS = startS + wide * (1 + roomS);
    const firstI = Math.max(t.first, Math.floor((this.live.tS - (nowS - fromS) / rate) / t.stepS) - 1);
    const spans = spansOf(t, firstI, at);
    this.extend(spans, nowS, s.state);
    this.learn(`${s.session}|${s.run}`, first === null ? t.next : Math.max(t.first, Math.round((this.live.tS - (nowS - startS) / rate) / t.stepS)));
    const idle = this.idleN > 0 ? this.idleSum / this.idleN : NaN;
    const load = (atS: number) => {
      const i = Math.round((this.live.tS - (nowS - atS) / rate) / t.stepS);
      if (i < t.first || this.most <= 0) return NaN;
      return (t.rms[Math.min(i, t.next - 1) % t.rms.length]! - idle) / this.most;
    };
    return { fromS, toS, nowS, limitS: limitAt, spans, load, events };
  }

  /** The trace comes in batches; up to now the state is the snapshot's. */
  private extend(spans: Span[], nowS: number, state: Span["state"]): void {
    const last = spans.at(-1);
    if (!last) return;
    if (last.state === state) last.toS = Math.max(last.toS, nowS);
    else if (nowS > last.toS) spans.push({ state, fromS: last.toS, toS: nowS });
  }

  private learn(key: string, fromI: number): void {
    const t = this.live.trace;
    if (key !== this.key) {
      this.key = key;
      this.upTo = fromI;
      this.idleSum = this.idleN = this.most = 0;
    }
    for (let i = Math.max(this.upTo, t.first); i < t.next; i++) {
      const j = i % t.rms.length;
      const a = t.rms[j]!;
      const state = states[t.state[j]!];
      if (!Number.isFinite(a)) continue;
      if (state === "no-load") {
        this.idleSum += a;
        this.idleN++;
      } else if (state === "loaded" && this.idleN > 0) this.most = Math.max(this.most, a - this.idleSum / this.idleN);
    }
    this.upTo = Math.max(this.upTo, t.next);
  }
}
