// A session from within: plots on one axis of time, sound, what people say against it, and what other
// settings would change.

import { analysed, later, resultOf, type Result, type Run, type Source } from "./review-data";
import { facts } from "./review-facts";
import { Figure, type Place } from "./review-figure";
import { Lines } from "./review-lines";
import { Ribbon, Times, motorOf } from "./review-motor";
import { coloursOf, type Panel } from "./review-panel";
import { sound } from "./review-sound";
import { Spectrum } from "./review-spectrum";
import { View } from "./review-view";
import { whatIf } from "./review-whatif";
import { number, time } from "./review-words";

const deepS = 4; // s: shorter views show waveforms

function sourceOf(r: Result, aligned: boolean): Source {
  const offsetS = aligned ? (r.runs[0]?.start_s ?? 0) : 0;
  return { session: r.session, offsetS, leastS: -offsetS, mostS: Math.max(r.seconds ?? 1, 1) - offsetS };
}

function note(root: HTMLElement, text: string, wrong = false): void {
  const p = document.createElement("p");
  p.className = wrong ? "say wrong" : "say";
  p.setAttribute("role", "status");
  p.textContent = text;
  root.replaceChildren(p);
}

async function start(root: HTMLElement): Promise<void> {
  const name = root.dataset["session"]!;
  const otherName = root.dataset["beside"];
  note(root, "The session is being opened.");
  let all: Result[];
  try {
    all = await Promise.all([name, ...(otherName ? [otherName] : [])].map((n) => resultOf(n)));
  } catch (e) {
    note(root, `The session cannot be opened: ${(e as Error).message}`, true);
    return;
  }
  root.replaceChildren();
  const own = all[0]!;
  const aligned = all.length > 1;
  const sources = all.map((r) => sourceOf(r, aligned));
  const names = aligned ? [root.dataset["heading"] ?? own.session, root.dataset["besideHeading"] ?? all[1]!.session] : [""];
  const view = new View(Math.min(...sources.map((s) => s.leastS)), Math.max(...sources.map((s) => s.mostS)));
  const colours = coloursOf(root);
  const offset = sources[0]!.offsetS;
  const motors = all.map((r, i) => motorOf(r.runs, sources[i]!.offsetS, r.settings.time_limit_s, r.seconds ?? 0));
  const has = (c: string) => all.some((r) => r.channels.includes(c));

  const line = (channel: string, title: string, height: number, more: object = {}) => new Lines(view, sources.filter((_, i) => all[i]!.channels.includes(channel)), { channel, title, height, ...more }, colours, aligned ? names : [""]);
  const rms = has("rms")
    ? line("rms", "Current, A RMS", 150, { least: 1, marks: own.settings.overload_a !== null ? [{ v: own.settings.overload_a, word: `overload from ${number(own.settings.overload_a, "A")} A` }] : [] })
    : undefined;
  const widest = (i: number) => () => (all[i]!.channels.includes("rms") ? rms?.widest(aligned && !own.channels.includes("rms") ? 0 : i) : undefined);
  const ribbons = motors.map((m, i) => new Ribbon(view, m, widest(i), colours, aligned ? names[i]! : "Motor", { height: 44, font: 13, rows: 3, full: true }));
  const small = new Ribbon(view, motors[0]!, widest(0), colours, "", { height: 20, font: 11, rows: 0, full: false });

  const places: Place[] = [];
  if (own.runs.length > 0) {
    for (const [i, r] of own.runs.entries()) {
      if (r.start_s === null || r.end_s === null) continue;
      const pad = 0.04 * (r.end_s - r.start_s) + 1;
      places.push({ word: own.runs.length > 1 ? `Run ${i + 1}` : "The run", fromS: r.start_s - offset - pad, toS: r.end_s - offset + pad });
    }
  }
  const figure = new Figure(root, view, motors[0]!, small, places.slice(0, 8), aligned);
  figure.add(...ribbons);
  const panels: Panel[] = [];
  if (has("level")) {
    const level = line("level", "A-weighted level, dB, time weighting F", 150, { least: 10 });
    const early = document.querySelector<HTMLLinkElement>("link[rel=preload][href*=series]");
    if (early && own.channels.includes("level")) level.seed(early.href);
    panels.push(level);
  }
  let spectrum: Spectrum | undefined;
  for (const [i, r] of all.entries()) if (r.channels.includes("third-octaves")) panels.push((spectrum = new Spectrum(view, sources[i]!, colours, 132, aligned ? names[i]! : "", spectrum)));
  if (rms) panels.push(rms);
  if (has("mass")) panels.push(line("mass", "Scale, g", 96, { least: 10 }));
  for (const c of new Set(all.flatMap((r) => r.channels.filter((c) => c.startsWith("extra:"))))) panels.push(line(c, c.slice(6).replaceAll("-", " "), 90));
  panels.push(new Times(view, colours, "m:ss"));
  if (has("waveform")) panels.push(line("waveform", "Sound pressure, Pa", 120, { about: "zero", deepS, least: 0.002 }));
  if (has("current")) panels.push(line("current", "Current, A, as it flows", 120, { about: "zero", deepS, least: 0.2 }));
  figure.add(...panels);

  const deep = document.createElement("p");
  deep.className = "missing";
  deep.textContent = `Waveforms stand here where less than ${deepS} s are shown.`;
  if (has("waveform") || has("current")) figure.plots.append(deep);
  view.follow.push(() => (deep.hidden = view.spanS <= deepS));

  const listen = sound(
    figure,
    sources.map((of, i) => ({ of, name: names[i] || "this", fullScaleDB: all[i]!.settings.full_scale_db, has: all[i]!.channels.includes("waveform") })),
  );
  root.append(listen);

  // The address says what is shown, so that it can be passed on.
  let written = "";
  let writing = 0;
  figure.onMoved = () => {
    clearTimeout(writing);
    writing = window.setTimeout(() => {
      const d = view.spanS < 1 ? 6 : 3;
      const whole = view.fromS === view.leastS && view.toS === view.mostS;
      written = whole ? "" : `#from=${view.fromS.toFixed(d)}&to=${view.toS.toFixed(d)}`;
      if (location.hash !== written) history.replaceState(null, "", location.pathname + location.search + written);
    }, 250);
  };
  const follow = (): boolean => {
    if (location.hash === written || location.hash.length < 2) return false;
    const q = new URLSearchParams(location.hash.slice(1));
    const at = Number(q.get("at") ?? NaN);
    const from = Number(q.get("from") ?? NaN);
    const to = Number(q.get("to") ?? NaN);
    if (to > from) view.show(from, to);
    if (Number.isFinite(at)) figure.go(at - offset);
    return to > from || Number.isFinite(at);
  };
  addEventListener("hashchange", follow);
  figure.resize();
  if (!follow() && places.length > 0 && view.mostS - view.leastS > 4 * (places[0]!.toS - places[0]!.fromS)) view.show(places[0]!.fromS, places.at(-1)!.toS);
  // What stands below the plots is laid out once they stand.
  setTimeout(() => root.closest(".early")?.classList.remove("early"), 1200);
  figure.want(); // before anything is drawn: the daemon works meanwhile

  for (const a of document.querySelectorAll<HTMLAnchorElement>("a.goto")) {
    a.addEventListener("click", (e) => {
      e.preventDefault();
      figure.go(Number(a.dataset["at"]) - offset);
      figure.plots.focus({ preventScroll: true });
      root.scrollIntoView({ block: "start", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    });
  }
  const cursor = () => {
    const s = (Number.isFinite(view.cursorS) ? view.cursorS : view.fromS) + offset;
    return { s, words: time(s) };
  };
  const forms = facts(name, cursor);
  view.follow.push(() => forms.moved());

  if ("waiting" in root.dataset || !all.every(analysed)) whenAnalysed(root, [name, ...(otherName ? [otherName] : [])]).catch(() => {});

  let alternative: Ribbon | undefined;
  whatIf(name, (runs: Run[] | null) => {
    alternative?.box.remove();
    alternative = undefined;
    if (!runs) return;
    const m = motorOf(runs, offset, own.settings.time_limit_s, own.seconds ?? 0);
    alternative = new Ribbon(view, m, widest(0), colours, "Under these settings", { height: 44, font: 13, rows: 3, full: true });
    figure.insert(alternative);
  });
}

/** Opens the page anew once the session is analysed, unless somebody is at work on it. */
async function whenAnalysed(root: HTMLElement, names: string[]): Promise<void> {
  const p = document.createElement("p");
  p.className = "say";
  p.setAttribute("role", "status");
  root.prepend(p);
  let busy = false;
  for (const e of ["pointerdown", "keydown", "wheel"]) root.addEventListener(e, () => (busy = true), { once: true, passive: true });
  for (;;) {
    const all = await Promise.all(names.map((n) => resultOf(n)));
    const lacks = all.find((r) => !analysed(r));
    // The page itself may lag behind.
    if (!lacks && !(await (await fetch(location.pathname)).text()).includes("data-waiting")) break;
    if (lacks) p.textContent = `Being analysed: ${Math.round(100 * (lacks.analysis.progress ?? 0))} %. The ribbon comes then.`;
    await later(1000);
  }
  if (!busy) return location.reload();
  p.textContent = "The analysis is there. ";
  const b = document.createElement("button");
  b.type = "button";
  b.textContent = "Open the page anew";
  b.addEventListener("click", () => location.reload());
  p.append(b);
}

const root = document.getElementById("review");
if (root) {
  // Colours are read when the plots are made.
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => location.reload());
  void start(root);
} else if (document.querySelector("[data-again]")) {
  setTimeout(() => location.reload(), 2000);
} else {
  const say = document.getElementById("say");
  const name = decodeURIComponent(location.pathname.split("/").pop() ?? "");
  if (say) facts(name, () => ({ s: 0, words: "0:00.0" }));
}
