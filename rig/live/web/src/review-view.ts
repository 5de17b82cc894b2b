// The stretch of time that is shown, shared by all plots, and the instant under the cursor.

export class View {
  fromS: number;
  toS: number;
  cursorS = NaN;
  fit = false; // heights follow what is shown
  width = 800; // of the plots, CSS pixels
  gutter = 72; // left of them: the figures of their axes
  private waiting = false;
  readonly follow: ((moved: boolean) => void)[] = [];

  constructor(
    readonly leastS: number,
    readonly mostS: number,
  ) {
    this.fromS = leastS;
    this.toS = mostS;
  }

  get spanS(): number {
    return this.toS - this.fromS;
  }

  /** Seconds of a pixel. */
  get pixelS(): number {
    return this.spanS / this.width;
  }

  x(atS: number): number {
    return ((atS - this.fromS) / this.spanS) * this.width;
  }

  at(x: number): number {
    return this.fromS + (x / this.width) * this.spanS;
  }

  /** Shows a stretch, as far as there is one. Deeper than a millisecond there is nothing to see. */
  show(fromS: number, toS: number): void {
    const whole = this.mostS - this.leastS;
    const span = Math.min(Math.max(toS - fromS, 0.001), whole);
    let a = (fromS + toS) / 2 - span / 2;
    a = Math.min(Math.max(a, this.leastS), this.mostS - span);
    if (a === this.fromS && a + span === this.toS) return;
    this.fromS = a;
    this.toS = a + span;
    this.tell(true);
  }

  zoom(by: number, aboutS: number): void {
    const about = Math.min(Math.max(aboutS, this.fromS), this.toS);
    const span = Math.min(Math.max(this.spanS * by, 0.001), this.mostS - this.leastS);
    const share = (about - this.fromS) / this.spanS;
    this.show(about - share * span, about + (1 - share) * span);
  }

  pan(byS: number): void {
    this.show(this.fromS + byS, this.toS + byS);
  }

  whole(): void {
    this.show(this.leastS, this.mostS);
  }

  point(atS: number, reveal = false): void {
    this.cursorS = Math.min(Math.max(atS, this.leastS), this.mostS);
    if (reveal && (this.cursorS < this.fromS || this.cursorS > this.toS)) {
      this.pan(this.cursorS - (this.fromS + this.toS) / 2);
    }
    this.tell(false);
  }

  private moved = false;
  /** Tells all plots, once a frame. */
  tell(moved: boolean): void {
    this.moved ||= moved;
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      const m = this.moved;
      this.moved = false;
      for (const f of this.follow) f(m);
    });
  }

  /** Instants of the ticks, and how many decimals they need. */
  ticks(): { at: number[]; decimals: number } {
    const want = this.spanS / Math.max(2, this.width / 110);
    const steps = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
    let step = steps.find((s) => s >= want) ?? 7200;
    if (want < 1) {
      const p = Math.pow(10, Math.floor(Math.log10(want)));
      step = [1, 2, 5, 10].map((k) => k * p).find((s) => s >= want * 0.999)!;
    }
    const out: number[] = [];
    for (let k = Math.ceil(this.fromS / step); k * step <= this.toS; k++) out.push(k * step);
    return { at: out, decimals: step >= 1 ? 0 : Math.min(6, Math.ceil(-Math.log10(step) - 1e-9)) };
  }
}
