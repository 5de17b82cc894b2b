// Sound and flash at events, for who wants them. Both are off until they are switched on, and in filming.

import { words } from "./ribbon";

let audio: AudioContext | undefined;

/** A tone; browsers allow one only after the page was touched. */
export function tone(hz: number, lengthS: number, gain = 0.2): AudioContext | undefined {
  audio ??= new AudioContext();
  if (audio.state === "suspended") void audio.resume();
  const o = audio.createOscillator();
  const g = audio.createGain();
  o.frequency.value = hz;
  const t = audio.currentTime;
  g.gain.setValueAtTime(gain, t);
  g.gain.setValueAtTime(gain, t + lengthS - 0.005);
  g.gain.linearRampToValueAtTime(0, t + lengthS);
  o.connect(g).connect(audio.destination);
  o.start(t);
  o.stop(t + lengthS);
  return audio;
}

/** Pitches: what is grave is low and long. */
const pitch: Readonly<Record<string, [number, number]>> = {
  motor_start: [660, 0.08],
  motor_stop: [440, 0.12],
  load_end: [880, 0.25],
  stall_start: [220, 0.5],
  overload_start: [330, 0.3],
  trip: [180, 0.7],
};

export function beep(kind: string): void {
  const p = pitch[kind];
  if (p) tone(p[0], p[1]);
}

let flashing = 0;

/** The page's edge lights up once, with the event's word; never oftener than once a second (WCAG 2.3.1). */
export function flash(kind: string): void {
  const now = performance.now();
  if (now - flashing < 1000) return;
  flashing = now;
  document.body.dataset["flash"] = words[kind] ?? kind;
  setTimeout(() => delete document.body.dataset["flash"], 600);
}
