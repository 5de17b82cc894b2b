// Plays the visible stretch, and shows where it is. Two sessions are played as loud against each other as
// they were.

import type { Figure } from "./review-figure";
import type { Source } from "./review-data";
import { time } from "./review-words";

const mostS = 120; // that the daemon gives at once

export function sound(figure: Figure, sources: { of: Source; name: string; fullScaleDB: number | null; has: boolean }[]): HTMLElement {
  const box = document.createElement("div");
  box.className = "listen";
  const audio = document.createElement("audio");
  audio.controls = true;
  audio.preload = "none";
  audio.hidden = true;
  const words = document.createElement("span");
  words.className = "note";
  words.setAttribute("role", "status");
  let from = 0;
  let frame = 0;
  const loudest = Math.max(...sources.map((s) => s.fullScaleDB ?? -Infinity));
  const follow = () => {
    figure.playS = from + audio.currentTime;
    figure.view.tell(false);
    if (!audio.paused && !audio.ended) frame = requestAnimationFrame(follow);
  };
  audio.addEventListener("play", () => {
    cancelAnimationFrame(frame);
    follow();
  });
  audio.addEventListener("ended", () => {
    figure.playS = NaN;
    figure.view.tell(false);
  });
  audio.addEventListener("seeked", follow);
  audio.addEventListener("error", () => (words.textContent = "This stretch cannot be played."));
  const start = (i: number) => {
    const s = sources[i]!;
    const v = figure.view;
    let a = Math.max(v.fromS, s.of.leastS);
    let b = Math.min(v.toS, s.of.mostS);
    if (b - a > mostS) {
      if (v.cursorS > a && v.cursorS < b) a = v.cursorS;
      b = Math.min(b, a + mostS);
    }
    if (!(b - a > 0.02)) {
      words.textContent = "Too short to be heard.";
      return;
    }
    from = a;
    const at = (t: number) => (t + s.of.offsetS).toFixed(3);
    audio.src = `/sessions/${encodeURIComponent(s.of.session)}/sound.wav?from=${at(a)}&to=${at(b)}`;
    audio.volume = Math.min(1, Math.pow(10, ((s.fullScaleDB ?? loudest) - loudest) / 20));
    audio.hidden = false;
    words.textContent = `${sources.length > 1 ? s.name + ", " : ""}${time(a)} to ${time(b)}`;
    void audio.play().catch((e: Error) => (words.textContent = `This stretch cannot be played: ${e.message}`));
  };
  for (const [i, s] of sources.entries()) {
    if (!s.has) continue;
    const b = document.createElement("button");
    b.type = "button";
    b.textContent = sources.length > 1 ? `Play ${s.name}` : "Play what is shown";
    b.addEventListener("click", () => start(i));
    box.append(b);
  }
  figure.onSpace = () => {
    if (!audio.hidden && !audio.paused) audio.pause();
    else if (sources[0]?.has) start(0);
  };
  if (sources.some((s) => s.has)) box.append(audio, words);
  return box;
}
