// What the tests in a browser share: the worked bench, the daemon, the browser.
import { execFileSync, spawn, spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import puppeteer from "puppeteer-core";

const here = import.meta.dirname;
export const browser = process.env.QUERN_BROWSER ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(existsSync);
export const why = !browser ? "no Chromium here" : spawnSync("python3", ["--version"]).status !== 0 ? "no python3 here, which plays the devices" : false;

/** Builds the program once, unless QUERN names one. */
export function program(dir) {
  if (process.env.QUERN) return process.env.QUERN;
  const out = join(dir, "quern");
  execFileSync("go", ["build", "-o", out, "quern/cmd/quern"], { cwd: join(here, "../../../.."), stdio: "inherit" });
  return out;
}

/** Waits until f gives something true, and returns it. */
export async function until(f, what, ms = 15000) {
  const end = Date.now() + ms;
  for (let last; ; ) {
    try {
      const got = await f();
      if (got) return got;
    } catch (e) {
      last = e;
    }
    if (Date.now() > end) throw new Error(`not within ${ms / 1000} s: ${what}${last ? ": " + last.message : ""}`);
    await new Promise((r) => setTimeout(r, 50));
  }
}

/** Starts the worked bench and a daemon on it. */
export async function start() {
  const dir = mkdtempSync(join(tmpdir(), "quern-pages-"));
  const lab = join(dir, "lab");
  const bench = spawn("python3", [join(here, "bench.py"), lab], { stdio: ["pipe", "pipe", "inherit"] });
  await new Promise((done) => bench.stdout.once("data", done));
  const sessions = join(dir, "sessions");
  const daemon = spawn(program(dir), ["serve", "--lab", lab, "--unit", "unit-a", "--procedure", "mixed", "--out", sessions, "--listen", "127.0.0.1:0"], { stdio: ["ignore", "ignore", "pipe"] });
  let log = "";
  daemon.stderr.on("data", (d) => (log += d));
  const address = await until(() => /listen=(\S+)/.exec(log)?.[1], "the daemon says where it listens: " + log);
  const at = "http://" + address;
  return {
    at,
    sessions,
    daemon,
    log: () => log,
    /** Changes what the devices show; see bench.py. */
    play: (change) => bench.stdin.write(JSON.stringify(change) + "\n"),
    /** The same, and the wall time at which they began to, ms. */
    playAt: async (change) => {
      const told = new Promise((done) => bench.stdout.once("data", (d) => done(Number(String(d).trim().split("\n").at(-1)))));
      bench.stdin.write(JSON.stringify(change) + "\n");
      return told;
    },
    status: async () => (await fetch(at + "/status")).json(),
    stop: async () => {
      const gone = new Promise((done) => daemon.once("exit", done));
      daemon.kill("SIGCONT");
      daemon.kill("SIGTERM");
      bench.stdin.end();
      await gone;
      rmSync(dir, { recursive: true, force: true });
    },
  };
}

export const launch = () =>
  puppeteer.launch({ executablePath: browser, args: ["--no-sandbox", "--disable-dev-shm-usage", "--autoplay-policy=no-user-gesture-required"] });

/** Where screenshots go; nowhere without QUERN_SHOTS. */
export async function shot(page, name) {
  if (process.env.QUERN_SHOTS) await page.screenshot({ path: join(process.env.QUERN_SHOTS, name + ".png") });
}
