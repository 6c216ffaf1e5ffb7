// A place to drop a file on, or to choose one: the same by mouse, finger and keyboard.

import { element, fresh_id } from "./parts.js";

/** `taken(file)` is called with what was dropped or chosen. */
export function drop({ label, hint, accept, taken, key }) {
  const control = element("input", {
    type: "file",
    id: fresh_id("file"),
    accept,
    dataset: key ? { key } : {},
    onchange: () => {
      const file = control.files[0];
      control.value = "";
      if (file) taken(file);
    },
  });
  const over = (on) => (event) => {
    event.preventDefault();
    whole.classList.toggle("over", on);
  };
  const whole = element(
    "div",
    {
      class: "drop",
      ondragenter: over(true),
      ondragover: over(true),
      ondragleave: over(false),
      ondrop: (event) => {
        over(false)(event);
        const file = event.dataTransfer?.files?.[0];
        if (file) taken(file);
      },
    },
    element("label", { for: control.id }, label),
    control,
    hint ? element("p", { class: "hint" }, hint) : null,
  );
  return whole;
}
