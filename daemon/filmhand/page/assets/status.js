// Loads the page again now and then, shows times where the reader is, filters and puts away.
// All works without it but for these. What it remembers lies in the reader's own browser.
(() => {
  "use strict";
  const every = 5, stale = 24; // seconds
  const root = document.documentElement;
  const words = JSON.parse(document.getElementById("words").textContent);
  const by = (id) => document.getElementById(id);
  const all = (query) => [...document.querySelectorAll(query)];
  const keep = (store, key, value) => {
    try {
      if (value === undefined) return JSON.parse(store().getItem(key));
      store().setItem(key, JSON.stringify(value));
    } catch { /* a browser that keeps nothing */ }
    return null;
  };
  const local = () => window.localStorage, session = () => window.sessionStorage;
  const station = "filmhand " + root.dataset.station;

  for (const time of all("time")) {
    const at = new Date(time.dateTime);
    if (!isNaN(at)) {
      time.title = time.textContent;
      time.textContent = at.toLocaleString(root.lang, { dateStyle: "medium", timeStyle: "short" });
    }
  }

  // --- holding still, and noticing that nobody writes any more ---
  const pause = by("pause"), search = by("search");
  let paused = keep(session, station + " paused") === true;
  const showPause = () => {
    pause.textContent = paused ? words.follow : words.hold;
    pause.setAttribute("aria-pressed", String(paused));
  };
  pause.hidden = false;
  pause.addEventListener("click", () => {
    paused = !paused;
    keep(session, station + " paused", paused);
    showPause();
  });
  showPause();

  const written = by("written").dateTime;
  const seen = keep(session, station + " written");
  const since = seen && seen.written === written ? seen.at : Date.now();
  const first = !seen;
  keep(session, station + " written", { written, at: since });
  const lookStale = () => {
    const known = (Date.now() - since) / 1000;
    const told = (Date.now() - Date.parse(written)) / 1000;
    if (root.dataset.running === "yes" && (known > stale || (first && told > 2 * stale))) {
      by("stale").hidden = false;
      for (const state of all("header .good")) state.hidden = true; // nobody knows that it works
    }
  };
  lookStale();

  // --- which entries are shown ---
  const choices = all("input[name=profile], input[name=kind]");
  const wanted = keep(session, station + " wanted") || {};
  if (wanted.search) search.value = wanted.search;
  for (const choice of choices) if (wanted[choice.name] === choice.value) choice.checked = true;
  const away = new Set(keep(local, station + " away") || []);
  const plain = (text) => text.normalize("NFKD").replace(/\p{M}/gu, "").toLowerCase();

  const filter = () => {
    const chosen = Object.fromEntries(
      choices.filter((one) => one.checked).map((one) => [one.name, one.value]));
    keep(session, station + " wanted", { ...chosen, search: search.value });
    const parts = plain(search.value).split(/\s+/).filter(Boolean);
    for (const entry of all("[data-entry]")) {
      const text = plain(entry.textContent);
      const isAway = away.has(entry.dataset.job) && "refusal" in entry.dataset;
      entry.hidden = !(
        (!chosen.profile || entry.dataset.profile === chosen.profile) &&
        (!chosen.kind || !entry.dataset.kind || entry.dataset.kind.split(" ").includes(chosen.kind)) &&
        parts.every((part) => text.includes(part)) &&
        (parts.length || chosen.kind === "refused" || !isAway));
      const button = entry.querySelector("button.away");
      if (button) {
        button.hidden = false;
        button.textContent = isAway ? words.back : words.away;
      }
    }
    for (const part of all("[data-part]"))
      part.hidden = Boolean(chosen.profile) && part.dataset.part !== chosen.profile;
    for (const older of all("details.older"))
      if (parts.length) older.open = older.querySelector("[data-entry]:not([hidden])") !== null;
    for (const list of all("section[data-list]")) {
      const none = ![...list.querySelectorAll("[data-entry]")].some((one) => !one.hidden);
      const said = list.querySelector(".none-found");
      if (said) said.hidden = !none || !list.querySelector("[data-entry]");
    }
  };
  by("choose").hidden = false;
  search.addEventListener("input", filter);
  for (const choice of choices) choice.addEventListener("change", filter);
  for (const button of all("button.away"))
    button.addEventListener("click", () => {
      const job = button.closest("[data-job]").dataset.job;
      if (!away.delete(job)) away.add(job);
      keep(local, station + " away", [...away].slice(-2000));
      filter();
    });
  filter();

  // --- what was open stays open over the next load ---
  const open = new Set(keep(session, station + " open") || []);
  for (const part of all("details[id]")) {
    if (open.has(part.id)) part.open = true;
    part.addEventListener("toggle", () => {
      if (part.open) open.add(part.id); else open.delete(part.id);
      keep(session, station + " open", [...open]);
    });
  }
  setInterval(() => {
    const busy = !document.getSelection().isCollapsed || document.activeElement === search;
    if (!paused && !busy && !document.hidden) location.reload(); else lookStale();
  }, every * 1000);
})();
