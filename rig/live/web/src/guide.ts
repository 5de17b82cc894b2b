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
  step?: string;
  role?: string;
  item?: string;
  kind?: string;
  unit?: string;
  text?: string;
}

export interface Guide {
  steps: Step[];
  say: string;
  how?: string;
  then?: string;
  offer: Offer;
  also?: Offer[];
  count?: { what: string; at_s: number; of_s: number };
  dangers?: { id: string; text: string }[];
  problem?: string;
}

export interface Bench {
  guide: Guide;
  undo: string;
  inspecting: boolean;
  may_act: boolean;
  clock: string;
  clock_s: Figure;
  limit_s: number;
}

const farWords: Record<Step["state"], string> = { done: "done", now: "now", later: "", skipped: "left out" };

/** A danger stays for a while after it has passed, so that its words can be read. */
const dangerMS = 4000;

export class GuideView {
  private drawn: Record<string, string> = {};
  private until = new Map<string, { text: string; ms: number }>();
  private vessels = document.querySelector("#offers select[name=vessel]")?.cloneNode(true) as HTMLSelectElement | undefined;
  countFrom = 0; // when the count was told, ms

  constructor(private readonly vesselNames: string[]) {}

  show(b: Bench, unit: string, procedure: string): void {
    const g = b.guide;
    this.countFrom = performance.now();
    put(byId("say"), g.say);
    put(byId("how"), g.how ?? "");
    put(byId("blind"), unit);
    put(byId("procedure"), procedure);
    put(byId("place"), `step ${1 + g.steps.findIndex((s) => s.state === "now")} of ${g.steps.length}${g.then ? ", then: " + g.then : ""}`);
    this.once("steps", g.steps, () => this.steps(g.steps));
    if (b.may_act) this.once("offers", [g.offer, g.also], () => this.offers(g));
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

  private steps(steps: Step[]): void {
    const list = byId("steps");
    list.replaceChildren(
      ...steps.map((s) => {
        const li = el("li", s.state);
        if (s.state === "now") li.setAttribute("aria-current", "step");
        li.append(el("span", "what", s.title));
        const g = mass(s);
        if (g) li.append(" ", el("span", "g", g));
        li.append(" ", el("span", "how-far", farWords[s.state]));
        if (s.remark) li.append(" ", el("span", "remark", s.remark));
        return li;
      }),
    );
    const now = list.querySelector<HTMLElement>(".now");
    if (now) list.scrollTop = now.offsetTop - list.offsetTop - list.clientHeight / 3;
  }

  /** What the main act needs, and the other acts, stand with the step; its button is the bar's. */
  private offers(g: Guide): void {
    byId("offers").replaceChildren(
      ...[g.offer, ...(g.also ?? [])].filter((o) => o.act !== "").map((o) => this.form(o, o === g.offer)),
    );
    const b = byId<HTMLButtonElement>("offered");
    b.disabled = g.offer.act === "";
    put(byId("offered-words"), g.offer.label || "Nothing to press");
  }

  private form(o: Offer, main: boolean): HTMLFormElement {
    const f = document.createElement("form");
    f.className = "offer";
    f.method = "post";
    f.action = "/do";
    for (const k of ["act", "step", "role", "item", "kind", "text"] as const) {
      if (!o[k]) continue;
      const input = document.createElement("input");
      input.type = "hidden";
      input.name = k;
      input.value = o[k];
      f.append(input);
    }
    if (o.act === "check") f.append(field(`Should show, ${o.unit}`, "nominal", false), field(`Shows, ${o.unit}`, "found", true));
    if (main && o.act === "weigh" && this.vesselNames.length > 0) f.append(this.vessel(o.role ?? ""));
    if (main) f.id = "offer";
    else f.append(el("button", "target", o.label));
    return f;
  }

  /** In what it is weighed; remembered for the day by role. */
  private vessel(role: string): HTMLLabelElement {
    const label = document.createElement("label");
    const select = this.vessels ? (this.vessels.cloneNode(true) as HTMLSelectElement) : document.createElement("select");
    select.name = "vessel";
    if (!this.vessels) for (const v of this.vesselNames) select.append(new Option(v, v));
    const kept = remembered("vessel-" + role);
    if (kept && this.vesselNames.includes(kept)) select.value = kept;
    select.addEventListener("change", () => remember("vessel-" + role, select.value));
    label.append("In", select);
    return label;
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

function mass(s: Step): string {
  if (s.measured_g !== undefined && s.measured_g !== null) return `${s.measured_g.toFixed(0)} g`;
  if (s.target_g === undefined || s.target_g === null) return "";
  return `${s.target_g.toFixed(0)} g` + (s.tolerance_g ? ` ±${s.tolerance_g.toFixed(0)}` : "");
}

function field(words: string, name: string, required: boolean): HTMLLabelElement {
  const label = document.createElement("label");
  const input = document.createElement("input");
  input.name = name;
  input.inputMode = "decimal";
  input.autocomplete = "off";
  input.size = 7;
  input.required = required;
  label.append(words, input);
  return label;
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
