// A keypad for lengths, large enough for gloves: it opens by itself where fingers point, elsewhere by the button at the
// head of the form. Keys write into the field as fingers would type, so whatever listens to it hears; the ordinary
// keyboard goes on working. Fields that take a length carry data-length.
import { Feet, Metric, spoken } from "./keypad_text.js";
import { inWords } from "./words.js";

const fields = (root = document) => [...root.querySelectorAll("input[data-length]")];
const feet = document.documentElement.dataset.units === "ft";
const TYPED = "input:not([type=hidden]), select, textarea";
const KEPT = "keypad"; // on this device: "on" or "off"; unsaid, it opens for touches alone

function kept(value) {
  try {
    if (value) localStorage.setItem(KEPT, value);
    return localStorage.getItem(KEPT);
  } catch {
    return null; // a browser that keeps nothing
  }
}

function made(tag, words = "", more = {}) {
  const each = Object.assign(document.createElement(tag), more);
  each.textContent = words;
  return each;
}

function key(words, does, told = "", name = "") {
  const each = made("button", words, { type: "button", className: name });
  each.dataset.key = does;
  if (told) each.setAttribute("aria-label", told);
  return each;
}

class Keypad {
  constructor() {
    this.field = null;
    this.touched = false;
    this.root = made("div", "", { className: `keypad${feet ? " feet" : ""}`, hidden: true });
    this.root.setAttribute("role", "group");
    this.name = made("span", "", { className: "of" });
    this.value = made("output", "", { className: "fig" });
    this.said = made("span", "", { className: "unseen" });
    this.said.setAttribute("role", "status");
    const head = made("div", "", { className: "keypad-head" });
    head.append(this.name, this.value, this.said, key(inWords("abc"), "letters", inWords("Letters: close the keypad and type")));
    const digits = made("div", "", { className: "digits" });
    for (const digit of "789456123") digits.append(key(digit, digit));
    digits.append(key("0", "0"), feet ? key(inWords("ft – in"), "part", inWords("Go on to inches, or back to feet"), "wide") : key(".", ".", inWords("Decimal point")));
    if (!feet) digits.append(key("00", "00", inWords("Two noughts")));
    const acts = made("div", "", { className: "acts" });
    acts.append(
      key(inWords("erase"), "erase", inWords("Erase")),
      feet ? key("( )", "below", inWords("Below its datum, or above")) : key("±", "below", inWords("Below its datum, or above")),
      key(inWords("next"), "next", inWords("Next field")),
      key(inWords("done"), "done", inWords("Done"), "main"),
    );
    this.root.append(head, ...(feet ? [this.eighths()] : []), digits, acts);
    this.root.addEventListener("pointerdown", (event) => event.preventDefault()); // the field keeps the cursor
    this.root.addEventListener("click", (event) => {
      const pressed = event.target.closest("[data-key]");
      if (pressed && this.field) this.press(pressed.dataset.key);
    });
    document.body.append(this.root);
  }

  eighths() {
    const row = made("div", "", { className: "eighths" });
    ["0", "⅛", "¼", "⅜", "½", "⅝", "¾", "⅞"].forEach((sign, n) => row.append(key(sign, `e${n}`, inWords("{1} eighths", n))));
    row.append(key("+ 1⁄16", "+", inWords("A sixteenth more")), key("− 1⁄16", "-", inWords("A sixteenth less")));
    return row;
  }

  open(field) {
    if (this.field === field) return;
    this.release();
    this.field = field;
    this.text = feet ? new Feet(field.value) : new Metric(field.value);
    this.mode = field.getAttribute("inputmode");
    field.inputMode = "none"; // the device's own keyboard stays down as long as this one is up
    field.classList.add("keyed");
    const label = field.labels?.[0];
    const words = field.getAttribute("aria-label") ?? [...(label?.childNodes ?? [])].map((n) => (n.matches?.("input, small, select") ? "" : n.textContent)).join(" ");
    this.name.textContent = words.replace(/\s+/g, " ").trim();
    this.root.setAttribute("aria-label", inWords("Keypad: {1}", this.name.textContent));
    this.root.hidden = false;
    document.documentElement.style.setProperty("--keypad", `${this.root.offsetHeight}px`);
    document.documentElement.classList.add("has-keypad");
    field.select();
    this.show();
    field.scrollIntoView({ block: "nearest" });
  }

  release() {
    if (!this.field) return;
    if (this.mode === null) this.field.removeAttribute("inputmode");
    else this.field.setAttribute("inputmode", this.mode);
    this.field.classList.remove("keyed");
    this.field = null;
  }

  close() {
    this.release();
    this.root.hidden = true;
    document.documentElement.classList.remove("has-keypad");
  }

  press(what) {
    const field = this.field;
    if (what === "done") {
      this.close();
      field.dispatchEvent(new Event("change", { bubbles: true }));
      if (this.touched) field.blur();
    } else if (what === "letters") {
      this.close();
      field.blur();
      this.quiet = field;
      field.focus();
    } else if (what === "next") this.next(field);
    else {
      const refused = this.text.press(what);
      if (field.value !== this.text.written) {
        field.value = this.text.written;
        field.dispatchEvent(new InputEvent("input", { bubbles: true, inputType: "insertText" }));
      }
      this.show(refused);
    }
  }

  next(field) {
    field.dispatchEvent(new Event("change", { bubbles: true }));
    const all = [...(field.form ?? document).querySelectorAll("input:not([type=hidden]), select, textarea, button.main")].filter((each) => each.offsetParent && !each.disabled && each.dataset.aside === undefined);
    const then = all[all.indexOf(field) + 1];
    if (!then) return this.press("done");
    if (!then.matches("[data-length]")) this.close();
    then.focus();
    then.scrollIntoView({ block: "nearest" });
  }

  show(refused = "") {
    this.value.textContent = refused || this.text.written || "–";
    this.said.textContent = refused || spoken(this.text.written, feet);
    if (!feet) return;
    for (const each of this.root.querySelectorAll(".eighths button")) {
      const does = each.dataset.key;
      each.setAttribute("aria-pressed", does === `e${this.text.eighths}` || does === this.text.sixteenth);
    }
    this.root.querySelector("[data-key=part]").textContent = this.text.part === "feet" ? inWords("feet → in") : inWords("ft ← inches");
  }
}

if (fields().length) start();

function start() {
  const pad = new Keypad();
  const wanted = () => kept() === "on" || (kept() !== "off" && pad.touched);
  const buttons = [];
  const say = () => buttons.forEach((each) => each.setAttribute("aria-pressed", kept() === "on" || (kept() !== "off" && matchMedia("(pointer: coarse)").matches)));
  for (const form of new Set(fields().map((field) => field.form).filter(Boolean))) {
    const button = made("button", inWords("keypad"), { type: "button", className: "keypad-on" });
    button.setAttribute("aria-label", inWords("Keypad for lengths"));
    button.addEventListener("click", () => {
      const on = button.getAttribute("aria-pressed") !== "true";
      kept(on ? "on" : "off");
      say();
      if (on) fields(form).find((each) => each.offsetParent)?.focus();
      else pad.close();
    });
    // before all that is typed, never among it
    [...form.children].find((part) => part.matches(TYPED) || part.querySelector(TYPED))?.before(button);
    buttons.push(button);
  }
  say();
  addEventListener("pointerdown", (event) => {
    if (!pad.root.contains(event.target)) pad.touched = event.pointerType !== "mouse";
    // before the focus, else the device's own keyboard comes up and goes down again
    if (event.target.matches?.("input[data-length]") && wanted() && event.target !== pad.quiet) pad.open(event.target);
  }, true);
  addEventListener("focusin", (event) => {
    const field = event.target;
    if (pad.root.contains(field)) return;
    const quiet = field === pad.quiet;
    pad.quiet = quiet ? field : null;
    if (field.matches("input[data-length]") && wanted() && !quiet) pad.open(field);
    else if (pad.field && field !== pad.field) pad.close();
  });
  addEventListener("input", (event) => {
    if (event.target === pad.field && event.target.value !== pad.text.written) { // typed on a keyboard
      pad.text = feet ? new Feet(event.target.value, false) : new Metric(event.target.value, false);
      pad.show();
    }
  });
  addEventListener("keydown", (event) => {
    if (event.key === "Escape" && pad.field) {
      const field = pad.field;
      pad.close();
      if (!field.contains(document.activeElement)) field.focus();
    }
  });
}
