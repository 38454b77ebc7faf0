// Marking fast: every cell is saved as it is left, what another marker changed is shown, and a
// mark is never lost. Without this script the table is one form with one button.

const form = document.querySelector("form.marking");
const kept = document.getElementById("kept");

/** How the state of a line is coloured, as the page has it. */
const TAGS = { unmarked: "planned", "partly marked": "watch", marked: "use", excused: "", "given back": "closed" };

const session = { busy: 0, failed: false };

// A form id of our own for each sending: the page's plain HTTP has no crypto.randomUUID.
function formId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

function tell(words, alarming) {
  kept.textContent = words;
  kept.classList.toggle("failed", Boolean(alarming));
}

function field(name) {
  return form.elements.namedItem(name);
}

// points-{student}-{criterion}: ids are UUIDs of 36 characters.
function idsOf(name) {
  const rest = name.replace(/^(points|reason)-/, "");
  return [rest.slice(0, 36), rest.slice(37)];
}

function cellsOf(row) {
  return Array.from(row.querySelectorAll("input[name^='points-']"));
}

const grid = () => Array.from(form.querySelectorAll("tbody tr")).map(cellsOf);

function cellIsDirty(input) {
  const [student, criterion] = idsOf(input.name);
  const had = field(`had-points-${student}-${criterion}`);
  const reason = field(`reason-${student}-${criterion}`);
  return input.value.trim() !== had.value || Boolean(reason && reason.value !== (reason.dataset.had ?? reason.defaultValue));
}

function note(cell, words, kind) {
  let line = cell.querySelector(".beside");
  if (!line) {
    line = document.createElement("p");
    line.className = "beside";
    line.setAttribute("role", "status");
    cell.append(line);
  }
  line.textContent = words;
  line.dataset.kind = kind;
  return line;
}

function unnote(cell) {
  cell.querySelector(".beside")?.remove();
}

// The reason that a mark other than the suggested one needs, asked for where it is needed.
function askReason(input) {
  const [student, criterion] = idsOf(input.name);
  const name = `reason-${student}-${criterion}`;
  if (field(name)) return field(name);
  const label = document.createElement("label");
  label.className = "why";
  label.htmlFor = name;
  label.textContent = "Why";
  const reason = document.createElement("input");
  reason.id = name;
  reason.name = name;
  reason.size = 12;
  reason.dataset.had = "";
  input.closest("td").append(label, reason);
  return reason;
}

function showLine(student, line) {
  const row = form.querySelector(`tr[data-student="${student}"]`);
  if (!row) return;
  row.querySelector(".total").textContent = `${line.total} of ${line.out_of}`;
  const tag = row.querySelector(".state .tag");
  tag.textContent = line.state;
  tag.className = `tag ${TAGS[line.state] ?? ""}`;
  if (line.state !== "unmarked") row.querySelector(".workless")?.remove();
  row.querySelector(".comment .on-paper").textContent = line.comment;
  for (const [criterion, now] of Object.entries(line.cells)) {
    const input = field(`points-${student}-${criterion}`);
    const had = field(`had-points-${student}-${criterion}`);
    const seen = field(`seen-${student}-${criterion}`);
    if (!input || String(now.seen) === seen.value) continue;
    const cell = input.closest("td");
    const dirty = input.value.trim() !== had.value;
    if (dirty && input.value.trim() !== now.typed) {
      const line = note(cell, `${now.by || "Another marker"} gave ${now.typed || "nothing"} meanwhile. `, "clash");
      for (const [words, act] of [["Keep theirs", () => (input.value = now.typed)], ["Put mine", () => {}]]) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "quiet";
        button.textContent = words;
        button.addEventListener("click", () => {
          act();
          had.value = now.typed;
          seen.value = now.seen;
          unnote(cell);
          if (cellIsDirty(input)) save(input);
          input.focus();
        });
        line.append(button);
      }
      continue;
    }
    if (input.value.trim() !== now.typed) note(cell, `changed by ${now.by || "another marker"}`, "changed");
    input.value = now.typed;
    had.value = now.typed;
    seen.value = now.seen;
    const reason = field(`reason-${student}-${criterion}`);
    if (reason) {
      reason.value = now.reason;
      reason.dataset.had = now.reason;
    }
  }
  const comment = field(`overall-${student}`);
  const hadComment = field(`had-overall-${student}`);
  const standing = field(`standing-${student}`);
  const hadStanding = field(`had-standing-${student}`);
  const seen = field(`seen-overall-${student}`);
  if (String(line.seen) !== seen.value) {
    const dirty = comment.value.trim() !== hadComment.value.trim() || standing.value !== hadStanding.value;
    const same = comment.value.trim() === line.comment && standing.value === line.standing;
    if (dirty && !same) {
      const beside = note(comment.closest("td"), `${line.by || "Another marker"} wrote meanwhile: ${line.comment || "nothing"} (${line.standing}). `, "clash");
      for (const mine of [false, true]) {
        const button = document.createElement("button");
        button.type = "button";
        button.className = "quiet";
        button.textContent = mine ? "Put mine" : "Keep theirs";
        button.addEventListener("click", () => {
          if (!mine) {
            comment.value = line.comment;
            standing.value = line.standing;
          }
          hadComment.value = line.comment;
          hadStanding.value = line.standing;
          seen.value = line.seen;
          unnote(comment.closest("td"));
          if (mine) saveOverall(student);
        });
        beside.append(button);
      }
      return;
    }
    if (!same) note(comment.closest("td"), `changed by ${line.by || "another marker"}`, "changed");
    comment.value = line.comment;
    standing.value = line.standing;
    hadComment.value = line.comment;
    hadStanding.value = line.standing;
    seen.value = line.seen;
  }
}

function showAll(answer, only) {
  for (const [student, line] of Object.entries(answer.lines ?? {})) if (!only || student !== only) showLine(student, line);
}

async function send(fields, cell) {
  session.busy += 1;
  tell("Saving …");
  const body = new URLSearchParams([["form_id", formId()], ["version", "0"], ...fields]);
  let answer = null;
  try {
    const response = await fetch(form.action, { method: "POST", body, headers: { Accept: "application/json" }, redirect: "manual" });
    const json = (response.headers.get("Content-Type") ?? "").startsWith("application/json");
    answer = json ? { status: response.status, ...(await response.json()) } : { status: response.status };
    if (!json) throw new Error(`status ${response.status}`);
  } catch (error) {
    session.failed = true;
    tell("Not saved: the server does not answer. What you typed stays here; it is tried again by itself.", true);
    note(cell, "not saved yet", "failed");
    return null;
  } finally {
    session.busy -= 1;
  }
  session.failed = false;
  return answer;
}

async function save(input) {
  const [student, criterion] = idsOf(input.name);
  const cell = input.closest("td");
  const names = ["points", "had-points", "seen", "reason"].map((name) => `${name}-${student}-${criterion}`);
  const fields = names.filter((name) => field(name)).map((name) => [name, field(name).value]);
  const sent = input.value.trim();
  const answer = await send(fields, cell);
  if (!answer) return;
  if (answer.status === 422) {
    const [name, message] = answer.errors?.[0] ?? ["", "not saved"];
    input.setAttribute("aria-invalid", "true");
    tell("Not saved: see beside the cell.", true);
    note(cell, message, "failed");
    if (name.startsWith("reason-")) askReason(input).focus();
    showAll(answer, student);
    return;
  }
  if (answer.status === 409) {
    tell("Another marker was here meanwhile: choose beside the cell.", true);
    showAll(answer);
    return;
  }
  if (answer.status !== 200) {
    tell(`Not saved (${answer.status}).`, true);
    note(cell, "not saved", "failed");
    return;
  }
  input.removeAttribute("aria-invalid");
  unnote(cell);
  // what was typed on while it was being saved is saved next
  const typedOn = input.value.trim() !== sent;
  const now = answer.lines?.[student]?.cells?.[criterion];
  if (now) {
    field(`had-points-${student}-${criterion}`).value = now.typed;
    field(`seen-${student}-${criterion}`).value = now.seen;
    if (!typedOn) input.value = now.typed;
    const reason = field(`reason-${student}-${criterion}`);
    if (reason) {
      reason.value = now.reason;
      reason.dataset.had = now.reason;
    }
  }
  showAll(answer);
  tell(`All saved at ${answer.at}.`);
  if (typedOn) await save(input);
}

async function saveOverall(student) {
  const cell = field(`overall-${student}`).closest("td");
  const names = ["overall", "had-overall", "standing", "had-standing", "seen-overall", "phrase"].map((name) => `${name}-${student}`);
  const fields = names.filter((name) => field(name)).map((name) => [name, field(name).value]);
  const answer = await send(fields, cell);
  if (!answer) return;
  if (answer.status === 200) {
    const line = answer.lines?.[student];
    if (line) {
      field(`overall-${student}`).value = line.comment;
      field(`had-overall-${student}`).value = line.comment;
      field(`had-standing-${student}`).value = line.standing;
      field(`seen-overall-${student}`).value = line.seen;
      if (field(`phrase-${student}`)) field(`phrase-${student}`).value = "";
    }
    unnote(cell);
    showAll(answer);
    tell(`All saved at ${answer.at}.`);
  } else {
    tell("Not saved: see beside the comment.", true);
    if (answer.errors) note(cell, answer.errors[0]?.[1] ?? "not saved", "failed");
    showAll(answer, answer.status === 409 ? undefined : student);
  }
}

function move(input, down, right) {
  const rows = grid();
  const y = rows.findIndex((row) => row.includes(input));
  const x = rows[y]?.indexOf(input) ?? -1;
  const next = rows[y + down]?.[x + right];
  if (!next) return;
  next.focus();
  next.select();
}

function keys(event) {
  const input = event.target;
  if (!(input instanceof HTMLInputElement) || !input.name.startsWith("points-")) return;
  const atStart = input.selectionStart === 0;
  const atEnd = input.selectionEnd === input.value.length;
  const moves = { ArrowUp: [-1, 0], ArrowDown: [1, 0], Enter: [event.shiftKey ? -1 : 1, 0] };
  if (event.key in moves) {
    event.preventDefault();
    move(input, ...moves[event.key]);
  } else if (event.key === "ArrowLeft" && atStart) {
    event.preventDefault();
    move(input, 0, -1);
  } else if (event.key === "ArrowRight" && atEnd) {
    event.preventDefault();
    move(input, 0, 1);
  } else if (event.key === "s" && !event.ctrlKey && !event.metaKey && !event.altKey) {
    event.preventDefault();
    if (input.dataset.take) {
      input.value = input.dataset.take;
      input.dispatchEvent(new Event("change", { bubbles: true }));
      move(input, 1, 0);
    }
  }
}

async function lookAgain() {
  if (document.hidden || session.busy > 0) return;
  if (session.failed) {
    for (const input of grid().flat().filter(cellIsDirty)) await save(input);
    if (session.failed) return;
  }
  try {
    const response = await fetch(`${form.dataset.now}?by-itself`, { cache: "no-store", redirect: "manual" });
    if (response.ok && session.busy === 0) showAll(await response.json());
  } catch {
    // the next saving will say that the server does not answer
  }
}

if (form) {
  for (const hidden of document.querySelectorAll(".by-script")) hidden.hidden = false;
  form.addEventListener("keydown", keys);
  form.addEventListener("change", (event) => {
    const name = event.target.name ?? "";
    if (name.startsWith("points-") || name.startsWith("reason-")) {
      const [student, criterion] = idsOf(name);
      const input = field(`points-${student}-${criterion}`);
      if (name.startsWith("points-") ? cellIsDirty(input) : true) save(input);
    } else if (/^(overall|standing|phrase)-/.test(name)) {
      saveOverall(name.slice(-36));
    }
  });
  setInterval(lookAgain, 10000);
  window.addEventListener("beforeunload", (event) => {
    if (session.busy > 0 || session.failed) event.preventDefault();
  });
}
