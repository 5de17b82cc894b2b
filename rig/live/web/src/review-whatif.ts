// What a session would come to under other thresholds. Nothing of it is kept.

import type { Run } from "./review-data";
import { words } from "./ribbon";
import { measure, measureName, time } from "./review-words";

interface Answer {
  settings: { key: string; old: string; new: string }[];
  runs: Run[];
  changes: {
    runs: number;
    changes: {
      run: string;
      old_outcome: string;
      new_outcome: string;
      events: { kind: string; old_s: number | null; new_s: number | null }[];
      measures: { measure: string; old: number | null; new: number | null }[];
    }[];
  };
}

function list(head: string, items: string[]): Node[] {
  if (items.length === 0) return [];
  const h = document.createElement("h3");
  h.textContent = head;
  const ul = document.createElement("ul");
  for (const i of items) {
    const li = document.createElement("li");
    li.textContent = i;
    ul.append(li);
  }
  return [h, ul];
}

function tell(a: Answer): Node[] {
  const out: Node[] = [];
  const p = document.createElement("p");
  p.className = "say";
  if (a.settings.length === 0) p.textContent = "These are the settings that are in force: nothing would change.";
  else if (a.changes.changes.length === 0) p.textContent = `Nothing would change under ${a.settings.map((s) => `${s.key} = ${s.new}`).join(", ")}.`;
  else p.textContent = `Under ${a.settings.map((s) => `${s.key} = ${s.new} instead of ${s.old}`).join(", ")}:`;
  out.push(p);
  for (const c of a.changes.changes) {
    if (c.old_outcome !== c.new_outcome) {
      const o = document.createElement("p");
      o.textContent = `${c.run}: ${!c.old_outcome ? "a run that was not found before" : !c.new_outcome ? "a run that would no longer be found" : `${c.new_outcome} instead of ${c.old_outcome}`}.`;
      out.push(o);
    }
    out.push(
      ...list(
        "Events",
        c.events.map((e) => {
          const w = words[e.kind] ?? e.kind;
          if (e.old_s === null) return `${w} at ${time(e.new_s!, 2)} is new`;
          if (e.new_s === null) return `${w} at ${time(e.old_s, 2)} is gone`;
          return `${w} at ${time(e.new_s, 2)} instead of ${time(e.old_s, 2)}`;
        }),
      ),
      ...list(
        "Measures",
        c.measures.map((m) => {
          const was = measure(m.measure, m.old);
          const is = measure(m.measure, m.new);
          return was === is ? `${measureName(m.measure)}: ${is}, less than its last digit off` : `${measureName(m.measure)}: ${is} instead of ${was}`;
        }),
      ),
    );
  }
  return out;
}

export function whatIf(session: string, show: (runs: Run[] | null) => void): void {
  const section = document.getElementById("what-if");
  const form = document.getElementById("what-if-form") as HTMLFormElement | null;
  const text = document.getElementById("what-if-text") as HTMLTextAreaElement | null;
  const key = document.getElementById("what-if-key") as HTMLSelectElement | null;
  const why = document.getElementById("what-if-why");
  const said = document.getElementById("what-if-said");
  if (!section || !form || !text || !key || !why || !said) return;
  section.hidden = false;
  const explain = () => (why.textContent = key.selectedOptions[0]?.dataset["why"] ?? "");
  key.addEventListener("change", explain);
  explain();
  document.getElementById("what-if-add")?.addEventListener("click", () => {
    const line = key.value;
    if (!text.value.split("\n").some((l) => l.startsWith(line.split(" = ")[0] + " ="))) text.value = (text.value.trimEnd() + "\n" + line).trimStart();
    text.focus();
    text.setSelectionRange(text.value.lastIndexOf("= ") + 2, text.value.length);
  });
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    const go = form.querySelector<HTMLButtonElement>(".primary")!;
    go.disabled = true;
    said.textContent = "Analysing…";
    fetch(`/sessions/${encodeURIComponent(session)}/what-if`, { method: "POST", headers: { "Content-Type": "application/toml" }, body: text.value })
      .then(async (r) => {
        if (!r.ok) throw new Error((await r.text()).trim());
        const a = (await r.json()) as Answer;
        said.replaceChildren(...tell(a));
        show(a.settings.length > 0 ? a.runs : null);
      })
      .catch((e: Error) => {
        const p = document.createElement("p");
        p.className = "say wrong";
        p.textContent = e.message;
        said.replaceChildren(p);
      })
      .finally(() => (go.disabled = false));
  });
}
