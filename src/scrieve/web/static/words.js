// What scripts say to somebody goes through here, so that it is in one catalogue with the texts of the pages.
import { TABLE } from "./table.js";

// `text` in the language of the pages, with the values put into its places {1}, {2}...
export function inWords(text, ...values) {
  return (TABLE[text] ?? text).replace(/\{(\d)\}/g, (place, number) => (number <= values.length ? values[number - 1] : place));
}
