// Small helpers that put figures and words on a page without disturbing what has not changed.

import type { Figure } from "./live";

export const absent = "\u2013";

export function byId<T extends HTMLElement = HTMLElement>(id: string): T {
  const el = document.getElementById(id);
  if (!el) throw new Error(`the page has no #${id}`);
  return el as T;
}

/** Sets a text only if it is another: screen readers and layout are left alone otherwise. */
export function put(el: Element, text: string): void {
  if (el.textContent !== text) el.textContent = text;
}

/** hh:mm:ss of an instant, ms, by the bench's clock, whatever zone the screen is set to; one that the browser does not
 *  know is left at the screen's own. */
export function wallClock(zone: string | undefined): (ms: number) => string {
  const how: Intl.DateTimeFormatOptions = { hour: "2-digit", minute: "2-digit", second: "2-digit", hourCycle: "h23" };
  let f = new Intl.DateTimeFormat("en-GB", how);
  try {
    if (zone) f = new Intl.DateTimeFormat("en-GB", { ...how, timeZone: zone });
  } catch {
    // as above
  }
  return (ms) => f.format(ms);
}

/** m:ss, cut off, as clocks show it. */
export function clock(s: Figure): string {
  if (s === null || !Number.isFinite(s)) return absent;
  const t = Math.floor(Math.max(0, s));
  return `${Math.floor(t / 60)}:${String(t % 60).padStart(2, "0")}`;
}

/** The state in a word, as on every other page. */
export function stateWords(state: string): string {
  switch (state) {
    case "no-load":
      return "No load";
    case "tripped":
      return "Tripped (presumed)";
    case "":
      return "Unknown";
  }
  return state[0]!.toUpperCase() + state.slice(1);
}

/** Steady shows a figure whose last digit stands still while the figure only trembles: it follows a change
 *  of three quarters of the last digit, a given number of times a second at most. */
export class Steady {
  private shown: number | null = null;
  private at = -Infinity;

  constructor(
    private readonly el: Element,
    private decimals: number,
    private everyMS: number,
  ) {}

  pace(decimals: number, everyMS: number): void {
    if (decimals !== this.decimals) this.shown = null;
    this.decimals = decimals;
    this.everyMS = everyMS;
  }

  show(v: Figure, nowMS: number): void {
    if (v === null) {
      this.shown = null;
      this.at = -Infinity;
      put(this.el, absent);
      return;
    }
    const step = 10 ** -this.decimals;
    if (this.shown !== null && (nowMS - this.at < this.everyMS || Math.abs(v - this.shown) < 0.75 * step)) return;
    this.at = nowMS;
    this.shown = Math.round(v / step) * step;
    put(this.el, this.shown.toFixed(this.decimals).replace(/^-(0(\.0*)?)$/, "$1"));
  }
}

/** Sends a button's form, and returns what came of it; what stands against it is thrown as a text. */
export async function send(fields: Record<string, string>): Promise<{ say: string; undo: string }> {
  let answer: Response;
  try {
    answer = await fetch("/do", { method: "POST", body: new URLSearchParams(fields), headers: { Accept: "application/json" } });
  } catch {
    throw new Error("the daemon does not answer: press again when the figures are fresh");
  }
  if (!answer.ok) throw new Error((await answer.text()).trim());
  return (await answer.json()) as { say: string; undo: string };
}
