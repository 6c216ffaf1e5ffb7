// Fit: drop the photograph of a card, see on it what was found and what is wrong, and get the paint.

import { attempt, button, dialog, element, field, fresh_id, html, pick_paint, progress, refill, say, tick } from "./parts.js";
import { drop } from "./drop.js";
import { PICTURES } from "./photograph.js";
import { pointing } from "./pointing.js";

const SVG = "http://www.w3.org/2000/svg";
// As they are asked for, and as they are named: of the first photograph, and of the one under another lamp.
const WHOSE = ["", "other_lamp_"];
const CORNERS = ["upper left", "upper right", "lower right", "lower left"];

// What was dropped and fitted stays while other panels are looked at.
const kept = {
  start: null,
  photograph: null,
  other_lamp: null,
  layout: null,
  places: null,
  example: false,
  result: null,
  shown: [],
  paint: { name: "", kind: "paint", volume_solids: 0.28, wet_film_um: 15, sheen: "matt", carrier: "", laid: "sprayed" },
  thinning: 1,
  trust: false,
  sprayer: "",
  known: null,
  film_error: null,
  // Four corners by the key they are asked for, as they were pointed at.
  corners: {},
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
    // Whose corners are being pointed at: { i, thing, at }.
    let corners_of = null;

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
            label: kept.other_lamp
              ? `Under another kind of lamp: ${kept.other_lamp.name}`
              : "The same card once more, under another kind of lamp (much surer of strong colours)",
            accept: PICTURES,
            taken: (file) => take("other_lamp", file),
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
        forget_corners(what);
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

    // Corners are those of one picture.
    function forget_corners(what) {
      const gone = what === "photograph" ? "" : what === "other_lamp" ? "other_lamp_" : null;
      for (const thing of gone === null ? [] : ["card", "chart"]) delete kept.corners[corner_key(gone, thing)];
    }

    // What was found in another picture is no answer to this one.
    function forget() {
      for (const url of kept.shown) URL.revokeObjectURL(url);
      kept.shown = [];
      kept.result = null;
    }

    async function example() {
      const { pictures, places, thinning, ...paint } = kept.start.example;
      Object.assign(kept, { example: true, photograph: null, other_lamp: null, layout: null, thinning, corners: {} });
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
        fixed ? null : hand_form(),
        element(
          "div",
          { class: "row" },
          button(kept.known ? "Learn the film of a coat" : "Fit the paint", () => run(true), { class: "strong", key: "fit", disabled: Boolean(busy) }),
        ),
      );
    }

    // Whose coats they are: a profile's film counts, or is learned from a paint that is known.
    function hand_form() {
      const names = fresh_id("sprayers");
      const sprayer = element("input", {
        type: "text",
        value: kept.sprayer,
        list: names,
        maxlength: 100,
        autocomplete: "off",
        dataset: { key: "fit-sprayer" },
        onchange: () => (kept.sprayer = sprayer.value.trim()),
      });
      const error = element("input", {
        type: "number",
        min: 0,
        max: 100,
        step: "any",
        value: kept.film_error ?? "",
        placeholder: "as the swatches say",
        dataset: { key: "fit-film-error" },
        onchange: () => (kept.film_error = error.value === "" ? null : Number(error.value)),
      });
      const fold = (event) => (kept.hand_open = event.target.open);
      const choose = async () => {
        kept.known = (await pick_paint("Which paint is on the card?", { now: kept.known ?? "" })) ?? kept.known;
        draw_form();
      };
      return element(
        "details",
        { class: "card", open: kept.hand_open, ontoggle: fold },
        element("summary", {}, "Who sprayed it"),
        element("datalist", { id: names }, kept.start.sprayers.map((name) => element("option", { value: name }))),
        field("Sprayer", sprayer, { hint: "By its profile's name: the film of its coats counts, and how even they are is added to the profile." }),
        field("One swatch's film may be off by, %", error),
        element(
          "div",
          { class: "field" },
          element("p", { class: "strong" }, "Is the paint on your shelf already?"),
          element("p", { class: "hint" }, "Then the card tells how thick this sprayer's coats are, and makes no new paint. A new name begins a new profile."),
          element(
            "div",
            { class: "row" },
            button(kept.known ? `It is ${kept.known}` : "Choose the paint", choose, { key: "known" }),
            kept.known ? button("Fit a new paint instead", () => ((kept.known = null), draw_form()), { key: "unknown" }) : null,
          ),
        ),
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
      const found = { fit, paint, thinning: kept.thinning, photograph: kept.photograph.id, trust_camera: kept.trust, ...kept.corners };
      if (kept.sprayer) found.sprayer = kept.sprayer;
      if (kept.known) found.known = kept.known;
      if (kept.film_error !== null) found.film_error_percent = kept.film_error;
      if (kept.other_lamp) found.other_lamp = kept.other_lamp.id;
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
      // What is wrong with a picture stands below it.
      fault.textContent = result.looked.some((one) => one.fault === result.fault) ? "" : result.fault;
      if (result.html) answer.querySelector("h3")?.scrollIntoView({ block: "start" });
      if (!result.fault) say(!result.html ? "The card is found." : result.paint ? `${result.paint} is fitted.` : "The film of a coat is learned.");
    }

    // ------------------------------------------------------------ the picture, and what is in it

    function draw_looked() {
      refill(looked, (kept.result?.looked ?? []).map((one, i) => (corners_of?.i === i ? pointed(one, i) : figure(one, i))));
    }

    // ------------------------------------------------------------ corners, where they were not found

    const corner_key = (whose, thing) => `${whose}${thing === "chart" ? "chart_" : ""}corners_px`;

    function point_at(i, thing) {
      corners_of = { i, thing, at: [] };
      draw_looked();
      looked.querySelector(".surface")?.focus();
    }

    function pointed(one, i) {
      const { thing, at } = corners_of;
      const said = element("p", { class: "strong", role: "status" });
      const point = pointing({ name: one.name, size: () => 0, set });
      const again = () => {
        said.textContent = `Point at the ${thing}'s ${CORNERS[at.length]} corner, as it reads upright (${at.length + 1} of 4).`;
        point.mark(at.map((corner, k) => ({ at: corner, words: CORNERS[k] })));
      };
      async function set(corner) {
        at.push(corner);
        if (at.length < CORNERS.length) return again();
        // The middle of the first pixel is 0, 0.
        kept.corners[corner_key(WHOSE[i], thing)] = at.map(([x, y]) => [(x / 100) * one.width - 0.5, (y / 100) * one.height - 0.5]);
        corners_of = null;
        draw_looked();
        await run(false);
      }
      const leave = () => {
        corners_of = null;
        draw_looked();
      };
      point.show(kept.shown[i], one.name);
      again();
      return element(
        "figure",
        { class: "photograph" },
        said,
        point.whole,
        element(
          "div",
          { class: "row" },
          button("One back", () => (at.pop(), again()), { key: "corner-back" }),
          button("Leave it", leave, { key: "corner-leave" }),
        ),
      );
    }

    function corner_buttons(one, i) {
      if (kept.example) return null;
      const by_hand = ["card", "chart"].filter((thing) => kept.corners[corner_key(WHOSE[i], thing)]);
      const forget_them = () => {
        for (const thing of by_hand) delete kept.corners[corner_key(WHOSE[i], thing)];
        run(false);
      };
      return element(
        "div",
        { class: "row" },
        ["card", "chart"].map((thing) => button(`Point at the ${thing}'s corners`, () => point_at(i, thing), { key: `corners-${i}-${thing}` })),
        by_hand.length ? button("Look for them by itself again", forget_them, { key: `corners-${i}-none` }) : null,
      );
    }

    function figure(one, i) {
      const url = kept.shown[i];
      const wrong = one.found.filter((thing) => thing.words.length || !thing.used);
      // Odd places of the surround are many small ones, and one thing to know.
      const odd = wrong.filter((thing) => thing.kind === "surround");
      const named = wrong.filter((thing) => thing.kind !== "surround");
      const lines = named.map((thing) => `${thing.kind} ${thing.name}: ${thing.words.join(", ") || "not used"}`);
      if (odd.length) lines.push(`${odd.length} places of the bare card around: ${odd[0].words.join(", ")}`);
      const chart = one.found.some((thing) => thing.kind === "chart");
      const card = one.found.some((thing) => thing.kind === "card");
      // A chart is looked for beside a card, so where there is no card nothing is known of it.
      const first = card ? `The card is found, and ${chart ? "a chart beside it" : "no chart"}.` : "The card is not found.";
      return element(
        "figure",
        { class: "photograph" },
        element(
          "div",
          { class: "shown" },
          element("img", { src: url, alt: `${one.name}. ${first} ${lines.join("; ")}` }),
          drawing(one, named, odd, { card, chart }),
        ),
        element("figcaption", {}, `${one.name}. ${first}`),
        one.fault ? element("p", { class: "warning" }, one.fault) : null,
        corner_buttons(one, i),
        lines.length
          ? element("ol", { class: "wrong" }, lines.map((line) => element("li", {}, line)))
          : one.fault
            ? null
            : element("p", {}, "Nothing is wrong with its places."),
        one.notes.length ? element("ul", { class: "notes" }, one.notes.map((line) => element("li", {}, line))) : null,
      );
    }

    function drawing(one, named, odd, { card, chart }) {
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
        if (!thing.corners.length) return;
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
      // What is nowhere to be seen has no place: it is said across the picture.
      const missing = card ? (chart ? "" : "no chart found") : "card not found";
      if (missing) label(whole, one.width / 2, one.height - 28 * unit, missing, unit);
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
        element(
          "div",
          { class: "row" },
          button(result.paint ? "Put it on my shelf" : `Keep it in the profile of ${result.sprayer}`, () => keep(false), { class: "strong", key: "keep" }),
        ),
      );
    }

    function keep(replace) {
      return attempt(null, async () => {
        const got = await ask("/api/fit/keep", { id: kept.result.id, replace });
        if (got.kept) {
          say(got.words);
          return;
        }
        const sure = await dialog(`Write over ${kept.result.paint ?? kept.result.sprayer}?`, `${got.words} Written over, what it says is gone.`, [
          [null, "Leave it"],
          ["yes", "Write over it", "strong"],
        ]);
        if (sure === "yes") await keep(true);
      });
    }

    attempt(null, begin);
  },
};
