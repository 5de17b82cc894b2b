// What the tests in a browser share: the worked bench, the daemon, the browser. All that is started here ends with
// this process, however that ends.
import { execFileSync, spawn, spawnSync } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, readdirSync, readlinkSync, rmSync } from "node:fs";
import { constants, tmpdir } from "node:os";
import { join } from "node:path";
import puppeteer from "puppeteer-core";

const here = import.meta.dirname;
export const browser = process.env.QUERN_BROWSER ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"].find(existsSync);
export const why = !browser ? "no Chromium here" : spawnSync("python3", ["--version"]).status !== 0 ? "no python3 here, which plays the devices" : false;

const folders = new Set(), children = new Set();
process.on("exit", () => {
  for (const child of children) child.kill("SIGKILL"); // what still runs would write into a folder that goes
  for (const dir of folders) drop(dir);
});
// Else a signal ends the process without its exit's handler.
for (const name of ["SIGINT", "SIGTERM", "SIGHUP"]) process.once(name, () => process.exit(128 + constants.signals[name]));

/** A folder that is gone when this process is. */
export function folder(name) {
  const dir = mkdtempSync(join(tmpdir(), `quern-${name}-`));
  folders.add(dir);
  return dir;
}

export function drop(dir) {
  rmSync(dir, { recursive: true, force: true, maxRetries: 5, retryDelay: 200 });
  folders.delete(dir);
}

/** Starts a program that the kernel ends with this process, if nothing else does. */
function run(command, args, stdio) {
  const child = spawn("setpriv", ["--pdeathsig", "KILL", "--", command, ...args], { stdio });
  children.add(child);
  child.gone = new Promise((done) => child.once("exit", done)).then(() => children.delete(child));
  return child;
}

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
    if (Date.now() > end) throw new Error(`not within ${ms / 1000} s: ${what}${last ? ": " + last.message : ""}${shared()}`);
    await new Promise((r) => setTimeout(r, 50));
  }
}

/** Starts a daemon with pages, and waits until they can be opened. */
export async function serve(quern, args) {
  const daemon = run(quern, [...args, "--listen", "127.0.0.1:0"], ["ignore", "ignore", "pipe"]);
  let log = "", ended = false;
  daemon.stderr.on("data", (d) => (log += d));
  daemon.gone.then(() => (ended = true));
  const address = await until(() => /listen=(\S+)/.exec(log)?.[1] ?? (ended && "-"), "the daemon says where it listens");
  if (address === "-") throw new Error("the daemon ended: " + log);
  const at = "http://" + address;
  if (!(await fetch(at + "/assets/operator.js")).ok) throw new Error(`${quern} was built without the scripts of its pages: run deploy/web.sh, then build it again`);
  return {
    at,
    daemon,
    log: () => log,
    stop: async () => {
      daemon.kill("SIGCONT");
      daemon.kill("SIGTERM");
      await daemon.gone;
    },
  };
}

const ports = new Set(); // of the worked bench

/** Says who else has a port of the bench open; "": nobody. A pseudo-terminal has the number of one that is gone, and
 *  whoever waits for that one takes half of what is played. */
export function shared() {
  const ours = [process.pid, ...[...children].map((c) => c.pid)].map(String);
  const held = [];
  for (const pid of readdirSync("/proc").filter((n) => /^\d+$/.test(n) && !ours.includes(n))) {
    try {
      const port = readdirSync(`/proc/${pid}/fd`).map((fd) => readlinkSync(`/proc/${pid}/fd/${fd}`)).find((to) => ports.has(to));
      if (port) held.push(`process ${pid} (${readFileSync(`/proc/${pid}/cmdline`, "utf8").replaceAll("\0", " ").trim()}) has ${port} open`);
    } catch {
      // another user's, or gone
    }
  }
  return held.length > 0 ? `; ${held.join(", ")}, which is a port of this bench and takes what is played on it: end that process` : "";
}

/** Starts the worked bench and a daemon on it. */
export async function start() {
  const dir = folder("pages");
  const lab = join(dir, "lab");
  const bench = run("python3", [join(here, "bench.py"), lab], ["pipe", "pipe", "inherit"]);
  const told = () => new Promise((done) => bench.stdout.once("data", (d) => done(String(d).trim())));
  const [, ...open] = (await told()).split(" "); // "ready", and its ports
  for (const port of open) ports.add(port);
  const sessions = join(dir, "sessions");
  const served = await serve(program(dir), ["serve", "--lab", lab, "--unit", "unit-a", "--procedure", "mixed", "--out", sessions]);
  if (shared()) throw new Error("the bench cannot be played" + shared());
  return {
    ...served,
    sessions,
    /** Changes what the devices show; see bench.py. */
    play: (change) => bench.stdin.write(JSON.stringify(change) + "\n"),
    /** The same, and the wall time at which they began to, ms. */
    playAt: async (change) => {
      const at = told();
      bench.stdin.write(JSON.stringify(change) + "\n");
      return Number((await at).split("\n").at(-1));
    },
    status: async () => (await fetch(served.at + "/status")).json(),
    stop: async () => {
      await served.stop();
      bench.stdin.end();
      await bench.gone;
      for (const port of open) ports.delete(port);
      drop(dir);
    },
  };
}

export const launch = () =>
  puppeteer.launch({ executablePath: browser, pipe: true, args: ["--no-sandbox", "--disable-dev-shm-usage", "--autoplay-policy=no-user-gesture-required"] });

/** Where screenshots go; nowhere without QUERN_SHOTS. */
export async function shot(page, name) {
  if (process.env.QUERN_SHOTS) await page.screenshot({ path: join(process.env.QUERN_SHOTS, name + ".png") });
}
