// Remarks, corrections and what takes them back: each is a fact added to the session, and the page is
// opened anew with what it came to.

interface Addition {
  who: string;
  remark?: { at_s: number; text: string };
  correction?: { run: number; target: string; new: string; why: string };
  undo?: { fact: number };
}

const whoKey = "quern-who";
const saidKey = "quern-said";

const get = <T extends HTMLElement>(id: string) => document.getElementById(id) as T | null;
const valueOf = (id: string) => (get<HTMLInputElement>(id)?.value ?? "").trim();

async function put(session: string, a: Addition, back: HTMLElement): Promise<void> {
  localStorage.setItem(whoKey, a.who);
  const r = await fetch(`/sessions/${encodeURIComponent(session)}/facts`, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(a) }).catch(() => null);
  if (!r) {
    back.textContent = "Nothing was put on record: the daemon did not answer.";
    return;
  }
  if (!r.ok) {
    back.textContent = `Nothing was put on record: ${(await r.text()).trim()}`;
    return;
  }
  const done = (await r.json()) as { fact: number; who: string };
  sessionStorage.setItem(saidKey, `On record as fact ${done.fact}, by ${done.who}.`);
  location.reload();
}

/** Shows the forms; at tells the session's second under the cursor, and at what it is in words. */
export function facts(session: string, at: () => { s: number; words: string }): { moved: () => void } {
  const say = get<HTMLElement>("say");
  const back = get<HTMLElement>("said-back");
  if (!say || !back) return { moved: () => {} };
  say.hidden = false;
  const said = sessionStorage.getItem(saidKey);
  if (said) {
    back.textContent = said;
    sessionStorage.removeItem(saidKey);
  }
  for (const el of document.querySelectorAll<HTMLInputElement>(".who-says")) el.value = localStorage.getItem(whoKey) ?? "";

  get<HTMLFormElement>("remark")?.addEventListener("submit", (e) => {
    e.preventDefault();
    void put(session, { who: valueOf("remark-who"), remark: { at_s: Math.max(0, at().s), text: valueOf("remark-text") } }, back);
  });

  const what = get<HTMLSelectElement>("correct-what");
  const parts = () => {
    for (const p of document.querySelectorAll<HTMLElement>("#correct .part")) p.hidden = p.dataset["for"] !== what?.value;
  };
  what?.addEventListener("change", parts);
  parts();
  get<HTMLFormElement>("correct")?.addEventListener("submit", (e) => {
    e.preventDefault();
    if (!what) return;
    let target = what.value;
    if (target === "weighing") target += "." + valueOf("correct-weighing");
    if (target === "measure") target += "." + valueOf("correct-measure");
    void put(session, { who: valueOf("correct-who"), correction: { run: Number(valueOf("correct-run") || 0), target, new: valueOf("new-" + what.value).replace(",", "."), why: valueOf("correct-why") } }, back);
  });

  for (const b of document.querySelectorAll<HTMLButtonElement>(".undo")) {
    b.hidden = false;
    b.addEventListener("click", () => {
      const who = localStorage.getItem(whoKey) ?? "";
      if (who === "") {
        back.textContent = "Say who takes it back: fill in Who below Correct.";
        get<HTMLInputElement>("correct-who")?.focus();
        localStorage.setItem(whoKey, valueOf("correct-who"));
        return;
      }
      void put(session, { who, undo: { fact: Number(b.dataset["fact"]) } }, back);
    });
  }
  get<HTMLInputElement>("correct-who")?.addEventListener("change", (e) => localStorage.setItem(whoKey, (e.target as HTMLInputElement).value.trim()));

  return {
    moved: () => {
      const o = get<HTMLOutputElement>("remark-at");
      if (o) o.textContent = at().words;
    },
  };
}
