// The list answers as soon as something is chosen or typed; without this the button does.

const form = document.querySelector<HTMLFormElement>("form.filter");
let list = document.getElementById("list");
if (form && list) {
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
      const fresh = page.getElementById("list");
      if (!fresh || !list) return form.submit();
      list.replaceWith(fresh);
      list = fresh;
      history.replaceState(null, "", url);
    } catch {
      if (!under.signal.aborted) form.submit();
    }
  };
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
