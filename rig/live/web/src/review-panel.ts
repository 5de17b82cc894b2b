// What the plots of a session have in common.

import { shadesOf, type Shades } from "./ribbon";

export const right = 12; // CSS pixels right of the plots

export interface Colours extends Shades {
  faint: string;
  ground: string;
}

export function coloursOf(el: Element): Colours {
  const css = getComputedStyle(el);
  return { ...shadesOf(el), faint: css.getPropertyValue("--faint").trim(), ground: css.getPropertyValue("--ground").trim() };
}

/** A panel of the stack. */
export interface Panel {
  readonly box: HTMLElement;
  /** Draws anew; moved says that the view has changed, and not only the cursor. */
  draw(moved: boolean): void;
  /** Asks for what the view lacks. */
  want?(): void;
  /** What stands under the cursor, in words; "": nothing. */
  read?(atS: number): { name: string; text: string }[];
  resize?(): void;
}

export function boxOf(title: string, beside: string): { box: HTMLElement; title: HTMLElement } {
  const box = document.createElement("div");
  box.className = "panel";
  const t = document.createElement("p");
  t.className = "title";
  t.textContent = title + " ";
  const s = document.createElement("span");
  s.textContent = beside;
  t.append(s);
  box.append(t);
  return { box, title: t };
}

export function canvasOf(box: HTMLElement): HTMLCanvasElement {
  const c = document.createElement("canvas");
  c.className = "own";
  box.append(c);
  return c;
}

/** Makes a canvas as large as it is shown, and clears it. */
export function fresh(c: HTMLCanvasElement, w: number, h: number): CanvasRenderingContext2D {
  const ratio = Math.min(devicePixelRatio || 1, 3);
  if (c.width !== Math.round(w * ratio) || c.height !== Math.round(h * ratio)) {
    c.width = Math.round(w * ratio);
    c.height = Math.round(h * ratio);
    c.style.height = `${h}px`;
  }
  const g = c.getContext("2d")!;
  g.setTransform(ratio, 0, 0, ratio, 0, 0);
  g.clearRect(0, 0, w, h);
  return g;
}
