// The on-camera page: calm, at the frame rate of the film, with a slate to line footage up.

import type { State } from "./live";
import { Live } from "./live";
import type { Look } from "./ribbon";
import { draw, heightOf, shadesOf } from "./ribbon";
import { clockNow, RunBand } from "./run";
import { byId, clock, put, send, stateWords, Steady, wallClock } from "./show";
import { tone } from "./signal";

const stage = byId("air");
const fps = Number(stage.dataset["fps"]) || 25;
const live = new Live(900);
const run = new RunBand(live);
const canvas = byId<HTMLCanvasElement>("ribbon");
const level = new Steady(byId("level"), 0, 500);
const current = new Steady(byId("current"), 1, 500);
let look: Look = { height: 64, font: 18, rows: 2, full: true };
let shades = shadesOf(canvas);

const framed = location.search.includes("format=");

function size(): void {
  if (!framed) { // nobody said which: the one that fits the screen
    const tall = innerHeight > innerWidth;
    document.body.classList.toggle("f9x16", tall);
    document.body.classList.toggle("f16x9", !tall);
  }
  const em = parseFloat(getComputedStyle(canvas).fontSize);
  look = { height: Math.round(em * 2.2), font: Math.round(em * 0.62), rows: 2, full: true };
  canvas.style.height = heightOf(look) + "px";
  shades = shadesOf(canvas);
}
size();
addEventListener("resize", size);
matchMedia("(prefers-color-scheme: dark)").addEventListener("change", size);

/** The daemon's wall time now, ms; so that two pages show the same. */
const wallMS = () => Date.now() + live.aheadMS;

const atBench = wallClock(stage.dataset["zone"]);

/** hh:mm:ss, and the frame of the second if asked for. */
function wall(ms: number, frames: boolean): string {
  const text = atBench(ms);
  return frames ? `${text}:${String(Math.floor(((ms % 1000) * fps) / 1000)).padStart(2, "0")}` : text;
}

let lastFrame = -1;
let shown: State | undefined;
let slateFrames = 0;

/** The page changes only with the film's frames, whatever the screen's rate; but a state that is new is shown at once. */
function tick(t: number): void {
  requestAnimationFrame(tick);
  const n = Math.floor((t * fps) / 1000);
  if (n === lastFrame && live.now?.state === shown) return;
  shown = live.now?.state;
  lastFrame = n;
  if (slateFrames > 0 && --slateFrames === 0) byId("slate").classList.remove("lit");
  const old = live.ageMS() > 2000;
  document.body.classList.toggle("old", old);
  put(byId("wall"), wall(wallMS(), false));
  const s = live.now;
  if (!s) return;
  level.show(old ? null : s.laf_db, t);
  current.show(old ? null : s.rms_a, t);
  put(byId("state"), old ? "No connection" : stateWords(s.state).replace(" (presumed)", "")); // the style adds that, small
  byId("state").dataset["state"] = old ? "" : s.state;
  put(byId("blind"), s.unit);
  put(byId("procedure"), s.procedure);
  const running = s.state !== "off" && s.state !== "tripped" && s.state !== "unknown";
  // Between two messages time goes on evenly.
  const aheadS = old ? 0 : Math.min(live.ageMS() / 1000, 0.3) * live.rate();
  const counted = clockNow(s, stage.dataset["clock"] ?? "");
  const used = counted === null ? null : counted + (running ? aheadS : 0);
  put(byId("clock"), clock(used));
  put(byId("limit"), clock(s.time_limit_s));
  const band = run.band(s.time_limit_s, used, aheadS);
  if (band) draw(canvas, band, look, shades);
}
requestAnimationFrame(tick);

/** The slate: a white flash of two frames and a tone of 100 ms, begun at one instant that is kept as a mark. */
function slate(): void {
  requestAnimationFrame(() => {
    const ms = wallMS();
    tone(1000, 0.1, 0.8);
    slateFrames = 2;
    lastFrame = Math.floor((performance.now() * fps) / 1000);
    put(byId("slate-time"), wall(ms, true));
    const el = byId("slate");
    el.hidden = false;
    el.classList.add("lit");
    setTimeout(() => (el.hidden = true), 2000);
    send({ act: "slate", text: `${new Date(ms).toISOString()}, frame ${wall(ms, true)} at ${fps} a second` }).catch((e: Error) => put(byId("slate-time"), `${wall(ms, true)} – not kept: ${e.message}`));
  });
}

if (stage.dataset["may"] === "true") {
  const b = byId("make-slate");
  b.hidden = false;
  b.addEventListener("click", slate);
  document.addEventListener("keydown", (e) => {
    if (!e.repeat && !e.ctrlKey && !e.metaKey && !e.altKey && e.key.toLowerCase() === "s") slate();
  });
  // The button is not in the picture unless somebody looks for it.
  let hide = 0;
  const show = () => {
    document.body.classList.add("touched");
    clearTimeout(hide);
    hide = window.setTimeout(() => document.body.classList.remove("touched"), 3000);
  };
  for (const what of ["pointermove", "pointerdown", "focusin"]) addEventListener(what, show);
}
