// Pieces that every panel is put together from.

import { ask } from "./api.js";
import { store } from "./store.js";

const REST_MS = 250;

/** Make an element. Names that begin with "on" are listeners, `style` and `dataset` are tables, the rest attributes. */
export function element(tag, props = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(props ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2).toLowerCase(), value);
    else if (name === "style") for (const [key, one] of Object.entries(value)) made.style.setProperty(key, one);
    else if (name === "dataset") Object.assign(made.dataset, value);
    else if (name === "value") made.value = value;
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  made.append(...children.flat(Infinity).filter((child) => child !== null && child !== undefined && child !== false));
  // A select takes its value only once it has its options.
  if (tag === "select" && props?.value !== undefined) made.value = props.value;
  return made;
}

/** Make a button. `label` is what a screen reader says where `words` is a mere sign. */
export function button(words, onclick, { label, key, ...props } = {}) {
  const named = label ? { "aria-label": label, title: label } : {};
  const keyed = key ? { dataset: { key } } : {};
  return element("button", { type: "button", onclick, ...named, ...keyed, ...props }, words);
}

/** Return tones as CSS paints them: smooth from the first to the last, or at their own places in per cent. */
export function gradient(css, places = null, towards = "to right") {
  if (!css?.length) return "none";
  if (css.length === 1) return `linear-gradient(${css[0]}, ${css[0]})`;
  const stops = css.map((one, i) => (places ? `${one} ${places[i].toFixed(2)}%` : one));
  return `linear-gradient(${towards}, ${stops.join(", ")})`;
}

/** Return the tones of one stage as a strip, deepest shadow on the left. No number stands on it. */
export function strip(stage, { label = stage.name, ...props } = {}) {
  const made = element("div", { class: "strip", role: "img", "aria-label": strip_words(label, stage), ...props });
  made.style.backgroundImage = gradient(stage.css);
  return made;
}

/** Return in words what a strip shows, for who does not see it. */
export function strip_words(label, stage) {
  if (!stage.lab?.length) return label;
  const said = (i) => stage.lab[i].map((one) => Math.round(one)).join(" ");
  const last = stage.lab.length - 1;
  return `${label}. Shadow Lab ${said(0)}, mid ${said(last >> 1)}, light ${said(last)}`;
}

/** Return a paint's three swatches: masstone, one thin coat over black, and over white. */
export function swatches(paint, { small = false } = {}) {
  const name = paint.paint ?? paint.name ?? "paint";
  const halves = [
    ["masstone", paint.masstone_css],
    ["over-black", paint.over_black_css],
    ["over-white", paint.over_white_css],
  ];
  return element(
    "span",
    {
      class: small ? "swatches small" : "swatches",
      role: "img",
      "aria-label": `${name}: as it is, and one thin coat over black and over white`,
      title: "left: thick; right: one thin coat over black and over white",
    },
    halves.map(([which, css]) => element("i", { class: which, style: { background: css ?? "transparent" } })),
  );
}

let made_so_far = 0;

/** Return a name for an element that no other has. */
export function fresh_id(about = "part") {
  made_so_far += 1;
  return `${about}-${made_so_far}`;
}

/** Put a control under its label, with room for a hint and for what the program says against it. */
export function field(label, control, { hint, id = fresh_id("field") } = {}) {
  control.id ||= id;
  const fault = element("p", { class: "fault", id: `${control.id}-fault`, role: "alert" });
  control.setAttribute("aria-describedby", fault.id);
  const whole = element(
    "div",
    { class: "field" },
    element("label", { for: control.id }, label),
    control,
    hint ? element("p", { class: "hint" }, hint) : null,
    fault,
  );
  whole.fault = (words) => (fault.textContent = words);
  return whole;
}

/** Do what may be refused; the refusal goes beside its field, in the program's words. Returns whether it was done. */
export async function attempt(place, work) {
  const fault = place?.querySelector?.(".fault");
  if (fault) fault.textContent = "";
  try {
    await work();
    return true;
  } catch (refused) {
    if (fault?.isConnected) fault.textContent = refused.message;
    else say(refused.message, { strong: true });
    return false;
  }
}

/** Call `commit` when a slider is let go; keys come one by one, so there once they rest. */
export function let_go(range, commit) {
  let waits = null;
  let keyed = false;
  const now = () => {
    if (waits === null) return;
    clearTimeout(waits);
    waits = null;
    commit();
  };
  range.addEventListener("keydown", () => (keyed = true));
  range.addEventListener("pointerdown", () => (keyed = false));
  range.addEventListener("blur", now);
  range.addEventListener("change", () => {
    clearTimeout(waits);
    waits = setTimeout(now, keyed ? REST_MS : 0);
  });
}

/**
 * A slider with a number beside it. `preview(number)` while it is dragged, `commit(number)` when it is let go.
 * `none` are words for a box that leaves the value to the program (value null).
 */
export function slider(props) {
  const { key, label, value, min, max, step, unit = "", hint, none, usual, preview, commit } = props;
  const id = fresh_id("slider");
  const shown = value ?? usual ?? min;
  const fault = element("p", { class: "fault", id: `${id}-fault`, role: "alert" });
  const range = element("input", {
    type: "range",
    min,
    max: Math.max(max, shown),
    step: step ?? "any",
    value: shown,
    "aria-label": label,
    "aria-describedby": fault.id,
    "aria-valuetext": `${trimmed(shown)} ${unit}`.trim(),
    dataset: { key: `${key}-slide` },
  });
  range.defaultValue = range.value;
  const number = element("input", {
    type: "number",
    id,
    min: 0,
    step: "any",
    value: trimmed(shown),
    "aria-describedby": fault.id,
    dataset: { key },
  });
  number.defaultValue = number.value;
  const own = none
    ? element("input", { type: "checkbox", dataset: { key: `${key}-own` }, onchange: () => send(own.checked ? null : Number(number.value)) })
    : null;
  if (own) own.checked = value === null;
  const whole = element(
    "div",
    { class: value === null ? "field slide unset" : "field slide" },
    element("label", { for: id }, label),
    element("span", { class: "amount" }, number, unit ? element("span", { class: "unit" }, unit) : null),
    range,
    own ? element("label", { class: "tick" }, own, none) : null,
    hint ? element("p", { class: "hint" }, hint) : null,
    fault,
  );
  const send = (wanted) => attempt(whole, () => commit(wanted));
  range.addEventListener("input", () => {
    number.value = trimmed(Number(range.value));
    range.setAttribute("aria-valuetext", `${number.value} ${unit}`.trim());
    whole.classList.remove("unset");
    preview?.(Number(range.value));
  });
  let_go(range, () => send(Number(range.value)));
  number.addEventListener("change", () => {
    if (number.value !== "") send(Number(number.value));
  });
  return whole;
}

/** A number with − and + beside it. */
export function stepper({ key, label, value, step = 1, min = step, max = 1000, unit = "", commit, preview }) {
  const fault = element("p", { class: "fault", role: "alert", id: fresh_id("fault") });
  const number = element("input", {
    type: "number",
    min: 0,
    step: "any",
    value: trimmed(value),
    "aria-label": label,
    "aria-describedby": fault.id,
    dataset: { key },
    onchange: () => number.value !== "" && send(Number(number.value)),
  });
  number.defaultValue = number.value;
  const by = (change) => {
    const wanted = Math.min(Math.max(rounded(Number(number.value) + change), min), max);
    number.value = trimmed(wanted);
    preview?.(wanted);
    return send(wanted);
  };
  const whole = element(
    "span",
    { class: "stepper", role: "group", "aria-label": label },
    button("−", () => by(-step), { label: `${label}: fewer`, key: `${key}-less` }),
    number,
    button("+", () => by(step), { label: `${label}: more`, key: `${key}-more` }),
    unit ? element("span", { class: "unit" }, unit) : null,
    fault,
  );
  const send = (wanted) => attempt(whole, () => commit(wanted));
  return whole;
}

export function rounded(value) {
  return Math.round(value * 1000) / 1000;
}

export function trimmed(value) {
  return String(Math.round(value * 100) / 100);
}

/** Choose one of a few by its words: `options` are [value, words]. */
export function choice({ key, label, value, options, commit, hidden_label = false }) {
  const name = fresh_id("choice");
  const fault = element("p", { class: "fault", role: "alert" });
  const boxes = options.map(([one, words]) =>
    element(
      "label",
      {},
      element("input", {
        type: "radio",
        name,
        checked: one === value,
        dataset: { key: `${key}-${one}` },
        onchange: () => attempt(whole, () => commit(one)),
      }),
      element("span", {}, words),
    ),
  );
  const whole = element(
    "fieldset",
    { class: "choice" },
    element("legend", { class: hidden_label ? "hidden" : null }, label),
    element("div", { class: "options" }, boxes),
    fault,
  );
  return whole;
}

/** A list to choose from: `options` are [value, words]. */
export function select({ key, label, value, options, commit }) {
  const control = element(
    "select",
    { dataset: { key }, value, onchange: () => attempt(whole, () => commit(control.value)) },
    options.map(([one, words]) => element("option", { value: one }, words)),
  );
  control.value = value;
  const whole = field(label, control);
  return whole;
}

/** A box to tick. */
export function tick(words, checked, change, { key } = {}) {
  const box = element("input", { type: "checkbox", dataset: key ? { key } : {}, onchange: () => change(box.checked) });
  box.checked = checked;
  return element("label", { class: "tick" }, box, words);
}

/**
 * Ask something in a window of its own. `content` is an element or words; `answers` are [value, words, "strong"?].
 * Resolves to the value of the answer, or null if it was closed. `content.answer(value)` closes it, too.
 */
export function dialog(title, content, answers = [["close", "Close"]], { wide = false } = {}) {
  const id = fresh_id("title");
  return new Promise((resolve) => {
    const before = document.activeElement;
    const done = (value) => {
      window_.close();
      window_.remove();
      if (before?.isConnected) before.focus();
      resolve(value);
    };
    const window_ = element(
      "dialog",
      { class: wide ? "wide" : null, "aria-labelledby": id, oncancel: (event) => (event.preventDefault(), done(null)) },
      element("h2", { id }, title),
      typeof content === "string" ? element("p", {}, content) : content,
      element(
        "div",
        { class: "answers" },
        answers.map(([value, words, weight]) => button(words, () => done(value), { class: weight ?? null })),
      ),
    );
    if (content instanceof Element) content.answer = done;
    document.body.append(window_);
    window_.showModal();
  });
}

/** Ask for a name. Resolves to it, or to null. */
export async function ask_name(title, label, value = "", { strong = "Save", hint } = {}) {
  const control = element("input", { type: "text", value, autocomplete: "off", spellcheck: "false", maxlength: 100 });
  const whole = field(label, control, { hint });
  control.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && control.value.trim()) {
      event.preventDefault();
      whole.answer("yes");
    }
  });
  const said = dialog(title, whole, [
    ["no", "Leave it"],
    ["yes", strong, "strong"],
  ]);
  control.focus();
  control.select();
  return (await said) === "yes" && control.value.trim() ? control.value.trim() : null;
}

/** Show how far work has come, with a way to stop it. `ended({result} or {error})` when it is over. */
export function progress(id, ended, { words = "Working" } = {}) {
  const bar = element("progress", { max: 1, "aria-label": words });
  const said = element("span", { class: "said" }, words);
  const stop = button("Stop", async () => {
    stop.disabled = true;
    await attempt(null, () => ask(`/api/work/${id}/stop`, {}));
    finish({ error: "Stopped." });
  });
  const whole = element("div", { class: "progress", role: "group", "aria-label": words }, bar, said, stop);
  let over = false;
  const finish = (event) => {
    if (over) return;
    over = true;
    off();
    whole.remove();
    ended(event);
  };
  const heard = (event) => {
    if (event.id !== id) return;
    if (typeof event.done === "number") bar.value = event.done;
    if (event.words) said.textContent = event.words;
    if ("result" in event || "error" in event) finish(event);
  };
  const off = store.on("work", heard);
  // What ended before anyone listened is asked for.
  ask(`/api/work/${id}`).then((state) => heard({ ...state, id }), () => {});
  return whole;
}

/** Return a view that the program wrote. Only what comes from the program may be given. */
export function html(fragment) {
  const made = element("div", { class: "server" });
  made.innerHTML = fragment;
  // What may have to be moved aside to be read can be reached by keyboard.
  for (const wide of made.querySelectorAll(".scroll")) {
    wide.tabIndex = 0;
    wide.setAttribute("role", "group");
    wide.setAttribute("aria-label", "Table");
  }
  // A number on a colour changes how it looks: it is there by hovering, or when it is asked for.
  if (made.querySelector(".on-tone:not(:empty)")) {
    made.prepend(tick("numbers on the colours", false, (on) => made.classList.toggle("numbered", on), { key: "numbers" }));
  }
  return made;
}

let voice = null;

/** Say something to everyone: at the foot of the page, and to a screen reader. */
export function say(words, { strong = false } = {}) {
  voice ??= document.getElementById("voice");
  if (!voice) return;
  clearTimeout(voice.timer);
  voice.textContent = words;
  voice.className = strong ? "voice shown strong" : "voice shown";
  voice.timer = setTimeout(() => (voice.className = "voice"), strong ? 12000 : 5000);
}

/** Put fresh content in place of the old; what had the focus has it again, with what was being typed. */
export function refill(root, ...content) {
  const active = root.contains(document.activeElement) ? document.activeElement : null;
  const key = active?.dataset.key;
  const typed = ["number", "text", "search", "range"].includes(active?.type);
  const draft = typed && active.value !== active.defaultValue ? active.value : null;
  root.replaceChildren(...content.flat(Infinity).filter(Boolean));
  if (!key) return;
  const again = root.querySelector(`[data-key="${CSS.escape(key)}"]`);
  if (!again) return;
  if (draft !== null) again.value = draft;
  again.focus({ preventScroll: true });
}

/** Let the painter choose a paint from the shelf. Resolves to its name, or to null. */
export async function pick_paint(title = "Choose a paint", { now = "" } = {}) {
  const search = element("input", {
    type: "search",
    placeholder: "red glaze",
    "aria-label": "Search the shelf",
    autocomplete: "off",
    spellcheck: "false",
  });
  const own = element("input", { type: "checkbox" });
  const list = element("ul", { class: "picker" });
  const said = element("p", { class: "hint", role: "status" });
  const whole = element(
    "div",
    { class: "picking" },
    element("div", { class: "row" }, search, element("label", { class: "tick" }, own, "what I own")),
    said,
    list,
  );
  let latest = 0;
  const fill = async () => {
    const mine = (latest += 1);
    let got;
    try {
      got = await ask(`/api/shelf?words=${encodeURIComponent(search.value)}`);
    } catch (fault) {
      said.textContent = fault.message;
      return;
    }
    if (mine !== latest) return;
    const paints = got.paints.filter((paint) => !own.checked || paint.owned);
    said.textContent = paints.length
      ? `${paints.length} paint${paints.length === 1 ? "" : "s"}`
      : got.none || "None of these is ticked as yours.";
    list.replaceChildren(
      ...paints.map((paint) =>
        element(
          "li",
          {},
          button(
            [
              swatches(paint),
              element("span", {}, paint.name),
              element("small", {}, [paint.kind, paint.owned ? "yours" : null].filter(Boolean).join(", ")),
            ],
            () => whole.answer(paint.name),
            { "aria-current": paint.name === now ? "true" : null },
          ),
        ),
      ),
    );
  };
  search.addEventListener("input", fill);
  own.addEventListener("change", fill);
  const chosen = dialog(title, whole, [[null, "Leave it"]], { wide: true });
  search.focus();
  fill();
  return chosen;
}
