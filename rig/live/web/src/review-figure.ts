// The stack of plots with what moves it: wheel, drag, pinch, keys and buttons.

import type { Motor, Ribbon } from "./review-motor";
import { right, type Panel } from "./review-panel";
import type { View } from "./review-view";
import { digits, time } from "./review-words";
import { words } from "./ribbon";

function button(text: string, label: string, act: () => void): HTMLButtonElement {
  const b = document.createElement("button");
  b.type = "button";
  b.textContent = text;
  if (label !== text) b.setAttribute("aria-label", label);
  b.title = label;
  b.addEventListener("click", act);
  return b;
}

export interface Place {
  word: string;
  fromS: number;
  toS: number;
}

export class Figure {
  readonly bar = document.createElement("div");
  readonly plots = document.createElement("div");
  private readonly reading = document.createElement("p");
  private readonly spoken = document.createElement("p");
  private readonly cursor = document.createElement("div");
  private readonly play = document.createElement("div");
  private readonly chosen = document.createElement("div");
  private readonly whole = document.createElement("canvas");
  private asking = 0;
  private panels: Panel[] = [];
  playS = NaN;
  onMoved: () => void = () => {};

  constructor(
    readonly root: HTMLElement,
    readonly view: View,
    private readonly motor: Motor,
    private readonly small: Ribbon, // the whole session, small
    places: Place[],
    private readonly relative: boolean,
  ) {
    this.bar.className = "bar";
    this.bar.setAttribute("role", "group");
    this.bar.setAttribute("aria-label", "What is shown");
    const v = view;
    this.bar.append(button("Whole", "Whole session", () => v.whole()));
    for (const p of places) this.bar.append(button(p.word, `Show ${p.word.toLowerCase()}`, () => v.show(p.fromS, p.toS)));
    const about = () => (v.cursorS >= v.fromS && v.cursorS <= v.toS ? v.cursorS : (v.fromS + v.toS) / 2);
    const fit = button("Fit heights", "Fit heights to what is shown", () => {
      v.fit = !v.fit;
      fit.setAttribute("aria-pressed", String(v.fit));
      v.tell(true);
    });
    fit.setAttribute("aria-pressed", "false");
    this.bar.append(
      button("−", "Zoom out", () => v.zoom(2, about())),
      button("+", "Zoom in", () => v.zoom(0.5, about())),
      button("←", "Earlier", () => v.pan(-v.spanS / 2)),
      button("→", "Later", () => v.pan(v.spanS / 2)),
      button("Event before", "To the event before", () => this.event(-1)),
      button("Next event", "To the next event", () => this.event(1)),
      fit,
    );
    this.plots.className = "plots";
    this.plots.tabIndex = 0;
    this.plots.setAttribute("role", "application");
    this.plots.setAttribute("aria-label", "Plots over time");
    this.plots.setAttribute("aria-describedby", "plots-keys");
    this.reading.className = "reading";
    this.spoken.className = "unseen";
    this.spoken.setAttribute("role", "status");
    this.cursor.className = "cursor";
    this.play.className = "cursor playhead";
    this.chosen.className = "chosen";
    this.cursor.hidden = this.play.hidden = this.chosen.hidden = true;
    const frame = document.createElement("div");
    frame.className = "whole-frame";
    this.whole.className = "whole";
    this.whole.setAttribute("aria-hidden", "true");
    frame.append(small.box, this.whole);
    const keys = document.createElement("p");
    keys.className = "keys";
    keys.id = "plots-keys";
    keys.textContent = "Click the plots, then: wheel or + and − zoom, drag or Shift with ← and → pan, Shift with drag chooses a stretch, ← and → move the cursor, Page Up and Page Down go from event to event, Home shows all, space plays.";
    root.append(this.bar, this.reading, this.plots, frame, keys, this.spoken);
    view.follow.push((moved) => this.draw(moved));
    this.wheel();
    this.pointers();
    this.keyboard();
    this.overview();
    new ResizeObserver(() => this.resize()).observe(root);
    matchMedia("(resolution: 1dppx)").addEventListener("change", () => this.resize());
  }

  add(...panels: Panel[]): void {
    for (const p of panels) {
      this.panels.push(p);
      this.plots.append(p.box);
    }
    this.plots.append(this.cursor, this.play, this.chosen);
  }

  /** Puts a panel below the first one; one that was taken off the page is forgotten. */
  insert(p: Panel): void {
    this.panels = this.panels.filter((x) => x.box.isConnected);
    this.panels.push(p);
    this.panels[0]!.box.after(p.box);
    this.resize();
  }

  resize(): void {
    const v = this.view;
    v.gutter = this.plots.clientWidth < 600 ? 46 : 72;
    v.width = Math.max(120, this.plots.clientWidth - v.gutter - right);
    this.plots.style.setProperty("--gutter", `${v.gutter}px`);
    for (const p of this.panels) p.resize?.();
    this.small.resize();
    v.tell(true);
  }

  private x(atS: number): number {
    return this.view.gutter + this.view.x(atS);
  }

  private draw(moved: boolean): void {
    for (const p of this.panels) p.draw(moved);
    const v = this.view;
    const put = (el: HTMLElement, at: number) => {
      el.hidden = !(at >= v.fromS && at <= v.toS);
      if (!el.hidden) el.style.left = `${this.x(at)}px`;
    };
    put(this.cursor, v.cursorS);
    put(this.play, this.playS);
    this.read();
    if (!moved) return;
    this.drawWhole();
    clearTimeout(this.asking);
    // A short rest while the view moves: what is there is drawn meanwhile.
    this.asking = window.setTimeout(() => this.want(), 12);
    this.onMoved();
  }

  /** Asks for what the view lacks. */
  want(): void {
    for (const p of this.panels) p.want?.();
  }

  private text = "";
  private read(): void {
    const v = this.view;
    const parts: [string, string][] = [];
    if (Number.isFinite(v.cursorS)) {
      parts.push(["At", time(v.cursorS, digits(v.pixelS)) + (this.relative ? " from the motor's start" : "")]);
      for (const p of this.panels) for (const r of p.read?.(v.cursorS) ?? []) parts.push([r.name, r.text]);
    } else {
      parts.push(["Shown", `${time(v.fromS, digits(v.pixelS))} to ${time(v.toS, digits(v.pixelS))}`]);
    }
    const near = this.motor.events.find((e) => Math.abs(this.view.x(e.at_s) - this.view.x(v.cursorS)) < 5);
    if (near) parts.push(["Event", words[near.kind] ?? near.kind]);
    const text = parts.map((p) => p.join(" ")).join(", ");
    if (text === this.text) return;
    this.text = text;
    this.reading.replaceChildren(
      ...parts.map(([k, t]) => {
        const s = document.createElement("span");
        const key = document.createElement("span");
        key.className = "key";
        key.textContent = k + " ";
        const b = document.createElement("b");
        b.textContent = t;
        s.append(key, b);
        return s;
      }),
    );
  }

  /** Says what the cursor reads: after keys, for who does not see it. */
  private say(): void {
    requestAnimationFrame(() => requestAnimationFrame(() => (this.spoken.textContent = this.text)));
  }

  /** Goes to an instant and shows some seconds around it. */
  go(atS: number): void {
    const v = this.view;
    v.point(atS);
    if (v.spanS > 20 || atS < v.fromS || atS > v.toS) {
      const half = Math.min(v.spanS, 10) / 2;
      v.show(atS - half, atS + half);
    }
    this.say();
  }

  event(way: 1 | -1): void {
    const at = Number.isFinite(this.view.cursorS) ? this.view.cursorS : way > 0 ? -Infinity : Infinity;
    const all = this.motor.events.map((e) => e.at_s).sort((a, b) => a - b);
    const next = way > 0 ? all.find((t) => t > at + 1e-6) : all.reverse().find((t) => t < at - 1e-6);
    if (next !== undefined) this.go(next);
  }

  private wheel(): void {
    this.plots.addEventListener(
      "wheel",
      (e) => {
        // Whoever scrolls past is not caught: the wheel zooms once the plots were clicked, or with Control.
        if (!e.ctrlKey && document.activeElement !== this.plots) return;
        e.preventDefault();
        const unit = e.deltaMode === 1 ? 20 : e.deltaMode === 2 ? 400 : 1;
        const at = this.view.at(e.clientX - this.plots.getBoundingClientRect().left - this.view.gutter);
        if (Math.abs(e.deltaX) > Math.abs(e.deltaY) || e.shiftKey) this.view.pan((((e.deltaX || e.deltaY) * unit) / this.view.width) * this.view.spanS);
        else this.view.zoom(Math.pow(1.0018, e.deltaY * unit * (e.ctrlKey ? 4 : 1)), at);
      },
      { passive: false },
    );
  }

  private pointers(): void {
    const down = new Map<number, { x: number; startX: number }>();
    let moved = false;
    let choose = NaN;
    const el = this.plots;
    const at = (x: number) => this.view.at(x - el.getBoundingClientRect().left - this.view.gutter);
    el.addEventListener("pointerdown", (e) => {
      if (e.button !== 0) return;
      down.set(e.pointerId, { x: e.clientX, startX: e.clientX });
      moved = false;
      choose = e.shiftKey && e.pointerType === "mouse" ? at(e.clientX) : NaN;
    });
    el.addEventListener("pointermove", (e) => {
      const d = down.get(e.pointerId);
      if (!d) {
        if (e.pointerType === "mouse") this.view.point(Math.min(Math.max(at(e.clientX), this.view.fromS), this.view.toS));
        return;
      }
      if (!moved && Math.abs(e.clientX - d.startX) > 4) {
        moved = true;
        el.setPointerCapture(e.pointerId);
        if (Number.isNaN(choose)) el.classList.add("grabbing");
      }
      if (!moved) return;
      if (!Number.isNaN(choose)) {
        const a = this.x(Math.max(Math.min(choose, at(e.clientX)), this.view.fromS));
        const b = this.x(Math.min(Math.max(choose, at(e.clientX)), this.view.toS));
        this.chosen.hidden = false;
        this.chosen.style.left = `${a}px`;
        this.chosen.style.width = `${b - a}px`;
        return;
      }
      if (down.size === 2) {
        const [a, b] = [...down.values()];
        if (!a || !b) return;
        const was = Math.abs(a.x - b.x);
        const midWas = at((a.x + b.x) / 2);
        d.x = e.clientX;
        const is = Math.max(Math.abs(a.x - b.x), 8);
        this.view.zoom(Math.max(was, 8) / is, midWas);
        this.view.pan(midWas - at((a.x + b.x) / 2));
        return;
      }
      this.view.pan(-((e.clientX - d.x) / this.view.width) * this.view.spanS);
      d.x = e.clientX;
    });
    const up = (e: PointerEvent) => {
      const d = down.get(e.pointerId);
      if (!d) return;
      down.delete(e.pointerId);
      el.classList.remove("grabbing");
      if (!Number.isNaN(choose) && moved) {
        const to = at(e.clientX);
        this.chosen.hidden = true;
        this.view.show(Math.min(choose, to), Math.max(choose, to));
      } else if (!moved && e.type === "pointerup") {
        this.view.point(at(e.clientX));
      }
      choose = NaN;
    };
    el.addEventListener("pointerup", up);
    el.addEventListener("pointercancel", up);
    el.addEventListener("dblclick", (e) => this.view.zoom(0.25, at(e.clientX)));
  }

  onSpace: () => void = () => {};

  private keyboard(): void {
    this.plots.addEventListener("keydown", (e) => {
      const v = this.view;
      const about = v.cursorS >= v.fromS && v.cursorS <= v.toS ? v.cursorS : (v.fromS + v.toS) / 2;
      const step = (n: number) => {
        v.point((Number.isFinite(v.cursorS) ? v.cursorS : about) + (n * v.spanS) / 100, true);
        this.say();
      };
      const acts: Record<string, () => void> = {
        "+": () => v.zoom(0.5, about),
        "=": () => v.zoom(0.5, about),
        "-": () => v.zoom(2, about),
        ArrowLeft: () => (e.shiftKey ? v.pan(-v.spanS / 5) : step(-1)),
        ArrowRight: () => (e.shiftKey ? v.pan(v.spanS / 5) : step(1)),
        PageUp: () => this.event(-1),
        PageDown: () => this.event(1),
        Home: () => v.whole(),
        "0": () => v.whole(),
        " ": () => this.onSpace(),
      };
      const act = acts[e.key];
      if (!act || e.altKey || e.metaKey || e.ctrlKey) return;
      e.preventDefault();
      act();
    });
  }

  /** The whole session, with a frame around what is shown. */
  private drawWhole(): void {
    const v = this.view;
    const w = this.whole.clientWidth;
    if (w === 0) return;
    const g = this.whole.getContext("2d")!;
    const ratio = Math.min(devicePixelRatio || 1, 3);
    const h = 40;
    if (this.whole.width !== Math.round(w * ratio)) {
      this.whole.width = Math.round(w * ratio);
      this.whole.height = h * ratio;
      this.whole.style.height = `${h}px`;
    }
    this.small.paint(v.leastS, v.mostS);
    g.setTransform(ratio, 0, 0, ratio, 0, 0);
    g.clearRect(0, 0, w, h);
    const gutter = v.gutter;
    const x = (s: number) => gutter + ((s - v.leastS) / (v.mostS - v.leastS)) * v.width;
    const css = getComputedStyle(this.root);
    g.fillStyle = css.getPropertyValue("--ink");
    g.globalAlpha = 0.16;
    g.fillRect(gutter, 0, x(v.fromS) - gutter, h);
    g.fillRect(x(v.toS), 0, gutter + v.width - x(v.toS), h);
    g.globalAlpha = 1;
    g.lineWidth = 2;
    g.strokeStyle = css.getPropertyValue("--ink");
    g.strokeRect(x(v.fromS), 1, Math.max(x(v.toS) - x(v.fromS), 3), h - 2);
    g.font = "13px system-ui, sans-serif";
    g.textBaseline = "middle";
    g.fillText("All", 4, h / 2);
  }

  private overview(): void {
    let grab = NaN;
    const v = this.view;
    const at = (e: PointerEvent) => {
      const r = this.whole.getBoundingClientRect();
      return v.leastS + ((e.clientX - r.left - v.gutter) / v.width) * (v.mostS - v.leastS);
    };
    this.whole.addEventListener("pointerdown", (e) => {
      const t = at(e);
      if (t < v.fromS || t > v.toS) v.show(t - v.spanS / 2, t + v.spanS / 2);
      grab = t - v.fromS;
      this.whole.setPointerCapture(e.pointerId);
    });
    this.whole.addEventListener("pointermove", (e) => {
      if (Number.isNaN(grab)) return;
      const a = at(e) - grab;
      v.show(a, a + v.spanS);
    });
    const up = () => (grab = NaN);
    this.whole.addEventListener("pointerup", up);
    this.whole.addEventListener("pointercancel", up);
  }
}
