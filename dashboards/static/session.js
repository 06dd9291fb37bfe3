// Tells that a sign-in is about to end, and keeps what was typed in this tab. Without it a form that comes
// too late is kept by the server and shown again after signing in.
"use strict";

const SESSION = document.getElementById("session");
/** How long before the end it is told [s]: long enough to finish a sentence. */
const AHEAD = Math.min(300, Number(SESSION.dataset.idle) / 2);
/** How often the time left is looked at [ms]; a machine that slept is told at its next look. */
const LOOK = 5000;
/** Fields that are never kept: secrets, files, and what the page itself put in. */
const UNKEPT = new Set(["password", "hidden", "file", "submit", "button"]);
const DRAFTS = `draft ${SESSION.dataset.login} `;

let endsAt = Date.now() + Number(SESSION.dataset.left) * 1000;
let asking = false;

/** Shows one of the sentences that the page brought along, or none. */
function tell(which, minutes) {
  SESSION.hidden = which === "";
  for (const part of SESSION.querySelectorAll("[data-when]")) {
    part.hidden = part.dataset.when !== which;
    const place = part.querySelector("[data-minutes]");
    const text = minutes === 1 ? "a minute" : `${minutes} minutes`;
    // Written only when it changes, so that a reader by ear is not told every few seconds.
    if (place && !part.hidden && place.textContent !== text) place.textContent = text;
  }
}

/** Takes over what the server says is left of the sign-in. */
async function take(answer) {
  const told = answer.ok ? await answer.json() : { left_s: 0, can_stay: false };
  endsAt = Date.now() + told.left_s * 1000;
  SESSION.dataset.stay = told.can_stay ? "1" : "";
}

/** Asks how long is left, without using the sign-in: another tab may have used it meanwhile. */
async function ask() {
  if (asking) return;
  asking = true;
  try {
    await take(await fetch("/sign-in/left", { cache: "no-store" }));
  } catch {
    // No signal: what was known goes on.
  } finally {
    asking = false;
  }
}

/** Looks how long is left, and says so when it is not long. */
async function look() {
  let left = (endsAt - Date.now()) / 1000;
  if (left <= AHEAD) {
    await ask();
    left = (endsAt - Date.now()) / 1000;
  }
  if (left <= 0) tell("ended", 0);
  else if (left > AHEAD) tell("", 0);
  else tell(SESSION.dataset.stay ? "soon" : "last", Math.ceil(left / 60));
}

/** Goes on with the sign-in, because somebody said so. */
async function stay() {
  const body = new URLSearchParams({ token: SESSION.dataset.token });
  try {
    await take(await fetch("/sign-in/stay", { method: "POST", body }));
  } catch {
    // No signal: it is told again at the next look.
  }
  await look();
}

/** Names a form of this page, for the tab's own memory. */
function nameOf(form) {
  return `${DRAFTS}${location.pathname} ${new URL(form.action).pathname}`;
}

/** Gives the fields of a form that people fill in. */
function fieldsOf(form) {
  return [...form.elements].filter((field) => field.name && !UNKEPT.has(field.type));
}

/** Keeps what is typed, in this tab only. */
function keep(event) {
  const form = event.target.form;
  if (!form || form.method !== "post" || !form.closest("main")) return;
  const typed = fieldsOf(form).map((field) => [
    field.name,
    field.type === "checkbox" || field.type === "radio" ? field.value : "",
    field.type === "checkbox" || field.type === "radio" ? field.checked : field.value,
  ]);
  try {
    sessionStorage.setItem(nameOf(form), JSON.stringify(typed));
  } catch {
    // The tab's memory is full or shut: the form itself still holds it.
  }
}

/** Puts back what was typed into a form of this page before, unless the page brings it along itself. */
function putBack(form) {
  const kept = sessionStorage.getItem(nameOf(form));
  if (!kept || document.getElementById("errors")) return;
  const waiting = JSON.parse(kept);
  let changed = false;
  for (const field of fieldsOf(form)) {
    const picks = field.type === "checkbox" || field.type === "radio";
    const found = waiting.find(([name, value]) => name === field.name && value === (picks ? field.value : ""));
    if (!found) continue;
    const [, , text] = found;
    if (picks ? field.checked !== text : field.value !== text) {
      changed = true;
      field.closest("details")?.setAttribute("open", "");
    }
    if (picks) field.checked = text;
    else field.value = text;
  }
  if (changed) document.getElementById("put-back").hidden = false;
}

/** Forgets what was typed: in a form that is sent, or everywhere in this tab. */
function forget(form) {
  for (const name of Object.keys(sessionStorage)) {
    if (form ? name === nameOf(form) : name.startsWith("draft ")) sessionStorage.removeItem(name);
  }
}

document.addEventListener("input", keep);
document.addEventListener("change", keep);
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method === "post") forget(form.getAttribute("action") === "/sign-out" ? null : form);
});
document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("main form[method=post]").forEach(putBack);
  document.getElementById("put-back-not").addEventListener("click", () => {
    forget(null);
    location.reload();
  });
  document.getElementById("stay").addEventListener("click", stay);
  setInterval(look, LOOK);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
});
