// The switches of the operator's page, and its keys.

import { remember, remembered } from "./guide";
import { byId, put } from "./show";
import { tone } from "./signal";

export interface Switches {
  filming(): boolean;
  sound(): boolean;
  flash(): boolean;
  letters(): boolean;
  footKey(): string;
  learning(): boolean;
  learn(key: string): void;
  toggleFilming(): void;
}

/** How a key is called on the page. */
const keyName = (key: string) => (key === " " ? "Space" : key.length === 1 ? key.toUpperCase() : key);

export function wireSwitches(filmed: (on: boolean) => void): Switches {
  byId("switches").hidden = false;
  const pressed = (id: string) => byId(id).getAttribute("aria-pressed") === "true";
  const press = (id: string, on: boolean) => byId(id).setAttribute("aria-pressed", String(on));
  const setFilming = (on: boolean) => {
    press("filming", on);
    document.body.classList.toggle("filming", on);
    document.cookie = `quern-filming=${on ? 1 : 0}; path=/; max-age=${on ? 24 * 3600 : 0}; samesite=lax`;
    filmed(on);
  };
  const toggle = (id: string, then?: (on: boolean) => void) => {
    const kept = remembered(id);
    if (kept !== null) press(id, kept === "1");
    byId(id).addEventListener("click", () => {
      press(id, !pressed(id));
      remember(id, pressed(id) ? "1" : "0");
      then?.(pressed(id));
    });
  };
  toggle("sound", (on) => {
    if (on && !pressed("filming")) tone(660, 0.1); // and the browser allows those to come
  });
  toggle("flash");
  toggle("letters");
  byId("filming").addEventListener("click", () => setFilming(!pressed("filming")));
  let footKey = remembered("foot") ?? " ";
  const showFoot = () => {
    const text = pressed("foot") ? "press it" : keyName(footKey);
    put(byId("foot-key"), text);
    for (const k of document.querySelectorAll<HTMLElement>(".foot-key")) {
      k.hidden = false;
      put(k, keyName(footKey));
    }
  };
  byId("foot").addEventListener("click", () => {
    press("foot", !pressed("foot"));
    showFoot();
  });
  showFoot();
  filmed(pressed("filming"));
  return {
    filming: () => pressed("filming"),
    sound: () => pressed("sound"),
    flash: () => pressed("flash"),
    letters: () => pressed("letters"),
    footKey: () => footKey,
    learning: () => pressed("foot"),
    learn: (key) => {
      footKey = key;
      remember("foot", key);
      press("foot", false);
      showFoot();
    },
    toggleFilming: () => setFilming(!pressed("filming")),
  };
}

/** Letters press the buttons that show them; the foot switch presses what is offered. */
export function wireKeys(s: Switches, offered: () => HTMLButtonElement | null): void {
  document.addEventListener("keydown", (e) => {
    if (e.repeat || e.ctrlKey || e.metaKey || e.altKey) return;
    const at = e.target as HTMLElement;
    if (s.learning() && e.key !== "Tab" && e.key !== "Escape") {
      e.preventDefault();
      s.learn(e.key);
      return;
    }
    if (at.closest("input, select, textarea")) return;
    if (e.key === s.footKey()) {
      // A button that was reached by the keyboard is pressed by its own key.
      if (at.matches("button:focus-visible, a:focus-visible") && (e.key === " " || e.key === "Enter")) return;
      const b = offered();
      e.preventDefault();
      if (b && !b.disabled) b.click();
      return;
    }
    if (!s.letters()) return;
    if (e.key.toLowerCase() === "f") {
      s.toggleFilming();
      return;
    }
    const b = document.querySelector<HTMLButtonElement>(`button[data-key="${CSS.escape(e.key.toLowerCase())}"]`);
    if (b && !b.disabled) {
      e.preventDefault();
      b.click();
    }
  });
  // What a finger or a mouse pressed does not keep the focus: the foot switch would press it again.
  document.addEventListener("pointerup", () => {
    setTimeout(() => {
      const a = document.activeElement;
      if (a instanceof HTMLButtonElement && !a.matches(":focus-visible")) a.blur();
    });
  });
}
