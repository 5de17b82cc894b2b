// A page that is left open for a day stays small. The day goes by in seconds: the page's connection is played, ten
// messages a second of that day, a run every six minutes with its events and a session of its own.
//
//   node --test test/day.test.mjs
import assert from "node:assert/strict";
import { after, before, describe, test } from "node:test";
import { launch, start, until, why } from "./rig.mjs";

/** Stands in the page in the place of the browser's EventSource. */
function played() {
  window.EventSource = class extends EventTarget {
    static CLOSED = 2;
    readyState = 1;
    constructor() {
      super();
      window.wire = this;
    }
    close() {}
  };
  let n = 0;
  const say = (kind, data) => window.wire.dispatchEvent(new MessageEvent(kind, { data: JSON.stringify(data), lastEventId: "day." + ++n }));
  const kinds = [["motor_start", 20], ["load_start", 25], ["stall_start", 90], ["stall_end", 96], ["trip", 96], ["motor_start", 150], ["load_end", 200], ["motor_stop", 240]];
  const stateAt = (s) => (s < 20 || s > 240 ? "off" : s < 21 ? "starting" : s < 25 ? "no-load" : s < 90 ? "loaded" : s < 96 ? "stalled" : s < 150 ? "tripped" : s < 200 ? "loaded" : "no-load");
  /** Plays from one second of the day to another. */
  window.play = async (base, from, to) => {
    for (let t = from; t < to; t++) {
      const cycle = Math.floor(t / 360), s = t % 360;
      const state = stateAt(s);
      const events = kinds.filter(([, at]) => at <= s).map(([kind, at_s], i) => ({ run: 1, kind, at_s, within_s: 0.004, sure: 0.9, evidence: `invented, number ${i} of ${cycle}` }));
      for (let i = 0; i < 10; i++) {
        const jitter = ((t * 10 + i) * 7919) % 100 / 100;
        say("now", { boot: "day", at_ms: Date.now(), t_s: t + i / 10, s: { ...base, session: "day-" + cycle, at_s: s + i / 10, state, since_s: 1, run: state === "off" ? 0 : 1, motor_on_s: Math.max(0, s - 20), laf_db: 70 + 10 * jitter, rms_a: 4 + jitter, mass_g: 300 + Math.round(20 * jitter), events } });
      }
      say("trace", { boot: "day", from_s: t, step_s: 0.1, laf_db: Array(10).fill(70.1), rms_a: Array(10).fill(4.2), mass_g: Array(10).fill(301), state: Array(10).fill(state) });
      if (t % 240 === 0) await new Promise((done) => requestAnimationFrame(done)); // the screen has its turn
    }
  };
}

describe("a page that is left open for a day", { skip: why }, () => {
  let rig, chrome;
  before(async () => {
    rig = await start();
    chrome = await launch();
  });
  after(async () => {
    await chrome?.close();
    await rig?.stop();
  });

  for (const path of ["/", "/air"]) {
    test(path + " keeps no more at its end than in its morning", { timeout: 300000 }, async () => {
      const base = await until(rig.status, "the daemon's status");
      const page = await chrome.newPage();
      const faults = [];
      page.on("pageerror", (e) => faults.push(e.message));
      await page.evaluateOnNewDocument(played);
      await page.goto(rig.at + path, { waitUntil: "load" });
      await page.bringToFront();
      await until(() => page.evaluate(() => !!window.wire), "the page listens");
      const cdp = await page.createCDPSession();
      const kept = [];
      for (let h = 0; h < 24; h += 4) {
        await page.evaluate((base, from, to) => window.play(base, from, to), base, h * 3600, (h + 4) * 3600);
        await cdp.send("HeapProfiler.collectGarbage");
        const { usedSize } = await cdp.send("Runtime.getHeapUsage");
        const { Nodes, JSEventListeners } = await page.metrics();
        kept.push({ h: h + 4, mb: usedSize / 1e6, nodes: Nodes, listeners: JSEventListeners });
      }
      const words = kept.map((k) => `${k.h} h ${k.mb.toFixed(2)} MB ${k.nodes} nodes ${k.listeners} listeners`).join("; ");
      console.log(path, words);
      const [morning, night] = [kept[0], kept.at(-1)];
      assert.ok(night.mb < morning.mb + 0.5, "memory grows: " + words);
      assert.ok(night.nodes < morning.nodes + 200, "nodes grow: " + words);
      assert.ok(night.listeners < morning.listeners + 20, "listeners grow: " + words);
      assert.match(await page.$eval("#state", (e) => e.textContent), /\S/);
      assert.deepEqual(faults, []);
      await page.close();
    });
  }
});
