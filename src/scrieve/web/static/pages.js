// What the pages do beyond plain HTML: drawings that can be enlarged, and workings that open before printing.
import { Board } from "./drawing.js";

for (const figure of document.querySelectorAll("[data-drawing]")) new Board(figure);

addEventListener("beforeprint", () => {
  for (const details of document.querySelectorAll("details:not([open])")) details.open = true;
});
