// Weights as sliders: the daemon ranks again under each, so that the numbers are those of a whole replay.

if (document.querySelector("[data-again]")) setTimeout(() => location.reload(), 3000);

const form = document.getElementById("weights") as HTMLFormElement | null;
if (form) {
  const fields = [...form.querySelectorAll<HTMLInputElement>("input[type=number]")];
  const sliders = fields.map((f) => {
    const s = document.createElement("input");
    const by = Number(f.dataset["default"]);
    s.type = "range";
    s.min = String(by / 20);
    s.max = String(3 * by);
    s.step = String(by / 20);
    s.value = f.value;
    s.setAttribute("aria-label", `${f.labels?.[0]?.textContent ?? f.name}, weight`);
    f.after(s);
    s.addEventListener("input", () => {
      f.value = s.value;
      soon();
    });
    f.addEventListener("input", () => {
      s.value = f.value;
      soon();
    });
    return s;
  });
  const back = document.createElement("button");
  back.type = "button";
  back.textContent = "The scorecard's";
  back.addEventListener("click", () => {
    for (const [i, f] of fields.entries()) sliders[i]!.value = f.value = f.dataset["default"]!;
    soon();
  });
  form.querySelector("button")?.after(back);
  const state = document.createElement("p");
  state.setAttribute("role", "status");
  state.className = "note";
  form.after(state);

  let waiting = 0;
  let under = new AbortController();
  const soon = () => {
    clearTimeout(waiting);
    waiting = window.setTimeout(() => void rank(), 120);
  };
  const rank = async (): Promise<void> => {
    const q = new URLSearchParams();
    for (const f of fields) if (Number(f.value) > 0 && Number(f.value) !== Number(f.dataset["default"])) q.set(f.name, f.value);
    const against = new URLSearchParams(location.search).get("against");
    if (against) q.set("against", against);
    const url = "/standings" + (q.size > 0 ? "?" + q : "");
    under.abort();
    under = new AbortController();
    try {
      const r = await fetch(url, { headers: { Accept: "text/html" }, signal: under.signal });
      const page = new DOMParser().parseFromString(await r.text(), "text/html");
      if (page.querySelector("[data-again]")) {
        state.textContent = "Being computed…";
        waiting = window.setTimeout(() => void rank(), 1000);
        return;
      }
      for (const id of ["ranking", "rest"]) {
        const fresh = page.getElementById(id);
        const now = document.getElementById(id);
        if (!r.ok || !fresh || !now) throw new Error();
        now.replaceWith(fresh);
      }
      const varied = fields.some((f) => q.has(f.name));
      state.textContent = varied ? "These are other weights than the scorecard's: not the standings, but what they would be." : "These are the scorecard's weights.";
      history.replaceState(null, "", url);
    } catch {
      if (!under.signal.aborted) state.textContent = "The daemon did not answer.";
    }
  };
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    void rank();
  });
}

export {};
