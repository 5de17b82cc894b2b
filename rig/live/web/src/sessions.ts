// The list answers as soon as something is chosen or typed; without this the button does.

const form = document.querySelector<HTMLFormElement>("form.filter");
if (form && document.getElementById("list")) {
  let waiting = 0;
  let under = new AbortController();
  const show = async () => {
    const q = new URLSearchParams();
    for (const [k, v] of new FormData(form)) if (typeof v === "string" && v.trim() !== "") q.set(k, v.trim());
    const url = "/sessions" + (q.size > 0 ? "?" + q : "");
    under.abort();
    under = new AbortController();
    try {
      const r = await fetch(url, { headers: { Accept: "text/html" }, signal: under.signal });
      if (!r.ok) return form.submit();
      const page = new DOMParser().parseFromString(await r.text(), "text/html");
      for (const id of ["state", "list"]) {
        const fresh = page.getElementById(id);
        if (!fresh) return form.submit();
        document.getElementById(id)?.replaceWith(fresh);
      }
      again();
      history.replaceState(null, "", url);
    } catch {
      if (!under.signal.aborted) form.submit();
    }
  };
  /** While sessions are being analysed the list grows. */
  const again = () => {
    clearTimeout(waiting);
    if (document.querySelector("#state[data-again]")) waiting = window.setTimeout(() => void show(), 4000);
  };
  again();
  form.addEventListener("submit", (e) => {
    e.preventDefault();
    void show();
  });
  form.addEventListener("change", () => void show());
  form.addEventListener("input", () => {
    clearTimeout(waiting);
    waiting = window.setTimeout(() => void show(), 250);
  });
}

export {};
