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
    // a refused form that is sent again and saved: going back leads to the page it was on, not to the refusal
    const refused = document.querySelector(".wrong[role=alert]");
    if (refused && form.method === "post" && document.referrer.startsWith(`${location.origin}/`)) {
      history.replaceState(null, "", document.referrer);
    }
    setTimeout(() => delete form.dataset.sent, 4000);
  });
}

// After a refusal, begins where it says what is wrong.
function showWhatIsWrong() {
  const wrong = document.querySelector(".wrong[role=alert]");
  // each message in the list begins with the name of its field
  for (const link of wrong?.querySelectorAll("li a[href^='#']") ?? []) {
    const field = document.getElementById(link.hash.slice(1));
    const label = field?.labels?.[0] ?? field?.querySelector("legend");
    if (label) link.prepend(`${label.firstChild.textContent.trim().replace(/[?:.]$/, "")}: `);
  }
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
    if (!part.contains(here)) return false;
    if (here.matches("input:not([type=hidden]), textarea, select") && here.value !== "") return true;
    // on the way from what was typed to its button
    const fields = here.closest("form")?.querySelectorAll("input:not([type=hidden]), textarea") ?? [];
    return [...fields].some((field) => field.value !== field.defaultValue);
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
          const answer = await fetch(`${board.dataset.parts}${name}?by-itself`, { cache: "no-store", redirect: "manual" });
          const html = answer.ok ? await answer.text() : null;
          // somebody may have begun to type while it was under way
          if (typing(part)) stale.add(name);
          else if (html !== null) put(part, html);
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
  // newer pages of the same person follow instead; this one looks by itself every half minute
  source.addEventListener("elsewhere", () => source.close());
  source.addEventListener("error", () => {
    // closed for good: signed out, or another server stands here now
    if (source.readyState === EventSource.CLOSED) setTimeout(() => window.location.reload(), 5000);
  });
  window.addEventListener("pagehide", () => source.close());
  // "for three minutes" becomes four without anything being changed
  setInterval(() => soon(parts()), 30000);
}

// Shows what follows from a form while it is typed into; the server reckons it as it does for the
// full page.
function showAsTyped() {
  for (const form of document.querySelectorAll("form[data-as-typed]")) {
    const into = document.getElementById(form.dataset.into);
    let timer = 0;
    let latest = 0;
    const ask = async () => {
      const mine = ++latest;
      const typed = new URLSearchParams(new FormData(form));
      for (const name of ["form_id", "version", "remark", "shown"]) typed.delete(name);
      try {
        const answer = await fetch(`${form.dataset.asTyped}?${typed}`, { cache: "no-store", redirect: "manual" });
        if (!answer.ok || mine !== latest) return;
        into.innerHTML = await answer.text();
        into.closest("[data-as-typed-block]").hidden = false;
      } catch {
        // no connection: the numbers come with the page when the form is sent
      }
    };
    form.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(ask, 300);
    });
  }
}

// What is being typed survives a lost connection or a page loaded anew, in this tab only, and is
// gone when the seat is left. Passwords, keys and files are never kept.
function keepDrafts() {
  const whose = document.querySelector(".whose")?.textContent.trim() ?? "";
  if (!whose || document.querySelector("body.door")) {
    sessionStorage.clear();
    return;
  }
  for (const leave of document.querySelectorAll("form.leave")) leave.addEventListener("submit", () => sessionStorage.clear());
  const secret = (control) => /password|key/.test(control.name) || ["hidden", "password", "file", "submit", "button"].includes(control.type);
  const controls = (form) => [...form.elements].filter((control) => control.name && !secret(control));
  const sent = sessionStorage.getItem("sent");
  sessionStorage.removeItem("sent");
  // sent, and this page is the answer: whatever became of it, the page holds it. Come back to by the
  // browser's own button instead, the form was perhaps never answered
  const answered = performance.getEntriesByType("navigation")[0]?.type === "navigate";
  if (sent && answered) sessionStorage.removeItem(sent);
  const state = (form) => controls(form).map((c) => [c.name, c.type === "checkbox" || c.type === "radio" ? (c.checked ? c.value : null) : c.value]);
  for (const form of document.querySelectorAll("form[method=post]:not(.leave):not(.drafted)")) {
    if (controls(form).length === 0) continue;
    const place = `draft ${whose} ${window.location.pathname} ${form.getAttribute("action")}`;
    // a number alone means the unit beside it: in other units since, the form begins anew
    const units = [...form.querySelectorAll("[type=hidden][name$=_in]")].map((control) => control.value);
    const version = [form.elements.version?.value ?? "", ...units].join(" ");
    const asLoaded = JSON.stringify(state(form));
    const kept = JSON.parse(sessionStorage.getItem(place) ?? "null");
    // a form that came back with messages holds what was typed already; one for a record that has
    // changed meanwhile begins anew
    if (kept && !form.querySelector("[aria-invalid]") && kept.version === version && kept.asLoaded === asLoaded) {
      controls(form).forEach((control, index) => {
        const [name, value] = kept.typed[index] ?? [];
        if (name !== control.name) return;
        if (control.type === "checkbox" || control.type === "radio") control.checked = value !== null;
        else control.value = value;
      });
      const said = document.createElement("p");
      said.className = "note";
      said.setAttribute("role", "status");
      said.textContent = "What you had typed here is back; it is not saved yet.";
      form.prepend(said);
      form.dispatchEvent(new Event("change", { bubbles: true }));
    } else if (kept) {
      sessionStorage.removeItem(place);
    }
    form.addEventListener("input", () => {
      sessionStorage.setItem(place, JSON.stringify({ version, asLoaded, typed: state(form) }));
    });
    form.addEventListener("submit", (event) => {
      if (navigator.onLine) {
        sessionStorage.setItem("sent", place);
        return;
      }
      event.preventDefault();
      event.stopImmediatePropagation();
      let said = form.querySelector("[data-offline]");
      if (!said) {
        said = document.createElement("p");
        said.className = "error";
        said.dataset.offline = "";
        said.setAttribute("role", "alert");
        form.append(said);
      }
      said.textContent = "There is no connection now. What you typed stays here: send it when the connection is back.";
    });
  }
}

// Proposes the zone this computer lives in; it stands in the field to be seen and changed.
function proposeZone() {
  const field = document.querySelector("[data-own-zone]");
  if (field && field.value === "") field.value = Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
}

// On paper: the day it was printed, and what is folded on the screen.
function printWhole() {
  const opened = [];
  window.addEventListener("beforeprint", () => {
    for (const day of document.querySelectorAll("[data-printed]")) day.textContent = new Date().toLocaleDateString();
    if (!document.body.classList.contains("bench")) return;
    for (const fold of document.querySelectorAll("details:not([open])")) {
      fold.open = true;
      opened.push(fold);
    }
  });
  window.addEventListener("afterprint", () => {
    for (const fold of opened.splice(0)) fold.open = false;
  });
}

// The buttons at the foot of every page. Colours change where they are: nothing is loaded, nothing typed is
// lost. An answer to a form stands at no address it could be loaded from, and a bare number typed on it is
// in the units it says: there the other units wait for the next page.
function switchAtTheFoot() {
  const theme = document.querySelector("form[data-theme-switch]");
  theme.hidden = false;
  for (const words of document.querySelectorAll("[data-without-script]")) words.hidden = true;
  theme.addEventListener("submit", async (event) => {
    event.preventDefault();
    event.stopPropagation();
    const button = theme.querySelector("button");
    const dim = button.value === "dim";
    try {
      const body = new URLSearchParams([["theme", button.value], ["back", "/"]]);
      await fetch(theme.action, { method: "POST", body, redirect: "manual", cache: "no-store" });
    } catch {
      // no connection: this page changes all the same
    }
    if (dim) document.documentElement.dataset.theme = "dim";
    else delete document.documentElement.dataset.theme;
    document.querySelector(".not-a-safelight").hidden = !dim;
    button.value = dim ? "light" : "dim";
    button.textContent = dim ? "Make this page light" : "Make this page dark red";
  });

  const units = document.querySelector("form[data-units-switch]");
  if (!units) return;
  const button = units.querySelector("button");
  if (!units.hasAttribute("data-answers")) {
    const wanted = sessionStorage.getItem("units of the next page");
    sessionStorage.removeItem("units of the next page");
    if (wanted === button.value) units.requestSubmit(button);
    return;
  }
  units.hidden = false;
  const said = document.createElement("p");
  said.setAttribute("role", "status");
  units.append(said);
  units.addEventListener("submit", (event) => {
    event.preventDefault();
    event.stopPropagation();
    sessionStorage.setItem("units of the next page", button.value);
    said.textContent = `${button.textContent}: from the next page on. This one stays as it is, with what you typed.`;
  });
}

followChoices();
printWhole();
proposeZone();
keepDrafts();
showAsTyped();
followChanges();
showWhatIsWrong();
watchForIdling();
sendOnce();
switchAtTheFoot();
