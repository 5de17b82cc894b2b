// Measures what cannot be asked for in a test, for it hangs on the machine: how long an event on the bench takes
// to the screen, what five open pages cost the daemon, when a slow processor first paints, how soon a session from
// within is drawn and zoomed. Prints a table. Run it on an otherwise quiet machine:
//
//   node test/figures.mjs [latency] [paint] [cost] [review]      QUERN: a built program
import { readFileSync, readdirSync, rmSync } from "node:fs";
import { join } from "node:path";
import { drop, folder, launch, program, serve, shared, start, until } from "./rig.mjs";

const asked = process.argv.slice(2);
const wanted = (name) => asked.length === 0 || asked.includes(name);
const sleep = (ms) => new Promise((r) => setTimeout(r, ms));
const say = (name, text) => console.log(`${name.padEnd(44)} ${text}`);
const spread = (ms) => {
  const s = ms.toSorted((a, b) => a - b);
  const at = (p) => s[Math.min(s.length - 1, Math.ceil(p * s.length) - 1)].toFixed(0);
  return `median ${at(0.5)} ms, p95 ${at(0.95)} ms, worst ${at(1)} ms of ${s.length}`;
};

/** Starts a daemon on the simulated bench. */
async function simulated(scenario) {
  const dir = folder("figures");
  const rig = await serve(program(dir), ["serve", "--simulate", scenario, "--out", join(dir, "sessions")]);
  return {
    at: rig.at,
    /** Processor time used so far, s. */
    used: () => {
      const f = readFileSync(`/proc/${rig.daemon.pid}/stat`, "utf8").split(") ")[1].split(" ");
      return (Number(f[11]) + Number(f[12])) / 100;
    },
    stop: async () => {
      await rig.stop();
      drop(dir);
    },
  };
}

/** Notes when an element's text has been painted as wanted: at the frame after the one that changed it. */
const watch = (page, css, want) =>
  page.evaluate((css, want) => {
    const el = document.querySelector(css);
    window.painted = new Promise((done) => {
      const look = new MutationObserver(() => {
        if (!new RegExp(want).test(el.textContent)) return;
        look.disconnect();
        requestAnimationFrame(() => done(Date.now()));
      });
      look.observe(el, { childList: true, characterData: true, subtree: true });
    });
  }, css, want);

/** The wall time of that frame, ms. */
const painted = async (page, css, what) => {
  const at = await Promise.race([page.evaluate(() => window.painted), sleep(20000)]);
  if (!at) throw new Error(`not within 20 s: ${what} is painted; the page says “${await page.$eval(css, (e) => e.textContent)}”${shared()}`);
  return at;
};

/** Follows what the daemon sends. Returns when it first told of the present state, wall time, ms. */
async function follow(at) {
  const told = { state: "", ms: 0 };
  const read = async () => {
    let text = "";
    for await (const part of (await fetch(at + "/stream?history=0")).body.pipeThrough(new TextDecoderStream())) {
      const messages = (text + part).split("\n\n");
      text = messages.pop();
      for (const m of messages.filter((m) => m.startsWith("event: now"))) {
        const n = JSON.parse(m.slice(m.indexOf("data: ") + 6));
        if (n.s && n.s.state !== told.state) Object.assign(told, { state: n.s.state, ms: n.at_ms });
      }
    }
  };
  read().catch(() => {}); // the daemon has ended
  await until(() => told.state, "the daemon sends what it sees");
  return () => told.ms;
}

async function latency() {
  const rig = await start();
  const chrome = await launch();
  const told = await follow(rig.at);
  for (const [path, css] of [["/", "#state"], ["/air", "#state"]]) {
    const page = await chrome.newPage();
    await page.goto(rig.at + path, { waitUntil: "domcontentloaded" });
    await until(() => page.$eval(css, (e) => e.textContent.trim() === "Off"), "the motor stands on " + path);
    await page.bringToFront();
    const all = { start: [], stop: [], "start, told by the daemon": [], "stop, told by the daemon": [] };
    const event = async (name, want, change) => {
      await watch(page, css, want);
      const t = await rig.playAt(change);
      if (name === "start") setTimeout(() => rig.play({ a: 4 }), 150); // an inrush of some cycles, then no load
      all[name].push((await painted(page, css, "the " + name).catch((e) => Promise.reject(new Error(`${e.message}; the daemon said\n${rig.log().split("\n").slice(-12).join("\n")}`)))) - t);
      all[name + ", told by the daemon"].push(told() - t);
    };
    for (let i = 0; i < 40; i++) {
      await sleep(2000 + 37 * i); // at every place of the daemon's and the screen's rounds
      await event("start", "Starting|No load|Running|Loaded|Clear|Overloaded", { a: 28, ragged: 0.02, db: 72 });
      await sleep(1500);
      await event("stop", "Off", { a: 0, ragged: 0, db: 45 });
    }
    for (const [name, ms] of Object.entries(all)) say(name.includes(",") ? `motor ${name}, ${path}` : `motor ${name} to pixels, ${path}`, spread(ms));
    await page.close();
  }
  await chrome.close();
  await rig.stop();
}

async function paint() {
  const rig = await simulated("stall-and-trip");
  const chrome = await launch();
  for (const path of ["/", "/air", "/sessions", "/standings"]) {
    const times = [];
    for (let i = 0; i < 5; i++) {
      const context = await chrome.createBrowserContext(); // nothing in the cache
      const page = await context.newPage();
      await page.emulateCPUThrottling(6);
      await page.goto(rig.at + path, { waitUntil: "domcontentloaded" });
      times.push(await until(() => page.evaluate(() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime), "the first paint"));
      await context.close();
    }
    say(`first paint at 6 x, ${path}`, spread(times));
  }
  await chrome.close();
  await rig.stop();
}

async function cost() {
  const rig = await simulated("stall-and-trip");
  const chrome = await launch();
  const during = async (s) => {
    const was = rig.used();
    await sleep(1000 * s);
    return (rig.used() - was) / s;
  };
  await sleep(5000);
  const alone = await during(60);
  for (const path of ["/", "/", "/air", "/", "/air"]) {
    const page = await chrome.newPage();
    await page.goto(rig.at + path, { waitUntil: "domcontentloaded" });
  }
  await sleep(3000);
  const open = await during(60);
  say("daemon alone; with five live pages", `${(100 * alone).toFixed(1)} %; ${(100 * open).toFixed(1)} %; extra ${(100 * (open - alone)).toFixed(1)} % of a core`);
  await chrome.close();
  await rig.stop();
}

/** Opens a recorded session (QUERN_SESSIONS: the folder, QUERN_LAB: its lab) and zooms in it, cold and warm. */
async function review() {
  const [dir, lab] = [process.env.QUERN_SESSIONS, process.env.QUERN_LAB];
  if (!dir || !lab) return say("a session from within", "not measured: QUERN_SESSIONS and QUERN_LAB name a folder of sessions and its lab");
  const name = readdirSync(dir).find((n) => !n.startsWith("."));
  for (const cache of ["cold", "warm"]) {
    if (cache === "cold") rmSync(join(dir, ".series"), { recursive: true, force: true });
    const { at, stop } = await serve(program(folder("review")), ["pages", dir, "--lab", lab]);
    await until(async () => (await (await fetch(`${at}/sessions/${name}`)).text()).includes("What was recorded"), "the session is in the list");
    const chrome = await launch();
    const page = await chrome.newPage();
    await page.setViewport({ width: 1440, height: 1000 });
    await page.goto(`${at}/sessions/${name}`, { waitUntil: "domcontentloaded" });
    await page.bringToFront();
    const first = await until(() => page.evaluate(() => new Promise((done) => {
      const level = performance.getEntriesByType("resource").find((e) => e.name.includes("series?channel=level") && e.responseEnd > 0);
      if (!level || !document.querySelector(".plots .uplot canvas")) return done(0);
      requestAnimationFrame(() => requestAnimationFrame(() => done(performance.now())));
    })), "the first plot");
    say(`first plot of ${name}, ${cache}`, `${first.toFixed(0)} ms after the address was entered (looked for every 50 ms)`);
    await sleep(3000);
    const box = await (await page.$(".plots")).boundingBox();
    await page.mouse.click(box.x + 600, box.y + 200);
    const steps = [], frames = [];
    for (let i = 0; i < 14; i++) {
      const key = i < 10 ? "+" : "-";
      await page.evaluate(() => {
        performance.clearResourceTimings();
        window.gaps = [];
        let was = performance.now();
        const end = was + 500;
        const look = (t) => {
          window.gaps.push(t - was);
          was = t;
          if (t < end) requestAnimationFrame(look);
        };
        requestAnimationFrame(look);
        window.pressed = was;
      });
      await page.keyboard.press(key);
      await sleep(700);
      const [done, gap] = await page.evaluate(() => [Math.max(0, ...performance.getEntriesByType("resource").map((e) => e.responseEnd - window.pressed)), Math.max(...window.gaps.slice(1))]);
      steps.push(done);
      frames.push(gap);
    }
    say(`zoom step to the last series in, ${cache}`, spread(steps));
    say(`longest frame in a zoom step, ${cache}`, spread(frames));
    await chrome.close();
    await stop();
  }
}

for (const [name, measure] of Object.entries({ latency, paint, cost, review })) {
  if (!wanted(name)) continue;
  try {
    await measure();
  } catch (e) {
    console.error(`${name}: ${e.message}`);
    process.exit(1); // and with it all that was started
  }
}
