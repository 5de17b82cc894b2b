// The operator's page: keeps what the daemon rendered fresh, and sends its buttons without leaving the page.

import type { RigEvent, Snapshot } from "./live";
import { Live } from "./live";
import type { Bench } from "./guide";
import { el, GuideView, remember, remembered } from "./guide";
import type { Look, Shades } from "./ribbon";
import { draw, heightOf, shadesOf, words } from "./ribbon";
import { clockNow, RunBand } from "./run";
import { byId, clock, put, send, stateWords, Steady, wallClock } from "./show";
import { beep, flash } from "./signal";
import type { Traces } from "./traces";
import { wireKeys, wireSwitches } from "./switches";

/** On a screen with little height the words have two rows. */
const low = matchMedia("(max-height: 850px)");
const look = (): Look => ({ height: low.matches ? 56 : 68, font: 15, rows: low.matches ? 2 : 3, full: true });

const live = new Live(1800);
const run = new RunBand(live);
const desk = byId("desk");
const view = new GuideView();
const canvas = byId<HTMLCanvasElement>("ribbon");
canvas.style.height = heightOf(look()) + "px";
const level = new Steady(byId("level"), 1, 250);
const current = new Steady(byId("current"), 2, 250);
const mass = new Steady(byId("mass"), 0, 100);
let shades: Shades = shadesOf(canvas);
let bench: Bench | null = null;
let traces: Traces | null = null;

const switches = wireSwitches((filming) => {
  level.pace(filming ? 0 : 1, filming ? 500 : 250);
  current.pace(filming ? 1 : 2, filming ? 500 : 250);
  mass.pace(0, filming ? 300 : 100);
});

// ---- what the daemon says now

/** What makes the guide another one. */
function guideKey(s: Snapshot): string {
  const w = s.scale?.weighings;
  return [s.session, s.run, s.state, s.ready, s.unit, s.procedure, s.events.length, s.events.at(-1)?.at_s, w?.length, w?.at(-1)?.withdrawn,
    w?.filter((x) => x.withdrawn).length, s.scale?.expect?.role, s.scale?.expect?.item, s.scale?.drain === undefined].join("|");
}

let asked = "";
let askedAt = -Infinity;
let asking = false;

/** The guide is asked for when something has happened, and once a second. */
async function refreshGuide(force = false): Promise<void> {
  if (!live.now || asking) return;
  const key = guideKey(live.now);
  if (!force && key === asked && performance.now() - askedAt < 1000) return;
  asking = true;
  asked = key;
  askedAt = performance.now();
  try {
    const answer = await fetch("/guide", { headers: { Accept: "application/json" } });
    if (!answer.ok) return;
    bench = (await answer.json()) as Bench;
    showBench(bench);
  } catch {
    // The age of the figures says that nothing comes.
  } finally {
    asking = false;
  }
}

function showBench(b: Bench): void {
  const s = live.now;
  view.show(b, s?.unit ?? "", s?.procedure ?? "");
  put(byId("clock-kind"), b.clock === "elapsed" ? "pauses in" : "pauses out");
  put(byId("limit"), clock(b.limit_s));
  if (b.may_act) {
    const undo = byId<HTMLButtonElement>("undo");
    undo.disabled = b.undo === "";
    undo.value = undo.title = b.undo;
    put(byId("undo-what"), b.undo);
    const inspect = byId<HTMLButtonElement>("inspect");
    inspect.setAttribute("aria-pressed", (inspect.value = String(b.inspecting)));
  }
  problem(b);
}

let frame = 0;
live.onNow = () => {
  void refreshGuide();
  notice(live.now!);
  if (frame === 0) frame = requestAnimationFrame(paint);
};

let tracesAt = -Infinity;

function paint(): void {
  frame = 0;
  const s = live.now;
  if (!s) return;
  const t = performance.now();
  level.show(s.laf_db, t);
  current.show(s.rms_a, t);
  mass.show(s.mass_g, t);
  const state = byId("state");
  const clear = bench?.guide.count?.what === "flush";
  put(state, clear && s.state === "no-load" ? "Clear" : stateWords(s.state));
  state.dataset["state"] = s.state;
  const used = clockNow(s, bench?.clock ?? desk.dataset["clock"] ?? "");
  put(byId("clock"), clock(used ?? 0));
  const limit = bench?.limit_s ?? s.time_limit_s;
  put(byId("left"), clock(Math.max(0, limit - (used ?? 0))));
  if (bench) {
    view.dangers(bench.guide);
    view.measure(bench, s.scale, live.rate());
  }
  const band = run.band(limit, used, 0);
  if (band) {
    draw(canvas, band, look(), shades);
    canvas.setAttribute("aria-label", `Ribbon of the run: ${stateWords(s.state)}${used === null ? "" : `, ${clock(used)} of ${clock(limit)}`}`);
    if (traces && t - tracesAt > 450) {
      tracesAt = t;
      const open = s.at_s !== null;
      traces.draw(live.trace, band, open ? (i) => live.sessionS(i * 0.1) : (i) => (i * 0.1 - live.tS) * live.rate());
    }
  }
  if (bench?.may_act) {
    const turn = byId("turn");
    const open = s.session !== "";
    byId<HTMLInputElement>("turn-act").value = open ? "end" : "begin";
    if (turn.firstChild) put(turn.firstChild as unknown as Element, open ? "End " : "Begin ");
    byId<HTMLButtonElement>("abort").disabled = !open;
  }
  put(byId("record"), s.session ? "Recording " + s.session : "No session is open.");
  showSources(s);
  showEvents(s.events);
}

// ---- sources and events

const sourceWords: Record<string, string> = { starting: "waiting for it", live: "live", late: "late", lost: "lost" };
let sourcesKey = "";

function showSources(s: Snapshot): void {
  const rows = s.sources.map((x) => {
    let text = sourceWords[x.state] ?? x.state;
    if (x.age_s !== null && x.age_s >= 1) text += `, last ${x.age_s.toFixed(0)} s ago`;
    const more = [x.reason, x.note].filter(Boolean).join(" ");
    return [x.channel, text + (more ? ", " + more : ""), x.state] as const;
  });
  const key = JSON.stringify(rows);
  if (key === sourcesKey) return;
  sourcesKey = key;
  byId("sources").replaceChildren(
    ...rows.map(([channel, text, state]) => {
      const li = el("li", state);
      li.append(el("strong", "", channel), " " + text);
      return li;
    }),
  );
}

let eventsKey = "";

function showEvents(events: RigEvent[]): void {
  const key = events.map((e) => `${e.kind}${e.at_s}`).join();
  if (key === eventsKey) return;
  eventsKey = key;
  const list = byId("events");
  if (events.length === 0) {
    list.replaceChildren(el("li", "none", "Nothing yet."));
    return;
  }
  list.replaceChildren(
    ...[...events].reverse().map((e) => {
      const li = el("li");
      li.append(el("span", "at", clock(e.at_s)), " ", el("strong", "", words[e.kind] ?? e.kind.replaceAll("_", " ")), " ", el("span", "evidence", e.evidence));
      return li;
    }),
  );
}

let seen: { session: string; kinds: Set<string> } | null = null;

/** Sound and flash at what has just happened; not at what had happened when the page came. */
function notice(s: Snapshot): void {
  const key = (e: RigEvent) => `${e.run}${e.kind}${e.at_s?.toFixed(1)}`;
  if (!seen || seen.session !== s.session) {
    const fresh = seen !== null;
    seen = { session: s.session, kinds: new Set() };
    if (!fresh) for (const e of s.events) seen.kinds.add(key(e));
  }
  for (const e of s.events) {
    if (seen.kinds.has(key(e))) continue;
    seen.kinds.add(key(e));
    if (switches.filming()) continue;
    if (switches.sound()) beep(e.kind);
    if (switches.flash()) flash(e.kind);
  }
}

// ---- how old the figures are

let stale = false;

function showAge(): void {
  const ms = live.ageMS();
  const old = ms > 2000;
  if (old !== stale) {
    stale = old;
    document.body.classList.toggle("old", old);
  }
  put(byId("age"), !Number.isFinite(ms) ? "waiting for the daemon" : old ? `Figures are ${Math.round(ms / 1000)} s old: the connection is gone, and tried again. A daemon that runs records on.` : "live");
}
setInterval(showAge, 500);

// ---- the one message

/** Notes that were read stay quiet for the day; a source that is gone is no note. */
const plainly = (text: string) => text.replace(/[\d.,]+/g, "#");
let standsUntil = 0; // the message of an act, ms; what was refused takes longer to read

function problem(b: Bench): void {
  if (performance.now() < standsUntil) return;
  const place = byId("message");
  let text = b.guide.problem ?? b.guide.note ?? "";
  const grave = live.now?.sources.some((x) => x.state === "lost" || x.state === "late" || x.state === "starting") ?? false;
  if (text && !grave && (remembered("quiet") ?? "").split("\n").includes(plainly(text))) text = "";
  if (place.dataset["text"] === text) return;
  place.dataset["text"] = text;
  place.replaceChildren(text);
  place.className = "message" + (text && b.guide.problem ? " not-ready" : "");
  if (!text || grave || switches.filming()) return;
  const quiet = el("button", "", "Quiet for today");
  quiet.addEventListener("click", () => {
    remember("quiet", [remembered("quiet"), plainly(text)].filter(Boolean).join("\n"));
    problem(b);
  });
  place.append(" ", quiet);
}

function message(text: string, wrong: boolean): void {
  standsUntil = performance.now() + (wrong ? 15000 : 6000);
  const place = byId("message");
  place.dataset["text"] = wrong ? text : ""; // what came stays until there is something else to say; a refusal goes
  place.className = "message" + (wrong ? " wrong-act" : " came");
  place.replaceChildren(text);
}

// ---- buttons

document.addEventListener("submit", (e) => {
  const form = e.target as HTMLFormElement;
  if (form.getAttribute("action") !== "/do") return;
  e.preventDefault();
  void act(Object.fromEntries(new FormData(form, e.submitter)) as Record<string, string>); // no form holds a file
});

let markedAt = "";

async function act(fields: Record<string, string>): Promise<void> {
  byId("ask").replaceChildren();
  try {
    const came = await send(fields);
    message(came.say, false);
    if (fields["act"] === "mark" && !fields["text"]) askWords();
    if (fields["act"] === "abort" && !fields["why"]) askReason();
  } catch (e) {
    message(e instanceof Error ? e.message : String(e), true);
  }
  await refreshGuide(true);
}

/** A mark stands at once; words may follow. In filming nothing opens. */
function askWords(): void {
  if (switches.filming()) return;
  markedAt = wallClock(desk.dataset["zone"])(Date.now() + live.aheadMS);
  const f = document.createElement("form");
  const label = document.createElement("label");
  const input = document.createElement("input");
  input.maxLength = 300;
  input.autocomplete = "off";
  label.append("What was it? (may stay empty)", input);
  f.append(label, el("button", "target", "Add"));
  f.addEventListener("submit", (e) => {
    e.preventDefault();
    if (input.value.trim()) void act({ act: "mark", text: `${input.value.trim()} (of the mark at ${markedAt})` });
    else byId("ask").replaceChildren();
  });
  byId("ask").replaceChildren(f);
}

const reasons: [string, Record<string, string>][] = [
  ["Rig fault", { act: "abort", cause: "rig", why: "rig fault" }],
  ["My mistake", { act: "abort", cause: "operator", why: "operator's mistake" }],
  ["Safety", { act: "abort", cause: "operator", why: "stopped for safety" }],
  ["Unit failed", { act: "failed", why: "the unit could not go on" }],
];

/** Why a run was aborted is asked after it is void, and may stay unsaid. */
function askReason(): void {
  byId("ask").replaceChildren(
    el("span", "asks", "Why?"),
    ...reasons.map(([text, fields]) => {
      const b = el("button", "target", text) as HTMLButtonElement;
      b.type = "button";
      b.addEventListener("click", () => void act(fields));
      return b;
    }),
  );
}

wireKeys(switches, () => document.querySelector<HTMLButtonElement>("#offered"));

// ---- looks

function repaint(): void {
  canvas.style.height = heightOf(look()) + "px";
  shades = shadesOf(canvas);
  traces?.repaint();
  if (frame === 0) frame = requestAnimationFrame(paint);
}
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", repaint);
addEventListener("resize", repaint);

void import("./traces").then((m) => {
  const zero = () => live.now?.events.find((e) => e.run === live.now!.run && e.kind === "motor_start")?.at_s ?? live.now?.at_s ?? 0;
  traces = new m.Traces(byId("traces"), live.trace, zero);
});
