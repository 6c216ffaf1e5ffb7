// The bench card on paper, from whichever panel one is at.

import { ask } from "./api.js";
import { attempt, dialog, element, html, progress } from "./parts.js";

/** Make the card and print it; what is on the page stays there, and is not printed. */
export async function print_card() {
  const waiting = element("div", {});
  const ended = ({ result, error }) => {
    if (!waiting.isConnected) return;
    if (result) waiting.answer(result);
    else waiting.replaceChildren(error);
  };
  const closed = dialog("Print the bench card", waiting, [[null, "Leave it"]]);
  const begun = await attempt(null, async () => {
    const { work } = await ask("/api/batch", { what: "card", models: null });
    waiting.append(progress(work, ended, { words: "Making the bench card" }));
  });
  if (!begun) waiting.answer(null);
  const card = await closed;
  if (!card) return;
  const paper = element("section", { class: "paper batch", "aria-label": "Bench card" }, element("h1", {}, card.title), html(card.html));
  document.body.append(paper);
  document.documentElement.classList.add("prints");
  window.print();
  document.documentElement.classList.remove("prints");
  paper.remove();
}
