// What was recorded, as somebody sees it in a real browser: list, session, standings. Runs a daemon of its own
// over an invented season. Needs Go, Chromium and a built bundle.
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { browser as chromium, drop, folder, launch, program, serve, until } from "./rig.mjs";

const repo = join(import.meta.dirname, "../../../..");
const axe = readFileSync(join(import.meta.dirname, "../node_modules/axe-core/axe.min.js"), "utf8");
const stalled = "2026-03-04-1127-unit-a-poultry-bones-2"; // a stall, a trip, a second start
const other = "2026-03-04-1236-unit-c-poultry-bones-2";

let dir, quern, daemon, base, browser;
const troubles = [];

before(
  async () => {
    dir = folder("record");
    quern = program(dir);
    execFileSync(quern, ["simulate", "--campaign", "--lab", join(repo, "testdata/lab"), "--out", join(dir, "season")]);
    const bench = join(dir, "season/lab/bench.toml");
    // The daemon wants a device; this one is not there.
    writeFileSync(bench, readFileSync(bench, "utf8") + '\n[scale.device]\nkind = "serial"\n[scale.device.port]\ndevice = "/dev/serial/none"\n');
    daemon = await serve(quern, ["serve", "--lab", join(dir, "season/lab"), "--unit", "unit-a", "--procedure", "mixed", "--out", join(dir, "season/sessions")]);
    base = daemon.at;
    browser = await launch();
  },
  { timeout: 180000 },
);

after(async () => {
  await browser?.close();
  await daemon?.stop();
  if (dir) drop(dir);
});

async function open(path, { width = 1440, height = 1000, theme = "light", script = true, when = "networkidle2" } = {}) {
  const p = await browser.newPage();
  p.setDefaultTimeout(60000); // what is waited for comes sooner, but on a busy machine not soon
  p.on("pageerror", (e) => troubles.push(`${path}: ${e.message}`));
  p.on("console", (m) => m.type() === "error" && !/status of (404|4\d\d)/.test(m.text()) && troubles.push(`${path}: ${m.text()}`));
  await p.setJavaScriptEnabled(script);
  await p.setViewport({ width, height });
  await p.emulateMediaFeatures([{ name: "prefers-color-scheme", value: theme }]);
  await p.goto(base + path, { waitUntil: when });
  return p;
}

const texts = (p, sel) => p.$$eval(sel, (all) => all.map((e) => e.textContent.trim().replace(/\s+/g, " ")));
const reading = (p) => p.$eval(".reading", (e) => e.textContent);
const hash = (p) => p.evaluate(() => location.hash);
const shown = async (p) => {
  const m = /from=([-\d.]+)&to=([-\d.]+)/.exec(await p.waitForFunction(() => location.hash.includes("from") && location.hash).then((h) => h.jsonValue()));
  return [Number(m[1]), Number(m[2])];
};
/** Waits until the reading line says what it should. */
const reads = (p, what) => until(async () => what.test(await reading(p)), `the reading says ${what}`);

test("the list without scripts: filters, words, further pages", async () => {
  const p = await open("/sessions", { script: false });
  assert.equal((await texts(p, ".sessions tbody tr:not(.day)")).length, 50);
  assert.match((await texts(p, ".turn"))[0], /Page 1 of 2 ?Older/);
  await Promise.all([p.waitForNavigation(), p.click('a[rel="next"]')]);
  assert.ok((await texts(p, ".sessions tbody tr:not(.day)")).length >= 2);
  await p.select("#verdict", "failed");
  await Promise.all([p.waitForNavigation(), p.click(".filter button")]);
  const rows = await texts(p, ".sessions .outcome");
  assert.equal(rows.length, 3);
  for (const r of rows) assert.match(r, /^failed.*left share .*at most 5\.00 %/);
  await p.close();
});

test("the list with scripts answers at once", async () => {
  const p = await open("/sessions");
  await p.select("#unit", "unit-b");
  await p.waitForFunction(() => location.search === "?unit=unit-b" && [...document.querySelectorAll(".of-unit")].every((e) => e.textContent.includes("unit-b")));
  await p.type("#q", "operator");
  await p.waitForFunction(() => document.querySelectorAll(".sessions tbody tr:not(.day)").length === 1);
  assert.match((await texts(p, ".outcome"))[0], /^void ?operator: the pieces to be held back went in first/);
  await p.type("#q", " nothing like it");
  await p.waitForFunction(() => document.querySelector("#list .say")?.textContent.includes("No session is like that"));
  await p.close();
});

test("names that are not released stand nowhere", async () => {
  const units = readFileSync(join(dir, "season/lab/units.toml"), "utf8");
  assert.match(units, /name = "invented unit C"\nrelease = "2046/);
  for (const path of ["/sessions", "/sessions?page=2", "/standings", "/standings?against=2026-03-03", "/sessions/" + other, `/sessions/${other}/result`, `/sessions/${stalled}?beside=${other}`, `/sessions/${other}/picture.svg`]) {
    const text = await (await fetch(base + path)).text();
    assert.ok(!/invented unit [CD]/.test(text), path);
    assert.match(text, /unit-c|unit-d/, path);
  }
});

test("a session without scripts: picture, events, gates, points, facts, checksums", async () => {
  const p = await open("/sessions/" + stalled, { script: false });
  await until(() => p.$eval(".picture", (i) => i.complete && i.naturalWidth > 600), "the picture is there", 60000);
  const heads = await texts(p, "h2, h3");
  for (const h of ["Gates", "Events", "Points", "Measures", "Weighings", "Remarks", "What it can be checked by"]) assert.ok(heads.includes(h), h + " in " + heads);
  assert.match((await texts(p, ".events"))[0], /trip \(presumed\).*presumed protector/);
  assert.match((await texts(p, ".sums"))[0], /manifest SHA-256\)[0-9a-f]{64}/);
  assert.equal(await p.$eval("#review", (e) => e.childElementCount), 0);
  await p.close();
});

test("plots: drawn, zoomed by wheel, keys and buttons, panned, followed by the address", async () => {
  const p = await open("/sessions/" + stalled, { height: 1200 });
  await p.waitForSelector(".plots .uplot");
  await p.waitForFunction(() => {
    const drawn = (c) => c.getContext("2d").getImageData(0, 0, c.width, c.height).data.some((v, i) => i % 4 === 3 && v > 0);
    const all = [...document.querySelectorAll(".plots .panel:not([hidden]) canvas")];
    return all.length > 0 && all.every(drawn);
  }); // no panel is blank
  await reads(p, /^Shown 0:00\.\d+ to 1:/);
  assert.equal(await hash(p), "");

  // A wheel over plots that were not chosen scrolls the page.
  const box = await (await p.$(".plots")).boundingBox();
  await p.mouse.move(box.x + 400, box.y + 200);
  await p.mouse.wheel({ deltaY: 100 });
  await p.waitForFunction(() => scrollY > 0);
  assert.equal(await hash(p), "");
  await p.mouse.wheel({ deltaY: -100 });
  await p.waitForFunction(() => scrollY === 0);
  await p.mouse.click(box.x + 400, box.y + 200);
  assert.match(await reading(p), /^At 0:\d\d\.\d+.*Motor .*A-weighted level \d+\.\d dB\(A\).*Current \d/);
  await p.mouse.wheel({ deltaY: -500 });
  const [a, b] = await shown(p);
  assert.ok(b - a < 40 && b - a > 10, `${a} to ${b}`);

  await p.keyboard.press("+");
  const [c, d] = await until(async () => {
    const [from, to] = await shown(p);
    return Math.abs((to - from) / (b - a) - 0.5) < 0.01 && [from, to];
  }, "plus halves the view");
  await p.mouse.down();
  await p.mouse.move(box.x + 600, box.y + 210, { steps: 6 });
  await p.mouse.up();
  await until(async () => {
    const [from, to] = await shown(p);
    return from < c && Math.abs(to - from - (d - c)) < 0.01 * (d - c);
  }, "dragged to the right shows what was before");
  await p.keyboard.press("Home");
  await p.waitForFunction(() => location.hash === "");
  await p.mouse.click(box.x + 80, box.y + 200);
  await p.keyboard.press("PageDown");
  await reads(p, /Event motor start/);
  await p.keyboard.press("PageDown");
  await reads(p, /Event load start/);
  await until(async () => /load start/.test(await p.$eval('[role="status"].unseen', (e) => e.textContent)), "told to who does not see it");
  for (const word of ["−", "→", "←", "Whole", "The run", "Event before", "Fit heights"]) await p.evaluate((w) => [...document.querySelectorAll(".bar button")].find((b) => b.textContent === w).click(), word);
  assert.equal(await p.$eval('.bar [aria-pressed="true"]', (b) => b.textContent), "Fit heights");

  // From an event in the table to its instant, as deep as samples.
  await p.evaluate(() => [...document.querySelectorAll("a.goto")].find((a) => a.closest("tr").textContent.includes("stall start")).click());
  await reads(p, /Event stall start/);
  for (let i = 0; i < 8; i++) await p.click('button[aria-label="Zoom in"]');
  await until(async () => {
    const deep = await texts(p, ".panel:not([hidden]) > .title");
    return deep.some((t) => t.startsWith("Current, A, as it flows")) && deep.some((t) => t.startsWith("Sound pressure, Pa"));
  }, "current and sound pressure as they flow");
  await p.close();
});

test("a link to a stretch shows that stretch, and only envelopes of its size are sent", async () => {
  const p = await browser.newPage();
  const sent = [];
  p.on("response", async (r) => r.url().includes("/series?") && sent.push(await r.text().then((t) => t.length, () => 0)));
  await p.setViewport({ width: 1440, height: 1000 });
  await p.goto(`${base}/sessions/${stalled}#from=18&to=20`, { waitUntil: "networkidle0" });
  assert.match(await reading(p), /^Shown 0:18\.0+ to 0:20\.0+$/);
  assert.ok(sent.length >= 3 && Math.max(...sent) < 200000, `sent ${sent}`);
  await p.close();
});

test("two sessions on one axis, aligned at the motor's start", async () => {
  const p = await open(`/sessions/${stalled}`);
  await p.select("#beside", other);
  await Promise.all([p.waitForNavigation({ waitUntil: "networkidle2" }), p.evaluate(() => document.querySelector(".beside button").click())]);
  const titles = await texts(p, ".panel > .title");
  assert.equal(titles.filter((t) => t.startsWith("Third-octave")).length, 2);
  assert.ok(titles.some((t) => t.startsWith("A-weighted level") && t.includes("dashed: ") && t.includes("unit-c")), titles.join("; "));
  await p.click(".plots", { offset: { x: 700, y: 300 } });
  assert.match(await reading(p), /from the motor's start.*A-weighted level of the other \d/);
  await p.keyboard.press("Home");
  for (let i = 0; i < 1; i++) await p.keyboard.press("PageDown");
  assert.ok((await texts(p, ".listen button")).length === 2, "both can be heard");
  await p.close();
});

test("the visible stretch is heard", async () => {
  const p = await open(`/sessions/${stalled}#from=5&to=12`);
  const [wav] = await Promise.all([p.waitForResponse((r) => r.url().includes("/sound.wav")), p.evaluate(() => document.querySelector(".listen button").click())]);
  assert.match(wav.url(), /from=5\.000&to=12\.000/);
  assert.equal(wav.status() < 300, true);
  await p.waitForFunction(() => document.querySelector("audio").currentTime > 0.2);
  assert.ok(await p.$eval(".playhead", (e) => !e.hidden));
  await p.close();
});

test("a remark, a correction, and taking it back", async () => {
  const p = await open("/sessions/" + stalled);
  await p.click(".plots", { offset: { x: 500, y: 60 } });
  const at = await p.$eval("#remark-at", (e) => e.textContent);
  assert.match(at, /^0:\d\d\.\d$/);
  await p.$eval("#remark-text", (e) => (e.value = "a spoon fell in"));
  await p.$eval("#remark-who", (e) => (e.value = "invented reviewer"));
  await Promise.all([p.waitForNavigation({ waitUntil: "networkidle2" }), p.$eval("#remark button", (b) => b.click())]);
  assert.match(await p.$eval("#said-back", (e) => e.textContent), /^On record as fact \d+, by invented reviewer\.$/);
  const remarks = (await texts(p, "main li")).filter((t) => t.includes("a spoon fell in"));
  assert.ok(remarks.some((t) => t.startsWith(at)), `the remark stands where the cursor stood, at ${at}: ${remarks}`);

  await p.select("#correct-what", "void");
  await p.select("#new-void", "operator");
  await p.$eval("#correct-why", (e) => (e.value = "fed too fast"));
  assert.equal(await p.$eval("#correct-who", (e) => e.value), "invented reviewer");
  await Promise.all([p.waitForNavigation({ waitUntil: "networkidle2" }), p.$eval("#correct button", (b) => b.click())]);
  assert.match((await texts(p, ".verdicts"))[0], /^void operator: fed too fast/);
  const list = await (await fetch(`${base}/sessions?verdict=void`)).text();
  assert.ok(list.includes(stalled), "the list knows at once");
  await Promise.all([p.waitForNavigation({ waitUntil: "networkidle2" }), p.$eval(".undo:not([hidden])", (b) => b.click())]);
  assert.match((await texts(p, ".verdicts"))[0], /^passed/);
  assert.equal((await texts(p, ".corrections li")).length, 2, "nothing was removed");

  // What makes no sense is refused in words, and nothing is lost.
  await p.select("#correct-what", "measure");
  await p.$eval("#new-measure", (e) => (e.value = "a lot"));
  await p.$eval("#correct-why", (e) => (e.value = "to see"));
  await p.$eval("#correct button", (b) => b.click());
  await p.waitForFunction(() => /Nothing was put on record: .*a value in the measure's unit/.test(document.getElementById("said-back").textContent));
  await p.close();
});

test("what other settings would change", async () => {
  const p = await open("/sessions/" + stalled);
  await p.$eval("#what-if-text", (e) => (e.value = "detect.motor.trip_after_s = 60.0"));
  await p.$eval("#what-if-form .primary", (b) => b.click());
  await p.waitForFunction(() => document.querySelector("#what-if-said ul"));
  const said = await p.$eval("#what-if-said", (e) => e.textContent);
  assert.match(said, /detect\.motor\.trip_after_s = 60\.0 instead of 3\.0/);
  assert.match(said, /trip \(presumed\) at 0:2\d\.\d\d is gone/);
  assert.match(said, /motor stop at 0:2\d\.\d\d is new/);
  assert.ok((await texts(p, ".panel > .title")).some((t) => t.startsWith("Under these settings")), "the ribbon under them stands below the present one");
  await p.$eval("#what-if-text", (e) => (e.value = "detect.motor.trip_after_s = 60.0\ndetect.motor.no_such = 1"));
  await p.$eval("#what-if-form .primary", (b) => b.click());
  await p.waitForFunction(() => /no_such/.test(document.querySelector("#what-if-said .wrong")?.textContent ?? ""));
  await p.close();
});

test("standings: places, certainty, causes, and weights that rank as a replay would", async () => {
  const p = await open("/standings?against=2026-03-03");
  const lines = await texts(p, ".standings tbody tr");
  assert.equal(lines.length, 6);
  assert.match(lines[0], /^1 ?invented unit B \(unit-b\)/);
  assert.ok((await texts(p, "h2")).includes("What moved since 2026-03-03"));
  assert.ok((await texts(p, "#rest")).join().includes("not tested (no run), left out, the rest reweighted"));
  await p.evaluate(() => (document.querySelector(".vary").open = true));
  await p.$eval("#w-noise + input[type=range]", (s) => {
    s.value = "75";
    s.dispatchEvent(new Event("input", { bubbles: true }));
  });
  await p.waitForFunction(() => location.search.includes("w.noise=75"));
  const varied = await texts(p, ".standings tbody tr");
  assert.notDeepEqual(varied, lines);
  const plain = await open("/standings?w.noise=75&against=2026-03-03", { script: false });
  assert.deepEqual(await texts(plain, ".standings tbody tr"), varied);
  assert.match(await plain.$eval(".wrong", (e) => e.textContent), /not the standings/);
  await plain.close();
  await p.close();
});

test("a session that is not analysed yet opens, and is analysed", async () => {
  const from = join(dir, "season/sessions", other);
  const out = join(dir, "season/sessions/2026-03-20-late");
  const wav = readdirSync(join(from, "recordings"));
  const part = (c) => wav.filter((f) => f.startsWith(c)).flatMap((f) => ["--" + c, join(from, "recordings", f)]);
  execFileSync(quern, ["import", "--lab", join(dir, "season/lab"), "--unit", "unit-c", "--procedure", "poultry-bones", "--out", out, ...part("microphone"), ...part("clamp"), "--start", "2026-03-20T09:00:00Z"]);
  const p = await open("/sessions/2026-03-20-late");
  await p.waitForSelector(".plots .uplot");
  await p.waitForFunction(() => document.querySelector(".events"));
  assert.match((await texts(p, ".events"))[0], /motor start/);
  await p.close();
});

test("no session of that name, and names that are no names", async () => {
  for (const name of ["nope", "%2e%2e%2flab", "..%2flab", "a%00b", ".index.sqlite"]) {
    const r = await fetch(`${base}/sessions/${name}`, { headers: { Accept: "text/html" }, redirect: "manual" });
    assert.ok(r.status >= 400 && r.status < 500, `${name}: ${r.status}`);
  }
});

test("nothing for a checker of accessibility to find, on any page, theme and size", { timeout: 240000 }, async () => {
  for (const path of ["/sessions", "/sessions?q=nothing-like-it", `/sessions/${stalled}`, `/sessions/${stalled}?beside=${other}#from=18&to=19`, "/standings?against=2026-03-03", "/sessions/nope"]) {
    for (const theme of ["light", "dark"]) {
      for (const [width, height] of [[390, 844], [1024, 768], [1920, 1080]]) {
        const p = await open(path, { width, height, theme });
        if (path.includes(stalled)) await p.waitForFunction(() => !document.querySelector(".early"));
        await p.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
        await p.setBypassCSP(true);
        const found = await p.evaluate(async (src) => {
          (0, eval)(src);
          const r = await window.axe.run(document, { resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
          return r.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 100) + " " + n.any.map((x) => x.message)).slice(0, 3).join(" | ")}`);
        }, axe);
        assert.deepEqual(found, [], `${path} ${theme} ${width}`);
        const wide = await p.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        assert.ok(wide <= 0, `${path} at ${width} scrolls sideways by ${wide}`);
        await p.close();
      }
    }
  }
});

test("no page had an error, or asked for what the policy forbids", () => assert.deepEqual(troubles, []));
