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

followChoices();
showWhatIsWrong();
watchForIdling();
sendOnce();
