// The guide as the daemon works it out (rig/live/guide), and its place on the page.

import type { Figure, Scale } from "./live";
import { byId, clock, put } from "./show";

export interface Step {
  id: string;
  title: string;
  state: "done" | "now" | "later" | "skipped";
  role?: string;
  item?: string;
  target_g?: Figure;
  tolerance_g?: Figure;
  measured_g?: Figure;
  remark?: string;
}

export interface Offer {
  act: string;
  label: string;
  role?: string;
}

export interface Guide {
  steps: Step[];
  say: string;
  how?: string;
  then?: string;
  offer: Offer;
  count?: { what: string; at_s: number; of_s: number };
  dangers?: { id: string; text: string }[];
  problem?: string;
  note?: string;
}

export interface Bench {
  guide: Guide;
  undo: string;
  inspecting: boolean;
  may_act: boolean;
  clock: string;
  clock_s: Figure;
  limit_s: number;
  steps_html: string;
  offers_html?: string;
}

/** A danger stays for a while after it has passed, so that its words can be read. */
const dangerMS = 4000;

export class GuideView {
  private drawn: Record<string, string> = {};
  private until = new Map<string, { text: string; ms: number }>();
  private countFrom = 0; // when the count was told, ms

  show(b: Bench, unit: string, procedure: string): void {
    const g = b.guide;
    this.countFrom = performance.now();
    put(byId("say"), g.say);
    put(byId("how"), g.how ?? "");
    put(byId("blind"), unit);
    put(byId("procedure"), procedure);
    put(byId("place"), `step ${1 + g.steps.findIndex((s) => s.state === "now")} of ${g.steps.length}${g.then ? ", then: " + g.then : ""}`);
    this.once("steps", b.steps_html, () => this.steps(b.steps_html));
    if (!b.may_act) return;
    this.once("chosen", [unit, procedure], () => { // on another screen, or by a command
      for (const s of document.querySelectorAll<HTMLSelectElement>(".choose select")) s.value = s.name === "unit" ? unit : procedure;
    });
    this.once("offers", b.offers_html, () => this.offers(g, b.offers_html ?? ""));
    byId<HTMLButtonElement>("offered").disabled = g.offer.act === "";
    put(byId("offered-words"), g.offer.label || "Nothing to press");
  }

  /** Makes a part anew only if it is to be another, so that focus and choices stay. */
  private once(part: string, of: unknown, make: () => void): void {
    const key = JSON.stringify(of);
    if (this.drawn[part] === key) return;
    this.drawn[part] = key;
    make();
  }

  dangers(g: Guide): void {
    const now = performance.now();
    for (const d of g.dangers ?? []) this.until.set(d.id, { text: d.text, ms: now + dangerMS });
    for (const [id, d] of this.until) if (d.ms < now) this.until.delete(id);
    this.once("dangers", [...this.until].map(([id, d]) => [id, d.text]), () => {
      byId("dangers").replaceChildren(
        ...[...this.until.values()].map((d) => {
          const p = el("p", "danger");
          p.append(el("strong", "", "Danger"), " " + d.text);
          return p;
        }),
      );
    });
  }

  private steps(html: string): void {
    const list = byId("steps");
    list.innerHTML = html; // as the daemon made it, and as it stood there when the page came
    const now = list.querySelector<HTMLElement>(".now");
    if (now) list.scrollTop = now.offsetTop - list.clientHeight / 3;
  }

  /** What the main act needs, and the other acts, stand with the step; its button is the bar's. */
  private offers(g: Guide, html: string): void {
    byId("offers").innerHTML = html;
    // In what it is weighed is remembered for the day.
    const vessel = document.querySelector<HTMLSelectElement>("#offers select");
    if (!vessel) return;
    const key = "vessel-" + (g.offer.role ?? "");
    const kept = remembered(key);
    if (kept && [...vessel.options].some((o) => o.value === kept)) vessel.value = kept;
    const others = () => document.querySelectorAll<HTMLInputElement>("#offers input[name=vessel]").forEach((i) => (i.value = vessel.value));
    others();
    vessel.addEventListener("change", () => {
      remember(key, vessel.value);
      others();
    });
  }

  /** What is measured for the step: the count, or the mass against its tolerance. */
  measure(b: Bench, scale: Scale | undefined, rate: number): void {
    const g = b.guide;
    const now = g.steps.find((s) => s.state === "now");
    const place = byId("measure");
    if (g.count) {
      const at = Math.min(g.count.of_s, g.count.at_s + ((performance.now() - this.countFrom) / 1000) * rate);
      this.frame(place, "count", () => {
        const bar = document.createElement("progress");
        bar.max = 100;
        place.append(el("p", "count"), bar);
      });
      const p = place.firstElementChild!;
      put(p, `${g.count.what}: ${clock(at)} of ${clock(g.count.of_s)}`);
      const bar = place.lastElementChild as HTMLProgressElement;
      bar.value = (100 * at) / g.count.of_s;
      bar.setAttribute("aria-label", g.count.what);
      return;
    }
    if (now?.role && scale) {
      this.frame(place, "mass", () => {
        const c = el("div", "tolerance");
        c.append(el("div", "window"), el("div", "needle"));
        place.append(el("p", "count"), c);
      });
      balance(place, now, scale);
      return;
    }
    this.frame(place, "", () => {});
  }

  private frame(place: HTMLElement, kind: string, make: () => void): void {
    if (place.dataset["kind"] === kind) return;
    place.dataset["kind"] = kind;
    place.replaceChildren();
    make();
  }
}

/** What lies on the pan against what should. */
function balance(place: HTMLElement, now: Step, scale: Scale): void {
  const x = scale.expect && scale.expect.role === now.role && (scale.expect.item ?? "") === (now.item ?? "") ? scale.expect : undefined;
  const net = x ? x.net_g : scale.mass_g;
  const words: string[] = [];
  const target = now.target_g ?? null;
  const tol = now.tolerance_g ?? null;
  if (net === null) words.push("nothing comes from the scale");
  else {
    words.push(`${net.toFixed(0)} g${x ? " net" : " on the scale"}`);
    if (target !== null && tol !== null && x) {
      if (net > target + tol) words.push(`${(net - target).toFixed(0)} g too much`);
      else if (net >= target - tol) words.push("within the tolerance");
      else words.push(`${(target - net).toFixed(0)} g to go`);
    }
    words.push(scale.at_rest ? "at rest" : "moving");
  }
  put(place.firstElementChild!, words.join(", "));
  const bar = place.lastElementChild as HTMLElement;
  bar.hidden = target === null || net === null;
  if (target === null || net === null) return;
  // The bar ends a quarter above the target; the window is never too narrow to be seen.
  const full = target * 1.25;
  const at = (g: number) => Math.min(100, Math.max(0, (100 * g) / full));
  const half = Math.max(tol ?? 0, full / 80);
  const window = bar.firstElementChild as HTMLElement;
  window.style.left = at(target - half) + "%";
  window.style.width = at(target + half) - at(target - half) + "%";
  (bar.lastElementChild as HTMLElement).style.width = at(net) + "%";
  bar.classList.toggle("within", tol !== null && Math.abs(net - target) <= tol);
}

export function el(tag: string, cls = "", text = ""): HTMLElement {
  const e = document.createElement(tag);
  if (cls) e.className = cls;
  if (text) e.textContent = text;
  return e;
}

/** Choices are kept for the day. */
const today = () => new Date().toDateString();

export function remembered(name: string): string | null {
  try {
    const kept = JSON.parse(localStorage.getItem("quern") ?? "{}") as Record<string, string>;
    return kept["day"] === today() ? (kept[name] ?? null) : null;
  } catch {
    return null;
  }
}

export function remember(name: string, value: string): void {
  try {
    let kept = JSON.parse(localStorage.getItem("quern") ?? "{}") as Record<string, string>;
    if (kept["day"] !== today()) kept = { day: today() };
    kept[name] = value;
    localStorage.setItem("quern", JSON.stringify(kept));
  } catch {
    // A browser that keeps nothing asks again.
  }
}
