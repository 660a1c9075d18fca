"use strict";
// Ticks that survive a reload, and light or dark. Storage may be refused; the page then works without memory.
(() => {
  const mark = document.body.dataset.plan;
  const kept = {
    get(key) { try { return localStorage.getItem(key); } catch { return null; } },
    set(key, value) { try { localStorage.setItem(key, value); } catch { /* no memory */ } },
  };

  for (const box of document.querySelectorAll("input.tick")) {
    const key = `evenlead ${mark} ${box.dataset.piece}`;
    const show = () => box.closest("tr").classList.toggle("done", box.checked);
    box.checked = kept.get(key) === "done";
    show();
    box.addEventListener("change", () => { kept.set(key, box.checked ? "done" : ""); show(); });
  }

  // on paper everything is told in full, whatever was open on the screen; but for the record, which takes pages
  const folded = [...document.querySelectorAll("section:not([aria-labelledby=record]) details")];
  let closed = [];
  addEventListener("beforeprint", () => { closed = folded.filter((d) => !d.open); for (const d of closed) d.open = true; });
  addEventListener("afterprint", () => { for (const d of closed) d.open = false; });

  const button = document.getElementById("theme");
  const root = document.documentElement;
  const themes = ["", "dark", "light"];
  const names = ["Light or dark: as the device", "Dark", "Light"];
  let theme = Math.max(0, themes.indexOf(kept.get("evenlead theme") || ""));
  const apply = () => {
    if (themes[theme]) root.dataset.theme = themes[theme]; else delete root.dataset.theme;
    button.textContent = names[theme];
    document.dispatchEvent(new Event("themechange"));
  };
  button.hidden = false;
  button.addEventListener("click", () => {
    theme = (theme + 1) % themes.length;
    kept.set("evenlead theme", themes[theme]);
    apply();
  });
  apply();
})();
