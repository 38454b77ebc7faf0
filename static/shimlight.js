// Improves pages that work without it.
"use strict";

// Shows only the fields that belong to the choice made: <div data-when="build=box,body cap">.
function followChoices() {
  const dependent = [...document.querySelectorAll("[data-when]")];
  if (dependent.length === 0) return;
  const apply = () => {
    for (const part of dependent) {
      const [name, values] = part.dataset.when.split("=");
      const chosen = document.querySelector(`[name="${CSS.escape(name)}"]:checked, select[name="${CSS.escape(name)}"]`);
      // nothing chosen yet: everything stays in sight, as without a script
      part.hidden = Boolean(chosen) && !values.split(",").includes(chosen.value);
    }
  };
  document.addEventListener("change", apply);
  apply();
}

// On a computer that others use: while somebody types, the sign-in is kept; when nobody has touched
// the page for fifteen minutes, it leaves.
function watchForIdling() {
  const minutes = Number(document.body.dataset.idleMinutes || 0);
  if (!minutes) return;
  let touched = Date.now();
  let told = Date.now();
  const touch = () => {
    touched = Date.now();
    if (touched - told > 120000) {
      told = touched;
      fetch("/here", { cache: "no-store" }).catch(() => {});
    }
  };
  for (const kind of ["keydown", "pointerdown", "input"]) document.addEventListener(kind, touch, { passive: true });
  setInterval(() => {
    if (Date.now() - touched > minutes * 60000) window.location.assign("/left");
  }, 5000);
}

// A second click on the same button does nothing; the server would answer it the same anyway.
function sendOnce() {
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.dataset.sent === "yes") {
      event.preventDefault();
      return;
    }
    form.dataset.sent = "yes";
    setTimeout(() => delete form.dataset.sent, 4000);
  });
}

// After a refusal, begins where it says what is wrong.
function showWhatIsWrong() {
  const wrong = document.querySelector(".wrong[role=alert]");
  const beside = document.querySelector("[aria-invalid]");
  if (wrong) {
    wrong.tabIndex = -1;
    wrong.focus();
  } else if (beside) {
    beside.focus();
  }
}

// Fetches the parts of the page that others changed. The server says which, over one stream; without
// a script, or when the stream is gone for good, the page is loaded anew now and then instead.
function followChanges() {
  const board = document.querySelector("[data-changes]");
  if (!board || !window.EventSource) return;
  const stale = new Set();
  let timer = 0;

  // what somebody is typing into is not taken away from under them
  const typing = (part) => {
    const here = document.activeElement;
    return part.contains(here) && here.matches("input:not([type=hidden]), textarea, select") && here.value !== "";
  };
  const put = (part, html) => {
    if (part.innerHTML === html) return;
    const here = part.contains(document.activeElement) ? document.activeElement : null;
    const again = here && (here.getAttribute("href") || here.closest("form")?.getAttribute("action") || here.id);
    part.innerHTML = html;
    if (!again) return;
    const found = [...part.querySelectorAll("a, input, button")].find(
      (other) => other.getAttribute("href") === again || other.id === again || (other.matches("button, input:not([type=hidden])") && other.closest("form")?.getAttribute("action") === again),
    );
    found?.focus();
  };
  const look = async () => {
    timer = 0;
    const names = [...stale];
    stale.clear();
    for (const name of names) {
      for (const part of document.querySelectorAll(`[data-part="${CSS.escape(name)}"]`)) {
        if (typing(part)) {
          stale.add(name);
          continue;
        }
        try {
          const answer = await fetch(`${board.dataset.parts}${name}?by-itself`, { cache: "no-store", redirect: "error" });
          if (answer.ok) put(part, await answer.text());
        } catch {
          stale.add(name);
        }
      }
    }
    if (stale.size && !timer) timer = setTimeout(look, 5000);
  };
  const soon = (names) => {
    names.forEach((name) => stale.add(name));
    // a burst of changes is one look; pages do not all ask in the same instant
    timer ||= setTimeout(look, 150 + Math.random() * 350);
  };
  const parts = () => [...document.querySelectorAll("[data-part]")].map((part) => part.dataset.part);

  const source = new EventSource(board.dataset.changes);
  source.addEventListener("changed", (event) => soon(event.data.split(" ")));
  source.addEventListener("error", () => {
    // closed for good: signed out, or another server stands here now
    if (source.readyState === EventSource.CLOSED) setTimeout(() => window.location.reload(), 5000);
  });
  window.addEventListener("pagehide", () => source.close());
  // "for three minutes" becomes four without anything being changed
  setInterval(() => soon(parts()), 30000);
}

followChoices();
followChanges();
showWhatIsWrong();
watchForIdling();
sendOnce();
