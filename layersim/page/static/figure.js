// The open scheme on a photograph of the painter's own model: areas are painted roughly, or pointed at by corners.

import { attempt, button, choice, dialog, element, field, fresh_id, refill, say, select, tick } from "./parts.js";
import { drop } from "./drop.js";
import { latest } from "./latest.js";
import { PICTURES, sent } from "./photograph.js";
import { pointing } from "./pointing.js";

const SVG = "http://www.w3.org/2000/svg";
const GREY = "the grey card";
const TOOLS = [["brush", "Brush"], ["away", "Take away"], ["corners", "Corners"]];

// The photograph and what was marked in it stay while other panels are looked at.
const kept = { photo: null, url: null, places: {}, strokes: [], outlines: {}, greys: [], stretch: false, what: GREY, tool: "brush", wide: 2, split: 100 };

/** Whether a photograph is there, with an area in it: the scheme can be seen on it. */
export const is_ready = () =>
  kept.photo && (kept.strokes.some(({ area }) => area) || Object.values(kept.places).some((corners) => corners.length > 2));

/** What the program is asked for a picture of the model. */
const asked = (store, more = {}) => ({
  id: kept.photo.id,
  greys: kept.greys,
  places: kept.places,
  strokes: kept.strokes,
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

  const show = latest(async () => {
    try {
      put(finished, await get("finished"));
      if (kept.split < 100 || before.hidden) put(before, await get(compared));
      told("");
    } catch (fault) {
      told(fault.message);
    }
  }, settled);

  const draw = () => is_ready() && show();

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
    const written = element("div", { role: "status" });
    const point = pointing({ name: "The photograph", set, size: () => (is_painting() ? kept.wide : 1.5), paints: is_painting, line, stroke });
    const outlines = document.createElementNS(SVG, "svg");
    outlines.setAttribute("class", "outlines");
    outlines.setAttribute("viewBox", "0 0 100 100");
    outlines.setAttribute("preserveAspectRatio", "none");
    outlines.setAttribute("aria-hidden", "true");
    const brushed = document.createElementNS(SVG, "polyline");
    point.surface.append(outlines);
    const model = on_model({ store, ask, told: (words) => (fault.textContent = words), settled: tell });
    stage.append(choosing, ...point.whole, written);
    root.append(
      element("h2", {}, "On your own model"),
      element(
        "p",
        { class: "hint" },
        "Photograph the bare preshaded model close beside a grey card or a 24-patch chart, in one even light. Point at the grey card, then paint roughly inside each area: it grows to the edges in the picture, and the photograph comes back in the scheme's colours.",
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
        Object.assign(kept, { photo: got, url, places: {}, strokes: [], outlines: {}, greys: [], what: GREY });
        await show();
        point.surface.focus();
        // Made ready for the brush while the grey card is pointed at.
        ask("/api/figure/areas", asked(store)).catch(() => {});
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

    function is_painting() {
      return kept.what !== GREY && kept.tool !== "corners";
    }

    function set(at) {
      if (kept.what === GREY) {
        kept.greys = [{ x: at[0], y: at[1] }];
        kept.what = store.state.areas[0].name;
        return draw();
      }
      // By keyboard the brush dabs.
      if (is_painting()) return stroke([at]);
      (kept.places[kept.what] ??= []).push(at);
      return marked();
    }

    function line(points) {
      const box = point.surface.getBoundingClientRect();
      brushed.style.setProperty("stroke-width", `${(kept.wide / 100) * Math.max(box.width, box.height)}px`);
      brushed.setAttribute("class", kept.tool === "away" ? "stroke away" : "stroke");
      // A line to where it is already is a dab.
      brushed.setAttribute("points", points ? [...points, points[points.length - 1]].map((one) => one.join(",")).join(" ") : "");
    }

    function stroke(points) {
      kept.strokes.push({ area: kept.tool === "away" ? null : kept.what, points, wide: kept.wide });
      return marked();
    }

    function take_back() {
      if (kept.what === GREY) kept.greys = [];
      else if (is_painting()) kept.strokes.pop();
      else kept.places[kept.what]?.pop();
      return kept.what === GREY ? draw() : marked();
    }

    let latest = 0;

    async function marked() {
      const mine = (latest += 1);
      draw_outlines();
      try {
        const { outlines: found } = is_ready() ? await ask("/api/figure/areas", asked(store)) : { outlines: {} };
        if (mine !== latest) return;
        kept.outlines = found;
        line(null);
      } catch (refused) {
        if (mine !== latest) return;
        line(null);
        fault.textContent = refused.message;
      }
      draw();
    }

    async function save(replace = false) {
      const got = await ask("/api/figure/masks", asked(store, { replace }));
      if (got.written) {
        say(got.words);
        refill(written, element("p", { class: "hint" }, got.words, " With them, the command is:"), element("pre", {}, got.command));
      } else if ((await dialog("Save the masks", `${got.words} Write over them?`, [["no", "Leave them"], ["yes", "Write over", "strong"]])) === "yes") {
        await save(true);
      }
    }

    function draw_outlines() {
      const shown = (name, corners) => {
        const one = document.createElementNS(SVG, corners.length > 2 ? "polygon" : "polyline");
        one.setAttribute("points", corners.map((corner) => corner.join(",")).join(" "));
        if (name === kept.what) one.setAttribute("class", "now");
        return one;
      };
      // Holes are lines of the same path, so that they are not filled.
      const grown = ([name, lines]) => {
        const one = document.createElementNS(SVG, "path");
        one.setAttribute("d", lines.map((corners) => `M${corners.map((corner) => corner.join(" ")).join("L")}Z`).join(""));
        one.setAttribute("class", name === kept.what ? "area now" : "area");
        return one;
      };
      const open = Object.entries(kept.places).filter(([, corners]) => corners.length < 3);
      outlines.replaceChildren(...Object.entries(kept.outlines).map(grown), ...open.map(([name, corners]) => shown(name, corners)), brushed);
    }

    function draw_choosing(areas) {
      const wide = element("input", {
        type: "range", min: 0.5, max: 8, step: 0.5, value: kept.wide, dataset: { key: "wide" },
        oninput: () => {
          kept.wide = Number(wide.value);
          wide.setAttribute("aria-valuetext", `${kept.wide} per cent of the picture`);
          point.move();
        },
      });
      point.surface.classList.toggle("painting", is_painting());
      refill(
        choosing,
        element(
          "div",
          { class: "row" },
          select({
            key: "what",
            label: "Mark",
            value: kept.what,
            options: [GREY, ...areas].map((name) => [name, name]),
            commit: (value) => {
              kept.what = value;
              draw();
            },
          }),
          kept.what === GREY
            ? null
            : choice({
                key: "tool",
                label: "With",
                value: kept.tool,
                options: TOOLS,
                commit: (value) => {
                  kept.tool = value;
                  draw();
                  point.move();
                },
              }),
          is_painting() ? field("Size of the brush", wide) : null,
        ),
        element(
          "div",
          { class: "row" },
          button(is_painting() ? "Take the last stroke back" : "Take the last point back", take_back, { key: "back" }),
          is_ready() ? button("Save the masks", () => attempt(null, save), { key: "masks" }) : null,
        ),
      );
    }

    function draw() {
      const areas = store.state.areas.map((area) => area.name);
      if (kept.what !== GREY && !areas.includes(kept.what)) kept.what = areas[0];
      draw_choosing(areas);
      point.mark(kept.greys.map(({ x, y }) => ({ at: [x, y], words: GREY })));
      draw_outlines();
      const stretch = (on) => {
        kept.stretch = on;
        draw();
      };
      if (!is_ready()) said.replaceChildren();
      refill(
        side,
        is_ready() ? model.whole : element("p", { class: "hint" }, "Paint in one area, and it is shown here."),
        tick("Stretch to the picture: the darkest and lightest of an area are the ends of its preshade", kept.stretch, stretch, { key: "stretch" }),
        said,
      );
      model.draw();
    }

    async function tell() {
      try {
        const { areas } = await ask("/api/figure/words", asked(store));
        refill(
          said,
          areas.map(({ name, words, greys, edits, what }) =>
            element(
              "li",
              {},
              words,
              " ",
              edits ? button("Use these greys", () => use(edits, what), { label: `Use these greys for ${name}: ${greys}`, key: `greys-${name}` }) : null,
            ),
          ),
        );
      } catch {
        // What is wrong is told with the picture.
        said.replaceChildren();
      }
    }

    function use(edits, what) {
      return attempt(null, async () => {
        await store.edit(edits, what);
        say("Written into the scheme. Undo takes them back.");
      });
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
