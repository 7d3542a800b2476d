// Marks typed at the hull: the next row comes by itself, each row is judged while the rule is still in the hand, and
// what is typed stays on this device until it is stored.
import { inWords } from "./words.js";
const form = document.querySelector("form[data-judge]");
const QUIET_MS = 250;

if (document.querySelector("[data-stored]")) {
  for (const key of Object.keys(localStorage)) if (key.startsWith("scrieve-take-sent-")) {
    localStorage.removeItem(key.replace("-sent-", "-"));
    localStorage.removeItem(key);
  }
}

if (form) start();

function start() {
  const rows = form.querySelector("#rows");
  const store = `scrieve-take-${form.dataset.way}`;
  let timer, asked = 0;

  const fields = () => [...form.querySelectorAll("input[name]:not([type=hidden]):not([type=checkbox]):not([type=radio]), select[name]")];
  const typed = (row) => [...row.querySelectorAll("input:not([type=radio])")].some((input) => input.value.trim());

  function nextRow() {
    const all = rows.querySelectorAll("[data-row]");
    const last = all[all.length - 1];
    if (!typed(last) || all.length >= +form.dataset.most) return;
    const number = +last.dataset.row + 1;
    const row = last.cloneNode(true);
    row.dataset.row = number;
    const legend = row.querySelector("legend");
    legend.lastChild.textContent = number;
    for (const field of row.querySelectorAll("[name]")) field.name = field.name.replace(/^r\d+\./, `r${number}.`);
    for (const input of row.querySelectorAll("input")) input.value = "";
    for (const select of row.querySelectorAll("select")) select.selectedIndex = 0;
    for (const words of row.querySelectorAll(".asked .unseen")) words.textContent = `, ${inWords("row {1}", number)}`;
    show(row, undefined);
    rows.append(row);
  }

  function show(row, said) {
    const verdict = row.querySelector(".verdict");
    const text = said ? `${said.title}. ${said.words}` : "";
    if (verdict.dataset.text === text) return;
    verdict.dataset.text = text;
    verdict.dataset.state = said ? said.state : "";
    verdict.replaceChildren();
    if (!said) return;
    const strong = document.createElement("strong");
    strong.textContent = `${said.title}.`;
    verdict.append(strong, ` ${said.words}`);
    if (said.workings.length) verdict.append(workings(said.workings));
  }

  function made(tag, text, name) {
    const element = document.createElement(tag);
    if (text) element.textContent = text;
    if (name) element.className = name;
    return element;
  }

  // how a figure came about, folded, as the page writes it
  function workings(found) {
    const all = made("div", "", "workings");
    for (const working of found) {
      const one = made("details"), summary = made("summary"), inputs = made("dl", "", "inputs");
      summary.append(made("span", working.figure), " ", made("b", working.value, "fig"));
      for (const [name, value] of working.inputs) {
        const pair = made("div");
        pair.append(made("dt", name), made("dd", value, "fig"));
        inputs.append(pair);
      }
      one.append(summary, made("p", working.formula, "formula"), inputs, made("p", inWords("Source: {1}", working.source), "note"));
      if (working.caution) one.append(made("p", working.caution, "note"));
      all.append(one);
    }
    return all;
  }

  async function judge() {
    const mine = ++asked;
    let found;
    try {
      const reply = await fetch(form.dataset.judge, { method: "POST", body: new URLSearchParams(new FormData(form)) });
      if (!reply.ok) return;
      found = await reply.json();
    } catch {
      return say(inWords("No connection: what is typed stays here, and is judged when it is sent."), []);
    }
    if (mine !== asked) return; // more has been typed meanwhile
    for (const row of rows.querySelectorAll("[data-row]")) show(row, found.rows[row.dataset.row]);
    say(found.note, found.others);
  }

  function say(note, others) {
    form.querySelector("#judged-by").textContent = note;
    form.querySelector("#others").replaceChildren(...others.map((text) => {
      const item = document.createElement("li");
      item.textContent = text;
      return item;
    }));
  }

  function keep() {
    const values = fields().filter((field) => field.value).map((field) => [field.name, field.value]);
    try {
      localStorage.setItem(store, JSON.stringify(values));
    } catch { /* a device that keeps nothing: the page itself still does */ }
  }

  function restore() {
    let values;
    try {
      values = JSON.parse(localStorage.getItem(store) || "[]");
    } catch {
      return;
    }
    if ([...rows.querySelectorAll("[data-row]")].some(typed)) return; // the page has come back with what was typed
    if (!values.some(([name]) => /^r\d+\./.test(name))) return;
    for (const [name, value] of values) {
      const wanted = /^r(\d+)\./.exec(name);
      while (wanted && !form.elements[name]) {
        const before = rows.querySelectorAll("[data-row]").length;
        const last = rows.lastElementChild.querySelector("input");
        const was = last.value;
        last.value = last.value || "·";
        nextRow();
        last.value = was;
        if (rows.querySelectorAll("[data-row]").length === before) break;
      }
      if (form.elements[name]) form.elements[name].value = value;
    }
    judge();
  }

  // a keypad without a hyphen: 3.4.5, 3 4 5 or 3*4*5 stands for 3-4-5
  function eighths(field) {
    const found = /^\s*(\d+)[.*\s/](\d+)[.*\s/](\d+)\s*([+-]?)\s*$/.exec(field.value);
    if (found && form.dataset.units === "ft") field.value = `${found[1]}-${found[2]}-${found[3]}${found[4]}`;
  }

  form.addEventListener("input", () => {
    nextRow();
    keep();
    clearTimeout(timer);
    timer = setTimeout(judge, QUIET_MS);
  });
  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-length]")) eighths(event.target);
    keep();
    clearTimeout(timer);
    judge();
  });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT" || event.target.type === "checkbox") return;
    event.preventDefault(); // Enter leads to the next figure: the form is sent by its button alone
    const inputs = fields().filter((field) => field === event.target || (field.tagName === "INPUT" && field.dataset.aside === undefined));
    inputs[inputs.indexOf(event.target) + 1]?.focus();
  });
  form.addEventListener("submit", () => {
    for (const field of form.querySelectorAll("[data-length]")) eighths(field);
    try {
      localStorage.setItem(`scrieve-take-sent-${form.dataset.way}`, "1");
    } catch { /* nothing is kept then */ }
  });

  restore();
  nextRow();
}
