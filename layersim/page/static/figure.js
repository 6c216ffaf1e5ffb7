// The open scheme on a photograph of the painter's own model: areas are pointed at by their corners.

import { button, choice, element, field, fresh_id, refill, select } from "./parts.js";
import { drop } from "./drop.js";
import { PICTURES, sent } from "./photograph.js";
import { pointing } from "./pointing.js";

const SVG = "http://www.w3.org/2000/svg";
const GREY = "the grey card";

// The photograph and what was pointed at in it stay while other panels are looked at.
const kept = { photo: null, url: null, places: {}, greys: [], stretch: false, what: GREY, split: 100 };

/** Whether a photograph is there, with an area in it: the scheme can be seen on it. */
export const is_ready = () => kept.photo && Object.values(kept.places).some((corners) => corners.length > 2);

/** What the program is asked for a picture of the model. */
const asked = (store, more = {}) => ({
  id: kept.photo.id,
  greys: kept.greys,
  places: kept.places,
  stretch: kept.stretch,
  lamp: store.judging.lamp,
  ...more,
});

/**
 * The model in the scheme's colours, what is only tried among them. `draw()` shows them anew, and the latest
 * wins; `told(message)` is called with what is wrong, or with nothing, and `settled()` when all is shown.
 */
export function on_model({ store, ask, told, settled = () => {} }) {
  const finished = element("img", { alt: "The model in the scheme's colours", hidden: true });
  const before = element("img", { alt: "", "aria-hidden": "true", class: "before", hidden: true });
  const split = element("input", {
    type: "range", min: 0, max: 100, step: 1, value: kept.split,
    oninput: () => {
      kept.split = Number(split.value);
      cut();
    },
  });
  const sort = element("div", {});
  let compared = "photograph";
  let asking = null;
  let next = false;

  function cut() {
    before.style.setProperty("clip-path", `inset(0 0 0 ${kept.split}%)`);
    split.setAttribute("aria-valuetext", `${kept.split} per cent of it finished`);
  }

  async function get(stage) {
    const blob = await ask("/api/figure", asked(store, { stage, edits: store.trying, revision: store.state.revision }));
    return URL.createObjectURL(blob);
  }

  function put(image, url) {
    const old = image.src;
    image.src = url;
    image.hidden = false;
    if (old.startsWith("blob:")) URL.revokeObjectURL(old);
  }

  function draw() {
    if (!is_ready()) return;
    next = true;
    asking ??= (async () => {
      while (next) {
        next = false;
        try {
          put(finished, await get("finished"));
          if (kept.split < 100 || before.hidden) put(before, await get(compared));
          told("");
        } catch (fault) {
          told(fault.message);
        }
      }
      asking = null;
      settled();
    })();
  }

  refill(
    sort,
    choice({
      key: "against",
      label: "Compare with",
      value: compared,
      options: [["photograph", "the photograph"], ["before the filter", "before the filter"]],
      commit: (value) => {
        compared = value;
        before.hidden = true;
        if (kept.split === 100) kept.split = split.value = 50;
        cut();
        draw();
      },
    }),
  );
  cut();
  const whole = element(
    "figure",
    { class: "model" },
    element("div", { class: "seen" }, finished, before),
    element("figcaption", { class: "row" }, sort, field("Finished, from the left", split)),
  );
  return { whole, draw };
}

export default {
  name: "On the model",
  mount(root, { store, ask }) {
    const fault = element("p", { class: "fault", role: "alert" });
    const busy = element("p", { class: "hint", role: "status" });
    const stage = element("div", { class: "artwork", hidden: true });
    const choosing = element("div", {});
    const side = element("div", { class: "chosen" });
    const said = element("ul", { class: "said", id: fresh_id("about") });
    const point = pointing({ name: "The photograph", set, size: () => 1.5 });
    const outlines = document.createElementNS(SVG, "svg");
    outlines.setAttribute("class", "outlines");
    outlines.setAttribute("viewBox", "0 0 100 100");
    outlines.setAttribute("preserveAspectRatio", "none");
    outlines.setAttribute("aria-hidden", "true");
    point.surface.append(outlines);
    const model = on_model({ store, ask, told: (words) => (fault.textContent = words), settled: tell });
    stage.append(choosing, ...point.whole);
    root.append(
      element("h2", {}, "On your own model"),
      element(
        "p",
        { class: "hint" },
        "Photograph the bare preshaded model close beside a grey card or a 24-patch chart, in one even light. Point at the grey card, then at the corners of each area: the photograph comes back in the scheme's colours.",
      ),
      drop({
        label: "Drop the photograph here, or choose it",
        hint: "It stays on this machine, and goes when layersim stops.",
        accept: PICTURES,
        taken: upload,
        key: "model",
      }),
      busy,
      fault,
      element("div", { class: "pointing" }, stage, side),
    );

    async function upload(file) {
      fault.textContent = "";
      busy.textContent = "Reading the photograph …";
      try {
        const { got, url } = await sent(ask, file, kept.url);
        Object.assign(kept, { photo: got, url, places: {}, greys: [], what: GREY });
        await show();
        point.surface.focus();
      } catch (refused) {
        fault.textContent = refused.message;
      }
      busy.textContent = "";
    }

    async function show() {
      await point.show(kept.url, `The photograph ${kept.photo.name}`);
      stage.hidden = false;
      draw();
    }

    function set([x, y]) {
      if (kept.what === GREY) {
        kept.greys = [{ x, y }];
        kept.what = store.state.areas[0].name;
      } else {
        (kept.places[kept.what] ??= []).push([x, y]);
      }
      draw();
    }

    function take_back() {
      if (kept.what === GREY) kept.greys = [];
      else kept.places[kept.what]?.pop();
      draw();
    }

    function draw() {
      const areas = store.state.areas.map((area) => area.name);
      if (kept.what !== GREY && !areas.includes(kept.what)) kept.what = areas[0];
      refill(
        choosing,
        element(
          "div",
          { class: "row" },
          select({
            key: "what",
            label: "Point at",
            value: kept.what,
            options: [[GREY, GREY], ...areas.map((name) => [name, `corners of ${name}`])],
            commit: (value) => {
              kept.what = value;
              draw();
            },
          }),
          button("Take the last point back", take_back, { key: "back" }),
        ),
      );
      point.mark(kept.greys.map(({ x, y }) => ({ at: [x, y], words: GREY })));
      outlines.replaceChildren(
        ...Object.entries(kept.places).map(([name, corners]) => {
          const line = document.createElementNS(SVG, corners.length > 2 ? "polygon" : "polyline");
          line.setAttribute("points", corners.map((corner) => corner.join(",")).join(" "));
          if (name === kept.what) line.setAttribute("class", "now");
          return line;
        }),
      );
      const stretch = element("input", {
        type: "checkbox",
        dataset: { key: "stretch" },
        onchange: () => {
          kept.stretch = stretch.checked;
          draw();
        },
      });
      stretch.checked = kept.stretch;
      if (!is_ready()) said.replaceChildren();
      refill(
        side,
        is_ready() ? model.whole : element("p", { class: "hint" }, "Three corners of one area, and it is shown here."),
        element("label", { class: "tick" }, stretch, " Stretch to the picture: the darkest and lightest of an area are the ends of its preshade"),
        said,
      );
      model.draw();
    }

    async function tell() {
      try {
        const { words } = await ask("/api/figure/words", asked(store));
        refill(said, words.map((one) => element("li", {}, one)));
      } catch {
        // What is wrong is told with the picture.
        said.replaceChildren();
      }
    }

    const stop = store.subscribe((what) => {
      if (what === "state") draw();
      if (what === "colours" || what === "judging") model.draw();
    });
    if (kept.photo) show();
    else draw();
    return stop;
  },
};
