// A report saves itself while it is written. What could not be sent yet is kept in this tab and sent
// when the server answers again; it is gone when the seat is left, like every other draft.

const form = document.querySelector("form.drafted");

if (form) {
  // a report nobody has saved yet has no version on its page
  if (!form.elements.namedItem("version")) {
    const version = document.createElement("input");
    Object.assign(version, { type: "hidden", name: "version", value: "0" });
    form.append(version);
  }
  const kept = form.querySelector(".kept");
  const whose = document.querySelector(".whose")?.textContent.trim() ?? "";
  const place = `draft ${whose} ${form.getAttribute("action")} report`;
  const controls = [...form.elements].filter((control) => control.name === "body" || control.name.startsWith("answer-"));
  const typed = () => controls.map((control) => [control.name, control.value]);
  const draft = { sent: JSON.stringify(typed()), sending: false, timer: 0, stuck: false };

  const tell = (words, alarming) => {
    kept.hidden = false;
    kept.textContent = words;
    kept.classList.toggle("failed", Boolean(alarming));
  };

  // words where a number is asked are kept, and said beside the field to be none yet
  function sayBeside(control, words) {
    const id = `${control.id}-hint`;
    let said = document.getElementById(id);
    if (!words) {
      if (said) said.hidden = true;
      return;
    }
    if (!said) {
      said = Object.assign(document.createElement("p"), { id, className: "hint" });
      said.setAttribute("role", "status");
      control.closest(".with-unit").before(said);
      control.setAttribute("aria-describedby", id);
    }
    said.hidden = false;
    said.textContent = words;
  }

  const keep = () => sessionStorage.setItem(place, JSON.stringify({ version: form.elements.version.value, typed: typed() }));

  async function save() {
    const now = JSON.stringify(typed());
    if (draft.sending || draft.stuck || now === draft.sent) return;
    draft.sending = true;
    tell("Saving …");
    const body = new URLSearchParams([["version", form.elements.version.value], ["act", "save"], ...typed()]);
    try {
      const response = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "manual", keepalive: body.toString().length < 60000 });
      const json = (response.headers.get("Content-Type") ?? "").startsWith("application/json");
      if (!json) throw new Error(`status ${response.status}`);
      const answer = await response.json();
      if (response.ok) {
        form.elements.version.value = answer.version;
        draft.sent = now;
        sessionStorage.removeItem(place);
        tell(`Draft saved at ${answer.at}.`);
        // what the page said when it was loaded is old now
        const when = document.querySelector("[data-report-when]");
        if (when) when.textContent = `saved at ${answer.at}`;
        for (const control of controls) sayBeside(control, (answer.not_yet ?? []).includes(control.name) ? answer.not_yet_said : "");
      } else if (response.status === 409) {
        draft.stuck = true;
        tell(`Not saved: ${answer.said}. Copy what you need, then load this page anew.`, true);
      } else {
        draft.sent = now;
        tell(`Not saved: ${answer.said}.`, true);
      }
    } catch {
      tell("Not saved yet: the server does not answer. What you typed stays in this window and is tried again.", true);
    } finally {
      draft.sending = false;
    }
    if (JSON.stringify(typed()) !== draft.sent) later(4000);
  }

  function later(wait) {
    clearTimeout(draft.timer);
    draft.timer = setTimeout(save, wait);
  }

  const before = JSON.parse(sessionStorage.getItem(place) ?? "null");
  if (before && before.version === form.elements.version.value && !form.querySelector("[aria-invalid]")) {
    for (const [name, value] of before.typed) {
      const control = form.elements.namedItem(name);
      if (control) control.value = value;
    }
    tell("What you had typed here is back.");
    later(200);
  } else if (before) {
    sessionStorage.removeItem(place);
  }
  form.addEventListener("input", () => {
    keep();
    later(1500);
  });
  form.addEventListener("submit", () => {
    // until it is answered the text stays here; the answer has another version
    clearTimeout(draft.timer);
    draft.stuck = true;
    keep();
  });
  document.addEventListener("visibilitychange", () => {
    if (document.hidden) save();
  });
  window.addEventListener("online", () => save());
}
