// Reports in a browser: valid HTML, no violation that axe finds, in both themes, at the width of a phone and of a
// desk; nothing asked of any network; and on paper.
//
//   QUERN=path/to/quern node --test rig/live/web/test/report.test.mjs      (without QUERN it is built first)
import assert from "node:assert/strict";
import { execFileSync } from "node:child_process";
import { readFileSync, readdirSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import { HtmlValidate } from "html-validate";
import { browser as chromium, drop, folder, launch, program, shot } from "./rig.mjs";

const repo = join(import.meta.dirname, "../../../..");
const axe = readFileSync(join(import.meta.dirname, "../node_modules/axe-core/axe.min.js"), "utf8");
const why = chromium ? false : "no Chromium here";

let dir, pages, browser;

before(
  async () => {
    if (why) return;
    dir = folder("report");
    const quern = program(dir);
    const season = join(dir, "season");
    const run = (...args) => execFileSync(quern, args, { encoding: "utf8" });
    run("simulate", "--campaign", "--units", "4", "--lab", join(repo, "testdata/lab"), "--out", season);
    const [lab, sessions] = [join(season, "lab"), join(season, "sessions")];
    const of = (what) => join(sessions, readdirSync(sessions).find((f) => f.includes(what)));
    const remark = ["--target", "measure.la10_db", "--new", "70", "--who", `<b>ann</b>`, "--why", `"><script>alert(1)</script> & more`];
    run("correct", of("unit-a-mixed"), ...remark);
    const report = (what, out, ...more) => run("report", what, "--lab", lab, "--out", join(dir, out), ...more, ...(what.includes("/") ? [] : [sessions]));
    report("unit-a", "whole");
    report("unit-b", "whole", "--mass", "oz");
    report("unit-a", "masked", "--others", "masked");
    report("standings", "whole", "--against", "2026-03-03");
    report(of("unit-a-mixed"), "whole");
    report(of("poultry-bones"), "whole");
    pages = ["whole", "masked"].flatMap((d) =>
      readdirSync(join(dir, d))
        .filter((f) => f.endsWith(".html"))
        .map((f) => join(dir, d, f)),
    );
    browser = await launch();
  },
  { timeout: 300000 },
);

after(async () => {
  await browser?.close();
  if (dir) drop(dir);
});

test("the pages are valid HTML, and small enough", { skip: why }, async () => {
  assert.equal(pages.length, 6);
  const judge = new HtmlValidate({ extends: ["html-validate:recommended"], rules: { "long-title": "off", "no-inline-style": "error", "require-sri": "off" } });
  for (const page of pages) {
    const text = readFileSync(page, "utf8");
    assert.ok(text.length < 3 << 20, `${page} has ${text.length} bytes`);
    const found = (await judge.validateString(text, page)).results.flatMap((r) => r.messages.map((m) => `${m.line}:${m.column} ${m.ruleId} ${m.message}`));
    assert.deepEqual(found.slice(0, 10), [], page);
  }
});

test("no violation that axe finds, in both themes and widths; nothing asked of a network; nothing wider than the screen", { skip: why, timeout: 300000 }, async () => {
  for (const page of pages) {
    for (const theme of ["light", "dark"]) {
      for (const width of [390, 1280]) {
        const p = await browser.newPage();
        const asked = [];
        p.on("request", (r) => r.url().startsWith("data:") || asked.push(r.url()));
        p.on("pageerror", (e) => asked.push(String(e)));
        p.on("dialog", (d) => asked.push(d.message()));
        await p.setViewport({ width, height: 900 });
        await p.emulateMediaFeatures([{ name: "prefers-color-scheme", value: theme }]);
        await p.goto("file://" + page);
        await p.evaluate(() => document.querySelectorAll("details").forEach((d) => (d.open = true)));
        assert.deepEqual(asked, ["file://" + page]);
        await p.evaluate(axe);
        const found = await p.evaluate(async () => {
          const r = await window.axe.run(document, { resultTypes: ["violations"], runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] });
          return r.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html.slice(0, 160) + " " + n.any.map((x) => x.message)).slice(0, 3).join(" | ")}`);
        });
        assert.deepEqual(found, [], `${page} ${theme} ${width}`);
        const wide = await p.evaluate(() => document.documentElement.scrollWidth - innerWidth);
        assert.ok(wide <= 0, `${page} at ${width} scrolls sideways by ${wide}`);
        await shot(p, `report-${page.split("/").pop()}-${theme}-${width}`);
        await p.close();
      }
    }
  }
});

test("on paper: black on white, nothing folded, nothing cut off, numbered pages", { skip: why, timeout: 120000 }, async () => {
  for (const page of pages) {
    const p = await browser.newPage();
    await p.emulateMediaFeatures([{ name: "prefers-color-scheme", value: "dark" }]);
    await p.emulateMediaType("print");
    await p.setViewport({ width: 686, height: 971 }); // A4 less its margins, in CSS pixels
    await p.goto("file://" + page);
    const look = await p.evaluate(() => {
      const s = getComputedStyle(document.body);
      const cut = [...document.querySelectorAll(".scroll")].filter((e) => e.scrollWidth > e.clientWidth + 1).map((e) => e.getAttribute("aria-label") + ": " + (e.scrollWidth - e.clientWidth));
      return { color: s.color, ground: s.backgroundColor, cut };
    });
    assert.deepEqual(look, { color: "rgb(0, 0, 0)", ground: "rgb(255, 255, 255)", cut: [] }, page);
    assert.match(readFileSync(page, "utf8"), /counter\(page\) " \/ " counter\(pages\)/);
    const pdf = await p.pdf({ preferCSSPageSize: true });
    assert.equal(Buffer.from(pdf.slice(0, 5)).toString(), "%PDF-");
    await p.close();
  }
});
