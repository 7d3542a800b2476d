// The bar at the head of every page: what waits on this device, what was refused, and whether the server answers.
import { entries } from "./outbox_store.js";
import { discard, openAgain, send, tellSecret, told } from "./outbox.js";
import { ask, isAway, onChange } from "./server.js";
import { inWords } from "./words.js";

const OFTEN_MS = 20_000;
const bar = document.createElement("aside");
bar.className = "waiting";
bar.hidden = true;
bar.setAttribute("aria-label", inWords("What waits on this device"));
const line = Object.assign(document.createElement("p"), { className: "waiting-line" });
line.setAttribute("role", "status");
const list = document.createElement("details");
list.append(document.createElement("summary"), document.createElement("ol"));
bar.append(line, list);
document.querySelector(".head")?.after(bar);

let why = "", just = "", doing = "", listed = "";

export function say(text) {
  just = text;
  return show();
}

function made(tag, text, name = "") {
  const element = document.createElement(tag);
  element.textContent = text;
  if (name) element.className = name;
  return element;
}

function button(text, of, press) {
  const found = made("button", text);
  found.type = "button";
  found.append(made("span", ` ${of}`, "unseen"));
  found.addEventListener("click", press);
  return found;
}

export function when(at) {
  const then = new Date(at), clock = then.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hour12: false });
  return then.toDateString() === new Date().toDateString() ? clock : `${then.toLocaleDateString()} ${clock}`;
}

function remove(entry) { // asked in the bar itself: a question of the browser's own cannot be pressed with gloves
  const item = list.querySelector(`[data-entry="${entry.id}"]`);
  const yes = button(inWords("Remove for good"), entry.what, () => discard(entry.id));
  const no = button(inWords("Leave it"), entry.what, async () => {
    listed = "";
    await show();
    list.querySelector(`[data-entry="${entry.id}"] .buttons`)?.lastElementChild.focus(); // where the question was asked
  });
  const asked = item.querySelector(".buttons");
  asked.replaceChildren(made("span", inWords("Removed, it is stored nowhere.")), yes, no);
  asked.addEventListener("keydown", (event) => event.key === "Escape" && no.click());
  no.focus();
}

function pin(entry) {
  const form = made("form", "", "buttons");
  const label = made("label", `${entry.signer ? inWords("PIN of {1}", entry.signer) : inWords("PIN")} `);
  const field = Object.assign(document.createElement("input"), { type: "password", inputMode: "numeric", required: true });
  field.autocomplete = "off";
  label.append(field);
  form.append(label, made("button", inWords("Send"), "main"));
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    tellSecret(entry.id, field.value);
    send();
  });
  return form;
}

function item(entry, first) {
  const found = document.createElement("li");
  found.dataset.entry = entry.id;
  const files = entry.fields.filter(([, value]) => value instanceof File).length;
  const head = made("p", "");
  head.append(made("b", entry.what), ` ${when(entry.at)}${files ? `, ${files === 1 ? inWords("1 photograph") : inWords("{1} photographs", files)}` : ""}`);
  found.append(head);
  if (entry.said) found.append(made("p", inWords("Not taken: {1}", entry.said.text), "message"));
  if (entry.asks && first && !entry.said) found.append(made("p", inWords("A PIN is never kept on the device; it is asked for again."), "note"), pin(entry));
  const buttons = made("div", "", "buttons");
  if (entry.said) {
    const again = button(inWords("Open it again"), entry.what, () => openAgain(entry));
    again.classList.add("main");
    buttons.append(again);
  }
  buttons.append(button(inWords("Remove"), entry.what, () => remove(entry)));
  found.append(buttons);
  return found;
}

async function show() {
  let all;
  try {
    all = await entries();
  } catch {
    all = []; // a device that keeps nothing
  }
  const refused = all.find((entry) => entry.said);
  const count = all.length === 1 ? inWords("1 entry waits on this device") : inWords("{1} entries wait on this device", all.length);
  const told = [];
  if (just) told.push(just);
  if (all.length) told.push(doing ? inWords("Sending: {1}.", doing) : `${count}.`);
  if (refused) told.push(inWords("One was not taken: look at it; what comes after it waits for that."));
  else if (isAway()) told.push(inWords("The server does not answer. This page stays readable, and what is entered is kept here and sent by itself."));
  else if (why) told.push(why);
  else if (all[0]?.asks) told.push(inWords("A PIN is asked for."));
  const words = told.join(" ");
  if (line.textContent !== words) line.textContent = words;
  bar.hidden = !words;
  bar.dataset.state = refused ? "refused" : isAway() ? "away" : "waiting";
  list.hidden = !all.length;
  list.querySelector("summary").textContent = all.length === 1 ? inWords("Show it") : inWords("Show all {1}", all.length);
  const now = JSON.stringify(all.map(({ id, said }) => [id, said]));
  if (now !== listed) list.querySelector("ol").replaceChildren(...all.map((entry, n) => item(entry, n === 0)));
  listed = now; // what is being typed or answered there stays
  if (refused || all[0]?.asks) list.open = true;
  return all.length;
}

told("sending", (entry) => { doing = entry.what; });
told("stored", ({ entry, count }) => {
  doing = "";
  just = count === 1 ? inWords("Sent and stored: {1}.", entry.what) : inWords("{1} entries sent and stored.", count);
  show();
});
told("changed", (found) => {
  doing = "";
  why = found;
  show();
});
onChange(show);
document.addEventListener("kept", (event) => say(inWords("Kept on this device: {1}, {2}.", event.detail.entry.what, when(event.detail.entry.at))));

async function attempt() {
  if (!(await show()) || (isAway() && !(await ask()))) return;
  await send();
}
addEventListener("online", attempt);
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && attempt());
setInterval(attempt, OFTEN_MS);
attempt();
