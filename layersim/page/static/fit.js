// Fit: drop the photograph of a card, see on it what was found and what is wrong, and get the paint.

import { attempt, button, dialog, element, field, html, progress, refill, say, tick } from "./parts.js";
import { drop } from "./drop.js";

const SVG = "http://www.w3.org/2000/svg";
const PICTURES = ".jpg,.jpeg,.png,.tif,.tiff,.dng,.cr2,.cr3,.nef,.nrw,.arw,.raf,.orf,.rw2,.pef,.srw,.raw,image/*";

// What was dropped and fitted stays while other panels are looked at.
const kept = {
  start: null,
  photograph: null,
  other_light: null,
  layout: null,
  places: null,
  example: false,
  result: null,
  shown: [],
  paint: { name: "", kind: "paint", volume_solids: 0.28, wet_film_um: 15, sheen: "matt", carrier: "", laid: "sprayed" },
  thinning: 1,
  trust: false,
};

export default {
  name: "Fit",
  mount(root, { ask }) {
    const dropped = element("div", {});
    const form = element("div", { class: "fit-form" });
    const running = element("div", { class: "running" });
    const fault = element("p", { class: "fault", role: "alert" });
    const looked = element("div", { class: "looked" });
    const answer = element("div", { class: "answer" });
    root.append(
      element("h2", {}, "Fit a paint"),
      element(
        "p",
        { class: "hint" },
        "Photograph a sprayed test card with a 24-patch chart beside it, in even light, and drop the picture here. The page shows what it found in it, and makes a paint of it.",
      ),
      dropped,
      element("div", { class: "fitting" }, element("div", {}, looked), element("div", {}, form, fault, running)),
      answer,
    );
    let busy = null;

    async function begin() {
      kept.start ??= await ask("/api/fit/start");
      kept.places ??= kept.start.places.map((one) => ({ ...one }));
      draw();
    }

    function draw() {
      draw_dropped();
      draw_form();
      draw_looked();
      draw_answer();
    }

    // ------------------------------------------------------------ what was dropped

    function draw_dropped() {
      refill(
        dropped,
        drop({
          label: kept.photograph ? `The card: ${kept.photograph.name}. Drop another to use that` : "Drop the picture of the card here, or choose it",
          hint: "JPEG, PNG, TIFF or camera raw, as the camera wrote it. It stays on this machine, and goes when layersim stops.",
          accept: PICTURES,
          taken: (file) => take("photograph", file),
          key: "card",
        }),
        element(
          "details",
          {},
          element("summary", {}, "A second lamp, or a card of other counts"),
          drop({
            label: kept.other_light
              ? `Under another kind of lamp: ${kept.other_light.name}`
              : "The same card once more, under another kind of lamp (much surer of strong colours)",
            accept: PICTURES,
            taken: (file) => take("other_light", file),
            key: "other-lamp",
          }),
          drop({
            label: kept.layout ? `The card's layout: ${kept.layout.name}` : "The card's layout file, written when the card was printed (.toml)",
            hint: "The card with half a coat, one, two and four coats needs none.",
            accept: ".toml",
            taken: (file) => take("layout", file),
            key: "layout",
          }),
        ),
        element(
          "div",
          { class: "row" },
          button("Try it with the example card", example, { key: "example" }),
          kept.example ? element("p", { class: "hint" }, "The example is invented: rendered, and sprayed by nobody.") : null,
        ),
      );
    }

    async function take(what, file) {
      fault.textContent = "";
      try {
        const where = what === "layout" ? "layout" : "card";
        kept[what] = await ask(`/api/upload/${where}?name=${encodeURIComponent(file.name)}`, file);
      } catch (refused) {
        fault.textContent = refused.message;
        return;
      }
      kept.example = false;
      forget();
      if (what === "layout") kept.places = kept.layout.places.map((one) => ({ ...one }));
      draw();
      if (kept.photograph) await run(false);
    }

    // What was found in another picture is no answer to this one.
    function forget() {
      for (const url of kept.shown) URL.revokeObjectURL(url);
      kept.shown = [];
      kept.result = null;
    }

    async function example() {
      const { pictures, places, thinning, ...paint } = kept.start.example;
      Object.assign(kept, { example: true, photograph: null, other_light: null, layout: null, thinning });
      kept.places = places.map((one) => ({ ...one }));
      kept.paint = { ...kept.paint, ...paint };
      forget();
      draw();
      await run(false);
    }

    // ------------------------------------------------------------ what is said of it

    function draw_form() {
      if (!kept.photograph && !kept.example) {
        refill(form);
        return;
      }
      const { paint, start } = kept;
      const fixed = kept.example;
      const text = (label, key, props = {}) => {
        const control = element("input", {
          type: "text",
          value: paint[key] ?? "",
          maxlength: 100,
          autocomplete: "off",
          disabled: fixed,
          dataset: { key: `fit-${key}` },
          onchange: () => (paint[key] = control.value.trim()),
          ...props,
        });
        return field(label, control);
      };
      const number = (label, value, set, hint) => {
        const control = element("input", {
          type: "number",
          step: "any",
          min: 0,
          value,
          disabled: fixed,
          dataset: { key: `fit-${label}` },
          onchange: () => set(control.value === "" ? null : Number(control.value)),
        });
        return field(label, control, { hint });
      };
      const list = (label, key, values, words = {}) => {
        const control = element(
          "select",
          { disabled: fixed, dataset: { key: `fit-${key}` }, onchange: () => (paint[key] = control.value), value: paint[key] },
          values.map((value) => element("option", { value }, words[value] ?? value)),
        );
        return field(label, control);
      };
      refill(
        form,
        element(
          "fieldset",
          { class: "card" },
          element("legend", {}, "The paint"),
          text("What it is called", "name"),
          list("Kind", "kind", start.kinds),
          number(
            "Volume solids, %",
            Math.round(paint.volume_solids * 1000) / 10,
            (value) => (paint.volume_solids = value === null ? null : value / 100),
            "Share of the liquid's volume that stays when dry: see its data sheet.",
          ),
          number("Wet film of one coat, µm", paint.wet_film_um, (value) => (paint.wet_film_um = value)),
          list("Sheen when dry", "sheen", start.sheens),
          list("What carries it", "carrier", ["", ...start.carriers], { "": "not said" }),
          list("How it was laid", "laid", start.laid),
          number("Drops of thinner to one drop of paint", kept.thinning, (value) => (kept.thinning = value)),
        ),
        element(
          "details",
          { class: "card" },
          element("summary", {}, "What was sprayed on each place"),
          fixed ? element("p", { class: "hint" }, "The example's places are as its layout says.") : null,
          element("div", { class: "scroll" }, places_table(fixed)),
        ),
        fixed
          ? null
          : tick("No chart and no neutrals: trust the camera's own colours (the range becomes wide)", kept.trust, (on) => (kept.trust = on), {
              key: "trust",
            }),
        element("div", { class: "row" }, button("Fit the paint", () => run(true), { class: "strong", key: "fit", disabled: Boolean(busy) })),
      );
    }

    function places_table(fixed) {
      return element(
        "table",
        { class: "places" },
        element("thead", {}, element("tr", {}, ["place", "over", "coats"].map((head) => element("th", { scope: "col" }, head)))),
        element(
          "tbody",
          {},
          kept.places.map((one) => {
            const coats = element("input", {
              type: "number",
              min: 0,
              step: "any",
              value: one.coats ?? "",
              disabled: fixed,
              "aria-label": `Coats on ${one.place}; 0 where it is bare, empty to leave it out`,
              dataset: { key: `place-${one.place}` },
              onchange: () => {
                one.coats = coats.value === "" ? null : Number(coats.value);
                one.changed = true;
              },
            });
            return element("tr", {}, element("th", { scope: "row" }, one.place), element("td", {}, one.ground), element("td", {}, coats));
          }),
        ),
      );
    }

    function asked(fit) {
      if (kept.example) return { example: true, fit };
      const paint = Object.fromEntries(Object.entries(kept.paint).filter(([, value]) => value !== "" && value !== null));
      const found = { fit, paint, thinning: kept.thinning, photograph: kept.photograph.id, trust_camera: kept.trust };
      if (kept.other_light) found.other_light = kept.other_light.id;
      if (kept.layout) found.layout = kept.layout.id;
      if (kept.places.some((one) => one.changed)) {
        found.places = kept.places.map(({ place, ground, coats }) => ({ place, ground, coats }));
      }
      return found;
    }

    async function run(fit) {
      fault.textContent = "";
      busy?.remove();
      try {
        const { work } = await ask("/api/fit", asked(fit));
        busy = progress(work, ended, { words: fit ? "Fitting the paint" : "Looking at the picture" });
        refill(running, busy);
        if (fit) draw_form();
      } catch (refused) {
        fault.textContent = refused.message;
      }
    }

    async function ended({ result, error }) {
      busy = null;
      if (error) {
        fault.textContent = error;
        draw_form();
        return;
      }
      forget();
      for (const i of result.looked.keys()) {
        kept.shown.push(URL.createObjectURL(await ask(`/api/fit/${result.id}/seen/${i}`)));
      }
      kept.result = result;
      draw_form();
      draw_looked();
      draw_answer();
      fault.textContent = result.fault;
      if (result.html) answer.querySelector("h3")?.scrollIntoView({ block: "start" });
      if (!result.fault) say(result.html ? `${result.paint} is fitted.` : "The card is found.");
    }

    // ------------------------------------------------------------ the picture, and what is in it

    function draw_looked() {
      refill(looked, (kept.result?.looked ?? []).map((one, i) => figure(one, kept.shown[i])));
    }

    function figure(one, url) {
      const wrong = one.found.filter((thing) => thing.words.length || !thing.used);
      // Odd places of the surround are many small ones, and one thing to know.
      const odd = wrong.filter((thing) => thing.kind === "surround");
      const named = wrong.filter((thing) => thing.kind !== "surround");
      const lines = named.map((thing) => `${thing.kind} ${thing.name}: ${thing.words.join(", ") || "not used"}`);
      if (odd.length) lines.push(`${odd.length} places of the bare card around: ${odd[0].words.join(", ")}`);
      const chart = one.found.some((thing) => thing.kind === "chart");
      const card = one.found.some((thing) => thing.kind === "card");
      const first = `${card ? "The card is found" : "The card is not found"}, and ${chart ? "a chart beside it" : "no chart"}.`;
      return element(
        "figure",
        { class: "photograph" },
        element(
          "div",
          { class: "shown" },
          element("img", { src: url, alt: `${one.name}. ${first} ${lines.join("; ")}` }),
          drawing(one, named, odd),
        ),
        element("figcaption", {}, `${one.name}. ${first}`),
        one.fault ? element("p", { class: "warning" }, one.fault) : null,
        lines.length
          ? element("ol", { class: "wrong" }, lines.map((line) => element("li", {}, line)))
          : one.fault
            ? null
            : element("p", {}, "Nothing is wrong with its places."),
        one.notes.length ? element("ul", { class: "notes" }, one.notes.map((line) => element("li", {}, line))) : null,
      );
    }

    function drawing(one, named, odd) {
      const whole = document.createElementNS(SVG, "svg");
      whole.setAttribute("viewBox", `0 0 ${one.width} ${one.height}`);
      whole.setAttribute("aria-hidden", "true");
      const unit = Math.max(one.width, one.height) / 700;
      const shape = (thing, kind) => {
        const outline = thing.corners.map(([x, y]) => `${x * one.width},${y * one.height}`).join(" ");
        for (const layer of ["under", "over"]) {
          const made = document.createElementNS(SVG, "polygon");
          made.setAttribute("points", outline);
          made.setAttribute("class", `${kind} ${layer}`);
          made.style.setProperty("stroke-width", `${(layer === "under" ? 4 : 1.75) * unit}`);
          if (kind === "wrong") made.style.setProperty("stroke-dasharray", `${6 * unit} ${3 * unit}`);
          whole.append(made);
        }
      };
      for (const thing of one.found) {
        if (["card", "chart", "corner mark", "place"].includes(thing.kind) && !named.includes(thing)) shape(thing, "sound");
      }
      for (const thing of odd) shape(thing, "wrong");
      named.forEach((thing, i) => {
        shape(thing, "wrong");
        const n = thing.corners.length;
        const [x, y] = [0, 1].map((k) => thing.corners.reduce((sum, corner) => sum + corner[k], 0) / n);
        label(whole, x * one.width, y * one.height, `${i + 1}`, unit);
      });
      for (const thing of one.found) {
        if (thing.kind === "chart" || thing.kind === "card") {
          const [x, y] = thing.corners.reduce((least, corner) => (corner[1] < least[1] ? corner : least));
          label(whole, x * one.width, y * one.height, thing.kind === "chart" ? "chart" : "card", unit);
        }
      }
      return whole;
    }

    function label(whole, x, y, words, unit) {
      const made = document.createElementNS(SVG, "text");
      made.setAttribute("x", x);
      made.setAttribute("y", y);
      made.setAttribute("text-anchor", "middle");
      made.setAttribute("dominant-baseline", "central");
      made.style.setProperty("font-size", `${20 * unit}px`);
      made.style.setProperty("stroke-width", `${5 * unit}`);
      made.textContent = words;
      whole.append(made);
    }

    // ------------------------------------------------------------ the paint

    function draw_answer() {
      const { result } = kept;
      if (!result?.html) {
        refill(answer);
        return;
      }
      refill(
        answer,
        html(result.html),
        element("div", { class: "row" }, button("Put it on my shelf", () => keep(false), { class: "strong", key: "keep" })),
      );
    }

    function keep(replace) {
      return attempt(null, async () => {
        const got = await ask("/api/fit/keep", { id: kept.result.id, replace });
        if (got.kept) {
          say(got.words);
          return;
        }
        const sure = await dialog(`Write over ${kept.result.paint}?`, `${got.words} Written over, what it says is gone.`, [
          [null, "Leave it"],
          ["yes", "Write over it", "strong"],
        ]);
        if (sure === "yes") await keep(true);
      });
    }

    attempt(null, begin);
  },
};
