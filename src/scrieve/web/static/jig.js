// The bench view by keyboard, with the screen kept awake. Without this, buttons and links do the same.
const press = (name) => document.querySelector("[data-bench]")?.querySelector(name)?.click(); // looked for anew: offline.js turns pages

addEventListener("keydown", (event) => {
  if (event.altKey || event.ctrlKey || event.metaKey || event.shiftKey || event.repeat) return;
  if (event.key === "ArrowLeft") press("[data-back]");
  else if (event.key === "ArrowRight") press("[data-skip], a[data-done]");
  else if ((event.key === "Enter" || event.key === " ") && !event.target.closest("a, button, [tabindex], input")) press("[data-done]");
  else return;
  event.preventDefault();
});

async function awake() {
  try {
    await navigator.wakeLock?.request("screen");
  } catch {
    // the battery is low, or the browser will not: the page works all the same
  }
}
document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && awake());
awake();
