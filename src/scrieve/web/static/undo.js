// Right after a form was stored: a line that says so, with a button that takes it back. The server names the acts in a
// cookie of this browser; once shown it is gone.
import { inWords } from "./words.js";
const found = document.cookie.match(/(?:^|; )stored=(\d+(?:\.\d+)*)(u?)(?:;|$)/);
if (found) {
  const passing = document.querySelector("meta[http-equiv=refresh]"); // while the hull is faired: the next page offers it too
  if (!passing) document.cookie = "stored=; Max-Age=0; Path=/; SameSite=Lax";
  if (document.documentElement.dataset.undo !== undefined) offer(found[1], found[2] === "u");
}

function offer(acts, undone) {
  const made = (tag, fields, ...inner) => {
    const each = Object.assign(document.createElement(tag), fields);
    each.append(...inner);
    return each;
  };
  const hidden = (name, value) => made("input", { type: "hidden", name, value });
  const bar = made("form", { method: "post", action: "/undo", className: "undo" });
  const away = made("button", { type: "button" }, "×");
  away.setAttribute("aria-label", inWords("Leave it as it is"));
  away.addEventListener("click", () => bar.remove());
  const said = made("p", {}, `${undone ? inWords("Taken back.") : inWords("Stored.")} `);
  said.setAttribute("role", "status");
  bar.append(
    hidden("acts", acts),
    hidden("key", `undo-${acts}`),
    hidden("back", location.pathname + location.search),
    said,
    made("a", { href: acts.includes(".") ? "/undo" : `/undo?act=${acts}` }, inWords("What it did")),
    made("button", {}, undone ? inWords("Do it again") : inWords("Take back")),
    away,
  );
  document.getElementById("main").before(bar);
}
