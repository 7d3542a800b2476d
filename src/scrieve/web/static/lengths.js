// Lengths as the builder has them: millimetres, or feet-inches-eighths to the nearest sixteenth (as units.py writes them).

const MM_PER_INCH = 25.4;

export function say(mm, units = document.documentElement.dataset.units) {
  if (!Number.isFinite(mm)) return "–";
  if (units !== "ft") {
    const text = mm.toFixed(Math.abs(mm) < 100 ? 1 : 0);
    return `${+text === 0 ? text.replace("-", "") : text} mm`;
  }
  const sixteenths = Math.floor((Math.abs(mm) / MM_PER_INCH) * 16 + 0.5);
  const [inches, rest] = [Math.floor(sixteenths / 16), sixteenths % 16];
  const text = `${Math.floor(inches / 12)}-${inches % 12}-${Math.floor(rest / 2)}${rest % 2 ? "+" : ""}`;
  return mm < 0 && sixteenths ? `(${text})` : text;
}
