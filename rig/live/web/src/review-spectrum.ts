// The third-octave spectrogram.

import { octaves, type Octaves, type Source, type Store } from "./review-data";
import { boxOf, canvasOf, fresh, right, type Colours, type Panel } from "./review-panel";
import type { View } from "./review-view";

/** Spectrum shows levels of third-octave bands as shades. */
export class Spectrum implements Panel {
  readonly box: HTMLElement;
  private readonly canvas: HTMLCanvasElement;
  private readonly words: HTMLElement;
  private readonly store: Store<Octaves>;
  private readonly image = document.createElement("canvas");
  private imageOf: Octaves | undefined;
  private low = 20;
  private high = 90;
  private settled = false;
  private readonly pale: boolean; // the paper
  private readonly shades: Uint8ClampedArray;
  hoverY = NaN;

  constructor(
    private readonly view: View,
    of: Source,
    private readonly colours: Colours,
    readonly height: number,
    private readonly name: string,
    private readonly like?: Spectrum, // whose shades mean the same
  ) {
    this.store = octaves(of);
    const { box, title } = boxOf("Third-octave bands, dB", "");
    this.box = box;
    this.words = title;
    this.canvas = canvasOf(box);
    this.canvas.setAttribute("aria-hidden", "true");
    this.pale = parseInt(colours.paper.slice(1, 3), 16) > 127;
    this.shades = ramp([colours.paper, colours.starting, colours.loaded, colours.ink]);
    // Hover tells which band the cursor reads.
    box.addEventListener("pointermove", (e) => {
      this.hoverY = e.clientY - this.canvas.getBoundingClientRect().top;
      this.view.tell(false);
    });
    box.addEventListener("pointerleave", () => (this.hoverY = NaN));
  }

  want(): void {
    void this.store.want(this.view.fromS, this.view.toS, this.view.width, () => this.view.tell(true));
  }

  private now(): Octaves | undefined {
    return this.store.best(this.view.fromS, this.view.toS, this.view.width).e ?? this.store.partly;
  }

  draw(moved: boolean): void {
    if (!moved) return;
    const o = this.now();
    const text = this.store.wrong ? `cannot be shown: ${this.store.wrong}` : this.store.partly ? "is being derived" : !o ? "is coming" : `${this.name ? this.name + ", " : ""}${this.pale ? "light" : "dark"} ${this.low} dB, ${this.pale ? "dark" : "light"} ${this.high} dB`;
    const s = this.words.lastElementChild!;
    if (s.textContent !== text) s.textContent = text;
    const gutter = this.view.gutter;
    const g = fresh(this.canvas, this.view.width + gutter + right, this.height);
    if (!o || o.db.length === 0) return;
    if (o !== this.imageOf) this.paint(o);
    const top = 4;
    const h = this.height - 8;
    const x0 = gutter + this.view.x(o.fromS);
    const x1 = gutter + this.view.x(o.toS);
    g.save();
    g.beginPath();
    g.rect(gutter, top, this.view.width, h);
    g.clip();
    g.imageSmoothingEnabled = false;
    // Only what is seen: a browser balks at pictures a million pixels wide.
    const c0 = Math.max(0, Math.floor(((gutter - x0) / (x1 - x0)) * o.db.length) - 1);
    const c1 = Math.min(o.db.length, Math.ceil(((gutter + this.view.width - x0) / (x1 - x0)) * o.db.length) + 1);
    if (c1 > c0) g.drawImage(this.image, c0, 0, c1 - c0, this.image.height, x0 + ((x1 - x0) * c0) / o.db.length, top, ((x1 - x0) * (c1 - c0)) / o.db.length, h);
    g.restore();
    g.strokeStyle = this.colours.soft;
    g.lineWidth = 1;
    g.strokeRect(gutter - 0.5, top - 0.5, this.view.width + 1, h + 1);
    g.fillStyle = this.colours.ink;
    g.font = "13px system-ui, sans-serif";
    g.textAlign = "right";
    g.textBaseline = "middle";
    for (const [b, hz] of o.bandsHz.entries()) {
      if (![31.5, 125, 500, 2000, 8000].includes(hz)) continue;
      g.fillText(hertz(hz), gutter - 8, top + h - ((b + 0.5) / o.bandsHz.length) * h);
    }
  }

  private paint(o: Octaves): void {
    this.imageOf = o;
    const n = o.db.length;
    const bands = o.bandsHz.length;
    if (this.like?.settled) {
      this.low = this.like.low;
      this.high = this.like.high;
    } else if (!this.settled || o.toS - o.fromS >= 0.9 * (this.view.mostS - this.view.leastS)) {
      const all = o.db.flat().filter((v): v is number => v !== null);
      all.sort((a, b) => a - b);
      if (all.length > 0) {
        this.low = Math.floor(all[Math.floor(all.length * 0.05)]! / 5) * 5;
        this.high = Math.ceil(all[Math.floor(all.length * 0.998)]! / 5) * 5;
        if (this.high - this.low < 20) this.high = this.low + 20;
        this.settled = true;
      }
    }
    this.image.width = n;
    this.image.height = bands;
    const g = this.image.getContext("2d")!;
    const d = g.createImageData(n, bands);
    for (let k = 0; k < n; k++) {
      const column = o.db[k]!;
      for (let b = 0; b < bands; b++) {
        const v = column[b];
        const i = 4 * ((bands - 1 - b) * n + k);
        if (v === null || v === undefined) continue; // a gap lets the paper through
        const s = 3 * Math.round(255 * Math.min(Math.max((v - this.low) / (this.high - this.low), 0), 1));
        d.data[i] = this.shades[s]!;
        d.data[i + 1] = this.shades[s + 1]!;
        d.data[i + 2] = this.shades[s + 2]!;
        d.data[i + 3] = 255;
      }
    }
    g.putImageData(d, 0, 0);
  }

  read(atS: number): { name: string; text: string }[] {
    const o = this.now();
    if (!o || !Number.isFinite(this.hoverY)) return [];
    const b = Math.floor((1 - (this.hoverY - 4) / (this.height - 8)) * o.bandsHz.length);
    const v = o.db[Math.floor((atS - o.fromS) / o.stepS)]?.[b];
    const hz = o.bandsHz[b];
    return v === null || v === undefined || hz === undefined ? [] : [{ name: `Band of ${hertz(hz)}Hz`, text: `${v.toFixed(1)} dB` }];
  }
}

function hertz(hz: number): string {
  return hz >= 1000 ? `${hz / 1000} k` : `${hz} `;
}

/** 256 shades between some colours. */
function ramp(colours: string[]): Uint8ClampedArray {
  const c = document.createElement("canvas");
  c.width = 256;
  c.height = 1;
  const g = c.getContext("2d")!;
  const way = g.createLinearGradient(0, 0, 256, 0);
  for (const [i, s] of colours.entries()) way.addColorStop(i / (colours.length - 1), s);
  g.fillStyle = way;
  g.fillRect(0, 0, 256, 1);
  const d = g.getImageData(0, 0, 256, 1).data;
  const out = new Uint8ClampedArray(3 * 256);
  for (let i = 0; i < 256; i++) out.set(d.subarray(4 * i, 4 * i + 3), 3 * i);
  return out;
}
