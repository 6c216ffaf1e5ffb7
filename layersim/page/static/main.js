// The page's frame: what is open, undo and redo, and one panel at a time.

import { ask, listen, Told } from "./api.js";
import * as parts from "./parts.js";
import { print_card } from "./print.js";
import { store } from "./store.js";

const { ask_name, attempt, button, dialog, element, say, strip_words } = parts;
const FILES = ["scheme", "shelf", "targets", "greys", "figure", "form", "decide", "fit", "batch"];
const ROOM = "layersim-room";

const panels = new Map();
const page = document.getElementById("page");
const nav = element("nav", { "aria-label": "Parts of the page" });
const place = element("main", { id: "main", tabindex: "-1" });
const file_words = element("p", { class: "file" });
const title = element("h1", {});
const asks = element("div", { class: "asks" });
const spoken = document.getElementById("spoken");
const undo = button("Undo", () => attempt(null, () => store.undo()), { key: "undo" });
const redo = button("Redo", () => attempt(null, () => store.redo()), { key: "redo" });
let unmount = null;
let shown = null;

const ROOMS = { auto: "as the system", light: "light", dark: "dark" };

function head() {
  const room = element(
    "select",
    { "aria-label": "The room's light", onchange: () => light_room(room.value) },
    Object.entries(ROOMS).map(([value, words]) => element("option", { value }, `Room: ${words}`)),
  );
  room.value = localStorage.getItem(ROOM) ?? "auto";
  return element(
    "header",
    { class: "head" },
    element("a", { class: "skip", href: "#main", onclick: (event) => (event.preventDefault(), place.focus()) }, "Skip to the panel"),
    element("div", { class: "what" }, title, button("Rename", rename, { label: "Rename the scheme", class: "plain", key: "rename" }), file_words),
    element(
      "div",
      { class: "tools", role: "group", "aria-label": "The scheme" },
      undo,
      redo,
      button("Open", open_scheme),
      button("New", new_scheme),
      button("Save as", save_as),
      button("Print card", print_card, { label: "Print the bench card" }),
      room,
      button("Stop", stop, { label: "Stop layersim" }),
    ),
    nav,
    asks,
  );
}

function light_room(value) {
  if (value === "auto") localStorage.removeItem(ROOM);
  else localStorage.setItem(ROOM, value);
  document.documentElement.dataset.room = value;
}

function tell_state() {
  const state = store.state;
  title.textContent = state.name;
  document.title = `${state.name} · layersim`;
  file_words.textContent = state.file
    ? state.unsaved
      ? `${state.file}: the last change is not in it yet`
      : `${state.file}, written at every change`
    : state.unsaved
      ? "Not in a file yet: “Save as” keeps it"
      : "In no file yet: change what you like, and “Save as” keeps it";
  for (const [one, what, word] of [
    [undo, state.undo, "Undo"],
    [redo, state.redo, "Redo"],
  ]) {
    // Still there for who stands on it with the keyboard, but said to do nothing.
    one.setAttribute("aria-disabled", String(!what));
    one.title = what ? `${word}: ${what}` : `Nothing to ${word.toLowerCase()}`;
    one.setAttribute("aria-label", what ? `${word}: ${what}` : word);
  }
  parts.refill(asks, state.changed_outside ? outside() : null);
}

function outside() {
  return element(
    "div",
    { class: "warning row", role: "alert" },
    element("p", {}, `${store.state.file} was changed by another program since it was read.`),
    button("Read it again", () => attempt(null, () => store.reload()), { key: "reload" }),
    button("Keep mine, write over it", () => attempt(null, () => store.save(null, true)), { key: "over" }),
  );
}

/** Say a change once to who does not see it, when its colours are there. */
function tell_change() {
  const area = store.colours.areas.find((one) => one.index === store.area);
  if (store.trying.length || !store.done || !area) return;
  spoken.textContent = `${store.done}. ${strip_words(`${area.name}, finish`, area.stages.at(-1))}`;
  store.done = "";
}

async function rename() {
  const name = await ask_name("Rename the scheme", "Its name", store.state.name, { strong: "Rename it" });
  if (name) await attempt(null, () => store.edit([{ do: "set", at: ["name"], value: name }], `name the scheme ${name}`));
}

async function open_scheme() {
  let names;
  if (!(await attempt(null, async () => (names = await ask("/api/files"))))) return;
  const list = element("ul", { class: "picker" }, names.map((name) => element("li", {}, button(name, () => content.answer(name)))));
  const none = element("p", {}, "There is no scheme file in this folder yet. “Save as” makes one.");
  const content = element("div", {}, what_goes(), names.length ? list : none);
  const name = await dialog("Open a scheme", content, [[null, "Leave it"]]);
  if (name) await attempt(null, () => store.open(name));
}

/** Words for what is given up where another scheme takes the place of this one. */
function what_goes() {
  const { file, unsaved } = store.state;
  if (unsaved) return element("p", { class: "warning" }, "Your changes are in no file and will be gone. To keep them, leave this and use “Save as” first.");
  return element("p", {}, file ? `${file} holds all your changes.` : "Nothing is lost.");
}

async function new_scheme() {
  const like = await dialog("Begin a new scheme", what_goes(), [
    [null, "Leave it"],
    ["demo", "From the demo"],
    ["starter", "From one area of cloth", "strong"],
  ]);
  if (like) await attempt(null, () => store.begin_new(like));
}

async function save_as() {
  const now = store.state.file ?? `${slug(store.state.name)}.toml`;
  const name = await ask_name("Save as", "File name", now, { hint: "It is kept in the folder that layersim was opened in." });
  if (!name) return;
  const file = name.endsWith(".toml") ? name : `${name}.toml`;
  const kept = () => say(`Kept as ${store.state.file}. Every change is written from now on.`);
  try {
    await store.save(file);
    kept();
  } catch (fault) {
    if (fault.status !== 409) return say(fault.message, { strong: true });
    const over = await dialog("Write over it?", fault.message, [
      [null, "Leave it"],
      ["yes", "Write over it", "strong"],
    ]);
    if (over && (await attempt(null, () => store.save(file, true)))) kept();
  }
}

function slug(name) {
  return name.toLowerCase().replace(/[^a-z0-9]+/g, "-").replace(/^-+|-+$/g, "") || "my-scheme";
}

async function stop() {
  const sure = await dialog("Stop layersim?", what_goes(), [
    [null, "Go on"],
    ["yes", "Stop it", "strong"],
  ]);
  if (sure !== "yes") return;
  if (await attempt(null, () => ask("/api/stop", {}))) {
    unmount?.();
    page.replaceChildren(
      element("main", { class: "ended" }, element("h1", {}, "layersim has stopped"), element("p", {}, "You may close this page.")),
    );
  }
}

function wanted() {
  const name = decodeURIComponent(location.hash.replace(/^#\//, ""));
  return panels.has(name) ? name : [...panels.keys()][0];
}

function show() {
  const name = wanted();
  // Before the scheme has come, no panel has anything to show.
  if (name === undefined || name === shown || !store.state) return;
  const moved = shown !== null;
  unmount?.();
  unmount = null;
  shown = name;
  for (const link of nav.querySelectorAll("a")) {
    if (link.dataset.panel === name) link.setAttribute("aria-current", "page");
    else link.removeAttribute("aria-current");
  }
  const root = element("div", { class: `panel ${name}` });
  place.setAttribute("aria-label", panels.get(name).name);
  place.replaceChildren(root);
  try {
    unmount = panels.get(name).mount(root, { store, ask, listen, parts }) ?? null;
  } catch (fault) {
    root.append(element("p", { class: "warning" }, `This part of the page does not work: ${fault.message}`));
    console.error(fault);
  }
  if (moved) {
    window.scrollTo(0, 0);
    place.focus({ preventScroll: true });
  }
}

function keys(event) {
  if (!(event.ctrlKey || event.metaKey) || event.altKey || document.querySelector("dialog[open]")) return;
  const kind = event.target.type;
  const key = event.key.toLowerCase();
  if (key === "p" && shown !== "batch") {
    event.preventDefault();
    print_card();
  }
  // In a text that is being typed, Ctrl-Z is the browser's.
  if (event.target.matches?.("textarea, input") && ["text", "search", "textarea"].includes(kind)) return;
  if (key === "z" || key === "y") {
    event.preventDefault();
    const back = key === "z" && !event.shiftKey;
    if (back ? store.state.undo : store.state.redo) attempt(null, () => (back ? store.undo() : store.redo()));
  }
}

async function begin() {
  light_room(localStorage.getItem(ROOM) ?? "auto");
  page.replaceChildren(head(), place);
  const loaded = await Promise.allSettled(FILES.map((name) => import(`./${name}.js`)));
  for (const [i, one] of loaded.entries()) {
    if (one.status === "rejected") {
      console.error(one.reason);
      continue;
    }
    const file = FILES[i];
    for (const panel of [one.value.default].flat()) {
      panels.set(Array.isArray(one.value.default) ? panel.name.toLowerCase().replaceAll(" ", "-") : file, panel);
    }
  }
  nav.append(
    ...[...panels].map(([name, panel]) => element("a", { href: `#/${name}`, dataset: { panel: name } }, panel.name)),
  );
  store.subscribe((what) => {
    if (what === "state") tell_state();
    if (what === "colours") tell_change();
    if (what === "fault") say(store.fault, { strong: true });
  });
  store.on("lost", () => document.documentElement.classList.add("lost"));
  store.on("hello", () => document.documentElement.classList.remove("lost"));
  document.addEventListener("keydown", keys);
  window.addEventListener("beforeunload", (event) => {
    if (store.state?.unsaved) event.preventDefault();
  });
  try {
    await store.begin();
  } catch (fault) {
    if (!(fault instanceof Told)) throw fault;
    place.replaceChildren(element("div", { class: "panel ended" }, element("p", { class: "warning" }, fault.message)));
    return;
  }
  // Only now: a panel needs the scheme.
  window.addEventListener("hashchange", show);
  show();
}

begin();
