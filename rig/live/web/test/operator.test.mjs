// Drives every button of the operator's page and of the on-camera page in a real browser, on devices played
// through ports of the kernel, and holds the daemon's own state to what was pressed.
//
//   node --test test/          QUERN: a built program; QUERN_SHOTS: a folder for screenshots
import assert from "node:assert/strict";
import { readdirSync, readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";
import { after, before, describe, test } from "node:test";
import { launch, shot, start, until, why } from "./rig.mjs";

const axe = readFileSync(createRequire(import.meta.url).resolve("axe-core/axe.min.js"), "utf8");

describe("the bench on a screen", { skip: why }, () => {
  let rig, chrome, page;
  const faults = [];

  before(async () => {
    rig = await start();
    chrome = await launch();
    page = await chrome.newPage();
    page.on("pageerror", (e) => faults.push(e.message));
    page.on("console", (m) => m.type() === "error" && faults.push(m.text()));
    page.on("request", (r) => r.url().startsWith(rig.at) || r.url().startsWith("data:") || faults.push("asks elsewhere: " + r.url()));
    await page.setViewport({ width: 1024, height: 768 });
    await page.goto(rig.at + "/", { waitUntil: "domcontentloaded" });
    await until(() => text("#age").then((t) => t === "live"), "the page is live");
  });
  after(async () => {
    await chrome?.close();
    await rig?.stop();
  });

  const text = (css) => page.$eval(css, (e) => e.textContent.trim());
  const says = (part) => until(async () => (await text("#say")).replaceAll("\u00a0", " ").includes(part), `the page says “${part}”`).catch(async (e) => assert.fail(`${e.message}; it says “${await text("#say")}”`));
  const message = (part) => until(async () => (await text("#message")).includes(part), `the message “${part}”`).catch(async (e) => assert.fail(`${e.message}; it is “${await text("#message")}”`));
  /** Finds and presses a button in one go: parts of the page are made anew at any time. */
  const press = (label) =>
    until(() => page.evaluate((l) => {
      const b = [...document.querySelectorAll("button")].find((b) => b.offsetParent && !b.disabled && b.textContent.trim().startsWith(l));
      b?.click();
      return !!b;
    }, label), `a button “${label}”`);
  /** Presses the key of the one button that begins and ends sessions, once it says so. */
  const turn = async (to) => {
    await until(async () => (await text("#turn")).startsWith(to), `the button says ${to}`);
    await new Promise((r) => setTimeout(r, 750)); // sooner it is the same press
    await page.keyboard.press("e");
    await until(async () => ((await rig.status()).session !== "") === (to === "Begin"), to === "Begin" ? "a session is open" : "the session is closed");
  };
  const step = async (id) => (await (await fetch(rig.at + "/guide")).json()).guide.steps.find((s) => s.id === id);
  const weighings = async () => (await rig.status()).scale.weighings ?? [];
  /** Waits for a pan that has come to rest with so much on it: both of one instant. */
  const rests = (g) => until(async () => {
    const s = await rig.status();
    return s.scale.ready && s.mass_g === g;
  }, `the pan is at rest with ${g} g`);
  const taken = (role, g) => until(async () => (await weighings()).some((w) => w.role === role && w.net_g === g), `${g} g of ${role}`).catch(async (e) => assert.fail(`${e.message}; “${await text("#message")}”, ${JSON.stringify(await weighings())}`));
  /** All that the sessions hold on record. */
  const record = () => readdirSync(rig.sessions, { recursive: true, withFileTypes: true }).filter((e) => e.isFile() && !e.name.endsWith(".wav")).map((e) => readFileSync(join(e.parentPath, e.name), "utf8")).join("\n");
  const recorded = (part) => until(() => record().includes(part), `on record: ${part}`);

  test("a check is put on record, taken back, and left out", async () => {
    await says("Check the scale");
    await page.type("input[name=nominal]", "500");
    await page.type("input[name=found]", "500,4");
    await press("Put on record");
    await message("on record: check of the scale");
    assert.equal((await step("check-scale")).state, "done");
    await recorded("500.4");
    await press("Undo");
    await message("taken back");
    assert.equal((await step("check-scale")).state, "now");
    await press("Not today");
    await until(async () => (await step("check-scale")).state === "skipped", "the check is left out");
    await turn("End");
  });

  test("ingredients are taken by themselves, withdrawn, and taken by the foot switch", async () => {
    await says("500 g of carrot");
    await page.select("#offers select", "bowl-1");
    await press("Take by itself");
    await until(async () => (await rig.status()).scale.expect?.item === "carrot", "carrot is expected");
    rig.play({ g: 450 });
    await until(async () => (await text("#measure")).includes("150 g to go"), "what is still to go");
    await shot(page, "weighing");
    rig.play({ g: 603 });
    const first = await until(async () => (await weighings())[0], "a weighing");
    assert.equal(first.net_g, 503);
    assert.equal(first.auto, true);
    await says("300 g of chicken wing");
    await page.keyboard.press("u");
    await until(async () => (await weighings())[0].withdrawn, "it is withdrawn");
    await says("500 g of carrot");
    await page.evaluate(() => document.activeElement?.blur());
    await until(async () => (await rig.status()).scale.ready, "the pan is at rest");
    await page.keyboard.press(" ");
    await until(async () => (await weighings()).filter((w) => !w.withdrawn && w.net_g === 503).length === 1, "Space takes the weight");
    await says("300 g of chicken wing");
    await press("Leave out");
    await until(async () => (await step("charge-chicken-wing")).state === "skipped", "the second ingredient is left out");
  });

  test("a mark stands at once, and words may follow", async () => {
    await page.keyboard.press("m");
    await message("marked");
    await page.type("#ask input", "guard reseated");
    await page.keyboard.press("Enter");
    await recorded("guard reseated (of the mark at ");
    await until(async () => (await page.$eval("#undo", (b) => b.value)).includes("guard reseated"), "the button takes back what was said last");
    await press("Undo");
    await recorded("taken back: guard reseated");
  });

  test("quiet, water, start: the motor is seen by itself", async () => {
    await says("Water on");
    await press("Water is on");
    await says("Switch on");
    assert.equal(await page.$eval("#offered", (b) => b.disabled), true);
    rig.play({ a: 4, ragged: 0.02, db: 72 });
    await until(async () => (await rig.status()).state === "no-load", "the motor runs");
    await until(async () => (await text("#state")) === "No load", "the page says so");
    await says("Let it run empty");
    await until(async () => (await text("#events")).includes("motor start"), "the event stands in the list");
    await says("Feed");
  });

  test("dangers are said while they hold", async () => {
    rig.play({ db: 91 });
    await until(async () => (await text("#dangers")).includes("hearing protection"), "hearing");
    assert.ok(record().includes("motor_start"));
    rig.play({ db: 72 });
    await until(async () => (await text("#dangers")) === "", "and not after");
  });

  test("inspect marks a pause and its end", async () => {
    await page.keyboard.press("i");
    await recorded("inspection begins");
    await until(() => page.$eval("#inspect", (b) => b.getAttribute("aria-pressed") === "true"), "the button is down");
    await press("Inspect");
    await recorded("inspection ends");
  });

  test("feeding, held-back pieces, clear, plug, drain, leftovers, end", async () => {
    await press("All is in");
    await says("held back");
    await press("All is in");
    await says("until it is clear");
    rig.play({ a: 0, ragged: 0, db: 45, g: 0 });
    await says("Switch on again, or end the run");
    // The analysis may find by itself that the chamber was clear.
    await until(async () => {
      if ((await text("#offered-words")) === "The run is over") await page.$eval("#offered", (b) => b.click());
      return (await text("#say")) === "Pull the plug";
    }, "the run is over");
    await until(async () => (await text("#dangers")).includes("Plug out"), "plug out");
    await press("It is out");
    await says("drain");
    await press("Drains from now");
    await message("it drains from now");
    await says("chamber");
    rig.play({ g: 148 });
    await rests(148);
    await page.select("#offers select", "bowl-1");
    await press("Take weight");
    await taken("chamber", 48);
    await says("coarse sieve");
    assert.equal(await page.$eval("#offers select", (s) => s.value), "sieve-coarse");
    rig.play({ g: 350 });
    await rests(350);
    await press("Take weight");
    await taken("coarse", 40); // less its wet tare
    await says("Done: end the session");
    await press("End session");
    await until(async () => (await rig.status()).session === "", "the session is closed");
  });

  test("begin, abort with a reason after the press, and take it back", async () => {
    await turn("Begin");
    await until(() => page.$eval("#abort", (b) => !b.disabled), "abort can be pressed");
    await page.keyboard.press("a");
    await message("void");
    await recorded("no reason given yet");
    await press("Rig fault");
    await message("rig fault");
    await recorded("rig fault");
    await press("Undo");
    await message("taken back: abort");
    await page.keyboard.press("a");
    await press("Unit failed");
    await recorded("the unit could not go on");
    await turn("End");
  });

  test("another unit and procedure are chosen, and chosen back", async () => {
    await page.select("select[name=unit]", "unit-b");
    await page.select("select[name=procedure]", "quick");
    await press("Choose");
    await message("chosen: unit-b, quick");
    await until(async () => (await rig.status()).unit === "unit-b" && (await rig.status()).procedure === "quick", "chosen");
    await until(async () => (await text("#blind")) === "unit-b" && (await text("#limit")) === "0:30", "the page follows");
    await press("Undo");
    await until(async () => (await rig.status()).unit === "unit-a", "chosen back");
    await until(() => page.$eval(".choose select[name=unit]", (s) => s.value === "unit-a"), "what may be chosen follows what is");
  });

  test("filming: blind codes only, nothing moves, nothing opens", async () => {
    await page.keyboard.press("f");
    await until(() => page.$eval("body", (b) => b.classList.contains("filming")), "filming");
    await page.reload({ waitUntil: "domcontentloaded" });
    await until(() => text("#age").then((t) => t === "live"), "the page is live");
    assert.equal(await page.$eval("body", (b) => b.classList.contains("filming")), true, "it is remembered");
    assert.doesNotMatch(await page.content(), /Invented Grinder/);
    const places = () => page.evaluate(() => [".place", "#how", "#measure", "#offers", "#dangers", "#ribbon", "#level", "#clock", "#message", ".acts"].map((c) => `${c} at ${Math.round(document.querySelector(c).getBoundingClientRect().top)}`));
    await until(async () => (await text("#level")) !== "–", "figures");
    rig.play({ db: 50 });
    const was = await places();
    await turn("Begin");
    await page.keyboard.press("m");
    await message("marked");
    assert.equal(await page.$eval("#ask", (e) => e.childElementCount), 0, "nothing opens");
    rig.play({ a: 4, ragged: 0.02, db: 92 });
    await until(async () => (await text("#state")) === "No load" && (await text("#dangers")) !== "", "the motor runs");
    await shot(page, "filming");
    assert.deepEqual(await places(), was, "nothing has moved");
    await page.keyboard.press("e");
    await message("the motor runs: switch it off first");
    assert.notEqual((await rig.status()).session, "", "the run is not cut in two by a slip");
    rig.play({ a: 0, ragged: 0, db: 45 });
    await until(async () => (await text("#state")) === "Off", "the motor stands");
    assert.deepEqual(await places(), was, "nothing has moved");
    await page.keyboard.press("f");
    await turn("End");
  });

  test("sound, flash, letter keys and the foot switch can be set", async () => {
    for (const id of ["sound", "flash"]) {
      await page.$eval("#" + id, (b) => b.click());
      assert.equal(await page.$eval("#" + id, (b) => b.getAttribute("aria-pressed")), "true");
    }
    const flashed = page.waitForFunction(() => document.body.dataset.flash === "motor start", { timeout: 60000, polling: 20 });
    rig.play({ a: 4, ragged: 0.02, db: 72 });
    await flashed;
    rig.play({ a: 0, ragged: 0, db: 45 });
    await until(async () => (await rig.status()).state === "off", "the motor stands");
    await page.$eval("#letters", (b) => b.click());
    const session = (await rig.status()).session;
    await page.keyboard.press("e");
    await new Promise((r) => setTimeout(r, 300));
    assert.equal((await rig.status()).session, session, "letters are off");
    await page.$eval("#letters", (b) => b.click());
    await page.$eval("#foot", (b) => b.click());
    await page.keyboard.press("b");
    assert.equal(await text("#foot-key"), "B");
    const before = await text("#place");
    await page.evaluate(() => document.activeElement?.blur());
    await page.keyboard.press("b");
    await until(async () => (await text("#place")) !== before || (await text("#message")) !== "", "the foot switch acts");
    for (const id of ["sound", "flash"]) await page.$eval("#" + id, (b) => b.click());
    await turn("End");
  });

  test("a source that is gone is the one message, and comes back", async () => {
    rig.play({ silent: ["scale"] });
    await message("scale");
    await until(async () => /scale\s+(late|lost)/.test(await text("#sources")), "the source in words");
    await shot(page, "source-lost");
    rig.play({ silent: [] });
    await until(async () => /scale\s+live/.test(await text("#sources")), "it is back");
    await until(async () => (await text("#message")) === "", "and quiet again");
  });

  test("old figures say so, and the trace has no hole afterwards that the daemon does not have", async () => {
    rig.daemon.kill("SIGSTOP");
    await until(() => page.$eval("body", (b) => b.classList.contains("old")), "the page greys");
    await until(async () => /Figures are \d+ s old/.test(await text("#age")), "and says how old it is", 5000);
    await shot(page, "old");
    rig.daemon.kill("SIGCONT");
    await until(() => page.$eval("body", (b) => !b.classList.contains("old")), "it is live again");
  });

  test("without a script the page says the same, and its buttons work", async () => {
    const plain = await chrome.newPage();
    await plain.setJavaScriptEnabled(false);
    await plain.goto(rig.at + "/");
    const plainText = (css) => plain.$eval(css, (e) => e.textContent.trim());
    assert.match(await plainText("#state"), /^Off$/);
    assert.match(await plainText("#level"), /^\d+\.\d$/);
    await Promise.all([plain.waitForNavigation(), plain.click("#turn")]);
    await until(async () => (await rig.status()).session !== "", "a session is open");
    await Promise.all([plain.waitForNavigation(), plain.click("button[data-key=m]")]);
    assert.equal(new URL(plain.url()).pathname, "/");
    await new Promise((r) => setTimeout(r, 750)); // sooner it is the same press
    await Promise.all([plain.waitForNavigation(), plain.click("#turn")]);
    await until(async () => (await rig.status()).session === "", "the session is closed");
    await Promise.all([plain.waitForNavigation(), plain.click("button[data-key=m]")]);
    assert.match(await plainText("#message"), /no session is open/, "what stands against it is said");
    await plain.close();
  });

  test("the on-camera page: formats, grounds, slate", async () => {
    await turn("Begin");
    const air = await chrome.newPage();
    air.on("pageerror", (e) => faults.push(e.message));
    await air.setViewport({ width: 1280, height: 720 });
    const away = new Date().getTimezoneOffset() === -540 ? "America/Chicago" : "Asia/Tokyo"; // neither has the bench's time
    await air.emulateTimezone(away);
    await air.goto(rig.at + "/air?format=16x9&background=none&fps=30");
    await until(() => air.$eval("#wall", (e, t) => t.includes(e.textContent.slice(0, 5)), [0, 60e3].map((ms) => new Date(Date.now() - ms).toTimeString().slice(0, 5))), "the wall clock is the bench's");
    assert.equal(await air.evaluate(() => getComputedStyle(document.body).backgroundColor), "rgba(0, 0, 0, 0)");
    const inside = await air.$eval(".safe", (e) => {
      const r = e.getBoundingClientRect(), inner = [...e.children].map((c) => c.getBoundingClientRect()).filter((c) => c.width > 2);
      return inner.every((c) => c.left >= r.width * 0.05 - 1 && c.right <= r.width * 0.95 + 1 && c.top >= r.height * 0.05 - 1 && c.bottom <= r.height * 0.95 + 1);
    });
    assert.ok(inside, "5 % are kept free on every side");
    await until(() => air.$eval("#state", (e) => e.textContent === "Off"), "the state");
    await air.bringToFront();
    await air.evaluate(() => {
      window.lit = [];
      const slate = document.querySelector("#slate");
      new MutationObserver(() => window.lit.push(slate.classList.contains("lit"))).observe(slate, { attributes: true, attributeFilter: ["class"] });
    });
    await air.keyboard.press("s");
    await until(() => air.evaluate(() => window.lit.join() === "true,false"), "the slate is lit, and dark again");
    const shown = await air.$eval("#slate-time", (e) => e.textContent);
    assert.match(shown, /^\d\d:\d\d:\d\d:[0-2]\d$/);
    await recorded(`frame ${shown} at 30 a second`);
    await air.setViewport({ width: 540, height: 960 });
    await air.goto(rig.at + "/air?format=9x16&background=solid");
    assert.notEqual(await air.evaluate(() => getComputedStyle(document.body).backgroundColor), "rgba(0, 0, 0, 0)");
    const over = await air.evaluate(() => {
      document.querySelector("#level").textContent = "104";
      document.querySelector("#current").textContent = "130.4";
      const words = document.createRange();
      words.selectNodeContents(document.querySelector("#current"));
      return words.getBoundingClientRect().right - 0.95 * innerWidth;
    });
    assert.ok(over <= 0, `the largest figures of a tall frame reach ${over} px beyond what is kept free`);
    await air.close();
    await page.bringToFront();
    await turn("End");
  });

  test("the on-camera page shows a new state at once, all else with the film's frames", async () => {
    const air = await chrome.newPage();
    await air.evaluateOnNewDocument(() => {
      window.EventSource = class extends EventTarget {
        constructor() {
          super();
          window.wire = this;
        }
        close() {}
      };
      let asked = [];
      window.requestAnimationFrame = (f) => asked.push(f);
      window.frame = (ms) => { // the screen's
        const now = asked;
        asked = [];
        for (const f of now) f(ms);
      };
    });
    await air.goto(rig.at + "/air?fps=25", { waitUntil: "load" });
    const base = await rig.status();
    const at = (ms, change) =>
      air.evaluate((ms, s) => {
        window.wire.dispatchEvent(new MessageEvent("now", { data: JSON.stringify({ boot: "played", at_ms: Date.now(), t_s: ms / 1000, s }), lastEventId: "played.1" }));
        window.frame(ms);
        return ["#state", "#blind"].map((css) => document.querySelector(css).textContent).join(", ");
      }, ms, { ...base, ...change });
    assert.equal(await at(1000, { state: "off", unit: "one" }), "Off, one");
    assert.equal(await at(1017, { state: "off", unit: "two" }), "Off, one", "within the same 40 ms of film nothing else changes");
    assert.equal(await at(1034, { state: "starting", unit: "two" }), "Starting, two");
    assert.equal(await at(1038, { state: "starting", unit: "three" }), "Starting, two");
    assert.equal(await at(1041, { state: "starting", unit: "three" }), "Starting, three");
    await air.close();
    await page.bringToFront();
  });

  test("the end of the page can be reached under the bar of buttons, and the theme chosen there", async () => {
    for (const [width, height] of [[390, 844], [1024, 768], [1600, 900]]) {
      await page.setViewport({ width, height });
      await page.evaluate(() => scrollTo(0, document.documentElement.scrollHeight));
      assert.equal(await page.$eval("button[value=dark]", (b) => {
        const r = b.getBoundingClientRect();
        return document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2) === b;
      }), true, `at ${width} x ${height} something lies over the button`);
    }
    await page.setViewport({ width: 1024, height: 768 });
    for (const theme of ["dark", "device"]) {
      await Promise.all([page.waitForNavigation({ waitUntil: "domcontentloaded" }), page.$eval(`button[value=${theme}]`, (b) => b.click())]);
      assert.equal(await page.$eval("html", (h) => h.dataset.theme ?? "device"), theme);
    }
    await until(() => text("#age").then((t) => t === "live"), "the page is live again");
  });

  test("the longest words and figures stay in their places", async () => {
    for (const [width, height] of [[360, 740], [390, 844], [600, 900], [800, 1000], [1024, 768], [1280, 800], [1440, 900], [1600, 900], [1920, 1080]]) {
      for (const filming of [false, true]) {
        await page.setViewport({ width, height });
        const out = await page.evaluate((filming) => { // at once: the next snapshot puts other words there
          document.body.classList.toggle("filming", filming);
          const put = { state: "Tripped (presumed)", level: "104.3", current: "30.84", mass: "2500", left: "10:00", clock: "10:00", limit: "20:00" };
          for (const [id, words] of Object.entries(put)) document.getElementById(id).textContent = words;
          const band = document.querySelector(".reads").getBoundingClientRect();
          const cells = [...document.querySelectorAll(".reads > div")].map((d) => [...d.children].flatMap((e) => {
            const r = document.createRange();
            r.selectNodeContents(e);
            return [...r.getClientRects()];
          }));
          const over = (a, b) => a.left < b.right - 1 && b.left < a.right - 1 && a.top < b.bottom - 1 && b.top < a.bottom - 1;
          const bad = cells.flat().filter((r) => r.right > band.right + 1).map((r) => `ends ${r.right - band.right} beyond`);
          cells.forEach((c, i) => cells.slice(i + 1).forEach((d) => c.some((a) => d.some((b) => over(a, b))) && bad.push(`${i} overlaps`)));
          document.body.classList.remove("filming");
          return bad;
        }, filming);
        assert.deepEqual(out, [], `at ${width}, filming ${filming}`);
      }
    }
    await page.setViewport({ width: 1024, height: 768 });
  });

  test("axe finds nothing, in both themes, on small and large screens", async () => {
    rig.play({ a: 4, ragged: 0.02, db: 91 });
    await until(async () => (await rig.status()).state === "no-load", "the motor runs");
    for (const theme of ["light", "dark"]) {
      for (const [width, height] of [[390, 844], [1024, 768], [1920, 1080]]) {
        for (const path of ["/", "/air?background=solid", "/air?background=solid&format=9x16"]) {
          const p = await chrome.newPage();
          await p.setViewport({ width, height });
          await p.emulateMediaFeatures([{ name: "prefers-color-scheme", value: theme }]);
          await p.setBypassCSP(true); // to bring axe in; the page's own scripts are under it in all other tests
          await p.goto(rig.at + path, { waitUntil: "domcontentloaded" });
          await until(() => p.$eval("#state", (e) => e.textContent === "No load"), "the page is live");
          await p.evaluate(axe);
          const found = await p.evaluate(() => window.axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"] }));
          assert.deepEqual(found.violations.map((v) => `${v.id}: ${v.nodes.map((n) => n.html + " " + n.failureSummary).join(" | ")}`), [], `${path} ${theme} ${width}`);
          if (path === "/") {
            const small = await p.$$eval("#offered, .acts button, .offer button, #switches button", (bs) => bs.filter((b) => b.offsetParent && (b.getBoundingClientRect().height < 64 || b.getBoundingClientRect().width < 64)).map((b) => b.textContent.trim()));
            assert.deepEqual(small, [], "targets of at least 64 px");
            assert.ok(await p.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `no sideways scrolling at ${width}`);
          }
          await shot(p, `axe-${path === "/" ? "bench" : "air"}-${theme}-${width}`);
          await p.close();
        }
      }
    }
    rig.play({ a: 0, ragged: 0, db: 45 });
  });

  test("nothing went wrong unsaid, and nobody else was asked", () => {
    assert.deepEqual(faults.filter((f) => !/409|net::ERR/.test(f)), []);
  });
});
