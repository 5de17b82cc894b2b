// Measures what cannot be asked for in a test, for it hangs on the machine: how long an event on the bench takes
// to the screen, what five open pages cost the daemon, when a slow processor first paints, how soon a session from
// within is drawn and zoomed. Prints a table. Run it on an otherwise quiet machine:
//
//   node test/figures.mjs [latency] [paint] [cost] [review]      QUERN: a built program
import { spawn } from "node:child_process";
import { mkdtempSync, readFileSync, readdirSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { launch, program, start, until } from "./rig.mjs";

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
async function simulated(scenario, speed) {
  const dir = mkdtempSync(join(tmpdir(), "quern-figures-"));
  const daemon = spawn(program(dir), ["serve", "--simulate", scenario, "--speed", String(speed), "--out", join(dir, "sessions"), "--listen", "127.0.0.1:0"], { stdio: ["ignore", "ignore", "pipe"] });
  let log = "";
  daemon.stderr.on("data", (d) => (log += d));
  const at = "http://" + (await until(() => /listen=(\S+)/.exec(log)?.[1], "the daemon listens"));
  return {
    at,
    /** Processor time used so far, s. */
    used: () => {
      const f = readFileSync(`/proc/${daemon.pid}/stat`, "utf8").split(") ")[1].split(" ");
      return (Number(f[11]) + Number(f[12])) / 100;
    },
    stop: async () => {
      const gone = new Promise((done) => daemon.once("exit", done));
      daemon.kill("SIGTERM");
      await gone;
      rmSync(dir, { recursive: true, force: true });
    },
  };
}

/** Notes when an element's text was first painted as wanted: the frame after the one in which it changed. */
const watch = (page, css, want) =>
  page.evaluate((css, want) => {
    window.painted = new Promise((done) => {
      const look = () => {
        if (new RegExp(want).test(document.querySelector(css)?.textContent ?? "")) requestAnimationFrame(() => done(Date.now()));
        else requestAnimationFrame(look);
      };
      look();
    });
  }, css, want);

/** The wall time of that frame, ms. */
const painted = async (page, css, what) => {
  const at = await Promise.race([page.evaluate(() => window.painted), sleep(20000)]);
  if (!at) throw new Error(`not within 20 s: ${what} is painted; the page says “${await page.$eval(css, (e) => e.textContent)}”`);
  return at;
};

async function latency() {
  const rig = await start();
  const chrome = await launch();
  for (const [path, css] of [["/", "#state"], ["/air", "#state"]]) {
    const page = await chrome.newPage();
    await page.goto(rig.at + path, { waitUntil: "domcontentloaded" });
    await until(() => page.$eval(css, (e) => e.textContent.trim() === "Off"), "the motor stands on " + path);
    await page.bringToFront();
    const started = [], stopped = [];
    for (let i = 0; i < 40; i++) {
      await sleep(2000 + 37 * i); // at every place of the daemon's and the screen's rounds
      await watch(page, css, "Starting|No load|Running|Loaded|Clear|Overloaded");
      let t = await rig.playAt({ a: 28, ragged: 0.02, db: 72 }); // an inrush of some cycles, then no load
      setTimeout(() => rig.play({ a: 4 }), 150);
      started.push((await painted(page, css, "the start")) - t);
      await sleep(1500);
      await watch(page, css, "Off");
      t = await rig.playAt({ a: 0, ragged: 0, db: 45 });
      stopped.push((await painted(page, css, "the stop")) - t);
    }
    say(`motor start to pixels, ${path}`, spread(started));
    say(`motor stop to pixels, ${path}`, spread(stopped));
    await page.close();
  }
  await chrome.close();
  await rig.stop();
}

async function paint() {
  const rig = await simulated("stall-and-trip", 1);
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
  const rig = await simulated("stall-and-trip", 1);
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
    const daemon = spawn(program(tmpdir()), ["pages", dir, "--lab", lab, "--listen", "127.0.0.1:0"], { stdio: ["ignore", "ignore", "pipe"] });
    let log = "";
    daemon.stderr.on("data", (d) => (log += d));
    const at = "http://" + (await until(() => /listen=(\S+)/.exec(log)?.[1], "the pages can be opened"));
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
    const gone = new Promise((done) => daemon.once("exit", done));
    daemon.kill("SIGTERM");
    await gone;
  }
}

for (const [name, f] of Object.entries({ latency, paint, cost, review })) if (wanted(name)) await f();
