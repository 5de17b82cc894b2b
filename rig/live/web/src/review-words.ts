// Numbers as people read them: the same digits as in printed reports.

/** Seconds as m:ss.s, or with more digits where a view is deep. */
export function time(s: number, decimals = 1): string {
  const unit = Math.pow(10, decimals);
  let n = Math.round(Math.abs(s) * unit);
  const sign = s < 0 && n > 0 ? "-" : "";
  const m = Math.floor(n / (60 * unit));
  n -= m * 60 * unit;
  const sec = (n / unit).toFixed(decimals);
  return `${sign}${m}:${sec.padStart(decimals > 0 ? decimals + 3 : 2, "0")}`;
}

/** Digits that a time needs where a pixel is so many seconds. */
export function digits(pixelS: number): number {
  return Math.min(6, Math.max(1, Math.ceil(-Math.log10(pixelS))));
}

/** A value of a series with its unit. */
export function value(v: number, unit: string): string {
  return `${number(v, unit)} ${unit === "dB" ? "dB(A)" : unit}`;
}

export function number(v: number, unit: string): string {
  switch (unit) {
    case "dB":
      return v.toFixed(1);
    case "A":
      return Math.abs(Math.round(v * 100) / 100) < 10 ? v.toFixed(2) : v.toFixed(1);
    case "g":
      return v.toFixed(0);
    case "Pa":
      return Math.abs(v) < 1 ? v.toFixed(4) : v.toFixed(3);
  }
  return Number(v.toPrecision(4)).toString();
}

/** A measure by its name, which ends in its unit. */
export function measure(name: string, v: number | null): string {
  if (v === null) return "none";
  if (/_(share|of_input)$/.test(name)) return `${(100 * v).toFixed(2)} %`;
  if (/_s$/.test(name)) return time(v);
  if (/_db$/.test(name)) return `${v.toFixed(1)} dB`;
  if (/_a$/.test(name)) return `${number(v, "A")} A`;
  if (/_as$/.test(name)) return `${v.toFixed(0)} As`;
  if (/_g$/.test(name)) return `${v.toFixed(0)} g`;
  return Number.isInteger(v) ? String(v) : v.toFixed(2);
}

export function measureName(name: string): string {
  const levels: Record<string, string> = { laeq_db: "LAeq", lafmax_db: "LAFmax", lasmax_db: "LASmax", la10_db: "LA10", la90_db: "LA90", lcpeak_db: "LCpeak", lae_db: "LAE", idle_a: "no-load current" };
  return levels[name] ?? name.replace(/_(s|g|a|db)$/, "").replaceAll("_", " ");
}
