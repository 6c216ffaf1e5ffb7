// A photograph with a chart or a grey card in it: colours of spots are read off it, each with its range.

import { button, choice, element, field, refill, say } from "./parts.js";
import { drop } from "./drop.js";
import { pointing } from "./pointing.js";

export const PICTURES = ".jpg,.jpeg,.png,.tif,.tiff,.dng,.cr2,.cr3,.nef,.nrw,.arw,.raf,.orf,.rw2,.pef,.srw,.raw,image/*";
const CARD = "grey card";

// The photograph that lies here just now, whichever panel it was dropped on.
const photo = { id: null, name: "", url: null, size: 2.5, greys: [], reflects: null };
// Shows it where it is looked at now: a panel may have been drawn anew while a picture was on its way.
let show_now = null;

let pending = Promise.resolve();

/** Wait until all that was pointed at is read. */
export const all_read = () => pending;

/** Send a photograph to be read; returns what the program says of it, and where it is shown in place of the old one. */
export async function sent(ask, file, old) {
  const got = await ask(`/api/upload/chip?name=${encodeURIComponent(file.name)}`, file);
  const shown = await ask(`/api/chip/${got.id}/picture`);
  if (old) URL.revokeObjectURL(old);
  return { got, url: URL.createObjectURL(shown) };
}

/** Return how the program is asked for a spot that was read. */
export const asked_of = ({ id, x, y, size, greys }) => ({ id, x, y, size, greys });

/**
 * Make one. `places` are [key, words] to point at; what is read goes into `spots` by its key, and `changed(key)`
 * is called. `lamp()` is the one that colours are wanted for, if not daylight.
 */
export function photograph({ ask, places, spots, changed, lamp = () => undefined }) {
  let place = places[0][0];
  const fault = element("p", { class: "fault", role: "alert" });
  const busy = element("p", { class: "hint", role: "status" });
  const choosing = element("div", {});
  const said = element("div", {});
  const point = pointing({ name: "The photograph", set, size: () => photo.size });
  const stage = element("div", { class: "artwork", hidden: true }, choosing, point.whole, said);
  const dropped = drop({
    label: "Drop the photograph here, or choose it",
    hint: "With a whole 24-patch chart or a grey card close beside, square on, in one even light. It stays on this machine, and goes when layersim stops.",
    accept: PICTURES,
    taken: upload,
    key: "photograph",
  });

  async function upload(file) {
    await busily("Reading the photograph …", async () => {
      const { got, url } = await sent(ask, file, photo.url);
      Object.assign(photo, { id: got.id, name: got.name, size: got.size, url, greys: [] });
      photo.reflects ??= 100 * got.grey_card;
      await show_now();
    });
  }

  function busily(words, work) {
    const done = (async () => {
      fault.textContent = "";
      busy.textContent = words;
      try {
        await work();
      } catch (refused) {
        fault.textContent = refused.message;
      }
      busy.textContent = "";
    })();
    pending = Promise.all([pending, done]);
    return done;
  }

  function set([x, y]) {
    const at = { x, y };
    if (place === CARD) {
      photo.greys.push({ ...at, reflects: photo.reflects / 100 });
      return again();
    }
    // On to the next that is open at once: who clicks on meanwhile means that.
    const key = place;
    place = places.map(([one]) => one).find((one) => one !== key && !spots[one]) ?? key;
    draw();
    return busily("Reading its colour …", async () => {
      try {
        await read(key, at);
      } catch (refused) {
        place = key;
        draw();
        throw refused;
      }
      say(spots[key].words[0]);
      draw();
    });
  }

  async function read(key, { x, y }) {
    const asked = { id: photo.id, x, y, size: photo.size, greys: [...photo.greys] };
    spots[key] = { ...asked, ...(await ask("/api/chip", { ...asked, lamp: lamp() })) };
    changed(key);
  }

  // What was read by other grey cards is read once more.
  function again() {
    draw();
    return busily("Reading again …", async () => {
      for (const [key, spot] of here()) await read(key, spot);
      draw();
    });
  }

  const here = () => places.map(([key]) => [key, spots[key]]).filter(([, spot]) => spot?.id === photo.id && photo.id);

  async function show() {
    await point.show(photo.url, `The photograph ${photo.name}`);
    stage.hidden = false;
    draw();
  }

  function draw() {
    const options = [...places, [CARD, CARD]];
    refill(choosing, choice({ key: "point", label: "Point at", value: place, options, commit: (value) => ((place = value), draw()) }));
    point.mark([
      ...here().map(([key, { x, y }]) => ({ at: [x, y], words: places.find(([one]) => one === key)[1] })),
      ...photo.greys.map(({ x, y }) => ({ at: [x, y], words: CARD })),
    ]);
    const words = [...new Set(here().flatMap(([, spot]) => spot.words))];
    refill(
      said,
      place === CARD || photo.greys.length ? cards() : null,
      words.length
        ? element("details", {}, element("summary", {}, "What was read"), element("ul", { class: "said" }, words.map((one) => element("li", {}, one))))
        : null,
    );
  }

  function cards() {
    const share = element("input", {
      type: "number",
      min: 1,
      max: 100,
      step: "any",
      value: photo.reflects,
      dataset: { key: "reflects" },
      onchange: () => (photo.reflects = Number(share.value) || photo.reflects),
      // In a form, Enter would send it.
      onkeydown: (event) => event.key === "Enter" && event.preventDefault(),
    });
    const clear = () => {
      photo.greys = [];
      return again();
    };
    return element(
      "div",
      { class: "row" },
      field("The grey card reflects, %", share),
      photo.greys.length ? button(`Take ${photo.greys.length === 1 ? "the grey card" : "the grey cards"} away`, clear, { key: "no-cards" }) : null,
    );
  }

  show_now = async () => {
    await show();
    point.surface.focus();
  };
  if (photo.id) show();
  // What is said comes below, so that the picture stays where it is under the pointer.
  return element("div", { class: "photo" }, dropped, stage, busy, fault);
}

/** Fields for colours at some places, typed or read off a photograph. `kept` has { typed, spots } by place. */
export function colours({ ask, places, kept, legend, placeholder, key, lamp, open = false }) {
  const row = element("div", { class: "row" });
  const draw = () =>
    refill(
      row,
      places.map(([place, words]) => {
        const spot = kept.spots[place];
        const typed = element("input", {
          type: "text",
          value: spot ? `${spot.lab.map((one) => Math.round(10 * one) / 10).join(", ")} ± ${Math.round(10 * spot.doubt) / 10}` : (kept.typed[place] ?? ""),
          placeholder,
          autocomplete: "off",
          spellcheck: "false",
          dataset: { key: `${key}-${place}` },
          oninput: () => {
            delete kept.spots[place];
            kept.typed[place] = typed.value.trim();
          },
        });
        return field(words, typed);
      }),
      Object.keys(kept.spots).length ? element("p", { class: "hint" }, "With ± it is read off the photograph. Type to have another.") : null,
    );
  draw();
  return element(
    "fieldset",
    {},
    element("legend", {}, legend),
    row,
    element(
      "details",
      { open: open || Object.keys(kept.spots).length > 0 },
      element("summary", {}, "Off a photograph, beside a chart or a grey card"),
      photograph({ ask, places, spots: kept.spots, changed: draw, lamp }),
    ),
  );
}

/** Return what the fields hold, as the program is asked. */
export function colours_of({ typed, spots }) {
  const read = Object.entries(spots).map(([place, spot]) => [place, asked_of(spot)]);
  return { ...Object.fromEntries(Object.entries(typed).filter(([, text]) => text)), ...Object.fromEntries(read) };
}
