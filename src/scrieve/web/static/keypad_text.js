// What keys make of a length: millimetres as digits, or feet, inches and eighths with a sixteenth more or less, as
// units.py reads them (3-4-5, 3-4-5+, (0-1-2) below its datum). Until the first key what stood there stands whole;
// the first digit writes over it.
import { inWords } from "./words.js";

export class Metric {
  constructor(text, fresh = true) {
    this.written = text.trim();
    this.fresh = fresh;
  }

  press(key) {
    const bare = this.written.replace(/^[-−]/, "");
    if (key === "below") this.written = bare === this.written ? `-${bare}` : bare;
    else if (key === "erase") this.written = this.fresh ? "" : this.written.slice(0, -1);
    else {
      const before = this.fresh ? "" : this.written;
      if (key === "." && /[.,]/.test(before)) return "";
      if (before.replace(/\D/g, "").length + key.length > 9) return inWords("nine figures at most");
      this.written = before + (key === "." && !/\d/.test(before) ? "0." : key);
    }
    this.fresh = false;
    return "";
  }
}

const EIGHTHS = /^(\(?)(\d+)-(\d+)-([0-7])\s*([+-]?)\)?$/;

export class Feet {
  constructor(text, fresh = true) {
    const found = EIGHTHS.exec(text.trim().replace(/[−–]/g, "-"));
    this.other = found ? "" : text.trim(); // as it was typed in another form
    [this.below, this.feet, this.inches, this.eighths, this.sixteenth] = found
      ? [found[1] === "(", found[2], found[3], found[4], found[5]]
      : [false, "", "", "", ""];
    this.part = "feet";
    this.fresh = fresh;
  }

  get written() {
    if (this.other) return this.other;
    if (![this.feet, this.inches, this.eighths, this.sixteenth].some(Boolean)) return "";
    const text = `${this.feet || 0}-${this.inches || 0}-${this.eighths || 0}${this.sixteenth}`;
    return this.below ? `(${text})` : text;
  }

  press(key) {
    const fresh = this.fresh;
    if (this.other) this.clear(); // what is in another form is written over, never half kept
    if (key === "part") this.part = this.part === "feet" ? "inches" : "feet";
    else if (key === "below") this.below = !this.below;
    else if (key === "+" || key === "-") this.sixteenth = this.sixteenth === key ? "" : key;
    else if (/^e\d$/.test(key)) this.eighths = key[1];
    else if (key === "erase") this.erase(fresh);
    else {
      if (fresh && this.part === "feet") this.clear();
      const digits = String(+(this[this.part] + key));
      if (this.part === "inches" && +digits > 11) {
        if (+key > 11 || !fresh) return inWords("inches run 0 to 11");
        this.inches = key;
      } else if (digits.length > 4) return inWords("four figures of feet at most");
      else this[this.part] = digits;
    }
    this.fresh = fresh && key === "part"; // to change inches alone, go on to them first
    return "";
  }

  clear() {
    [this.other, this.below, this.feet, this.inches, this.eighths, this.sixteenth] = ["", false, "", "", "", ""];
  }

  // the last part that holds something, from the right
  erase(all) {
    if (all) this.clear();
    else if (this.sixteenth) this.sixteenth = "";
    else if (+this.eighths) this.eighths = "";
    else if (this.inches) [this.inches, this.eighths] = [this.inches.slice(0, -1), ""];
    else [this.feet, this.eighths, this.part] = [this.feet.slice(0, -1), "", "feet"];
    if (!this.feet && !this.inches && !this.eighths) this.below = false;
  }
}

// As a screen reader is to say it.
export function spoken(text, feet) {
  const found = EIGHTHS.exec(text);
  if (!text) return inWords("empty");
  if (!feet || !found) return text.replace(/^-/, `${inWords("minus")} `);
  const more = { "+": ` ${inWords("and a sixteenth")}`, "-": ` ${inWords("less a sixteenth")}`, "": "" }[found[5]];
  const feetSaid = inWords("{1} feet, {2} inches, {3} eighths", found[2], found[3], found[4]);
  return `${found[1] ? `${inWords("below its datum")}, ` : ""}${feetSaid}${more}`;
}
