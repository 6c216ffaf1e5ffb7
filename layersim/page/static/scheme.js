// The scheme: the coats of an area as cards in spraying order, beside the picture of what they give.

import {
  ask_name, attempt, button, choice, dialog, element, field, fresh_id, gradient, let_go, pick_paint, refill, rounded, select,
  slider, stepper, swatches, tick, trimmed,
} from "./parts.js";
import { picture } from "./picture.js";

export default {
  name: "Scheme",
  mount(root, { store, ask }) {
    const open = new Set(["coat-0"]);
    const drawn = picture({ store, ask });
    const coats = element("section", { class: "coats", "aria-label": "Coats" });
    root.append(element("div", { class: "bench" }, drawn.finish, coats, drawn.more));
    // What is come to by keyboard, or opened, does not end up below the finish.
    const clear = new ResizeObserver(() => {
      const stays = getComputedStyle(drawn.finish).position === "sticky";
      document.documentElement.style.scrollPaddingTop = stays ? `${drawn.finish.offsetHeight}px` : "";
    });
    clear.observe(drawn.finish);
    const notes = element("div", { class: "notes" });
    const live = [];
    let last_area = store.area;

    const i = () => store.area;
    const at = (...rest) => ["area", i(), ...rest];
    const set = (where, value) => ({ do: "set", at: where, value });
    const make = (edits, what) => store.edit([edits].flat(), what);
    const show = (edits) => store.preview([edits].flat());

    // -------------------------------------------------------------- areas

    function areas() {
      return element(
        "div",
        { class: "areas row", role: "group", "aria-label": "Areas" },
        store.state.areas.map((area) =>
          button(area.name, () => store.choose(area.index), { "aria-pressed": String(area.index === i()), key: `area-${area.index}` }),
        ),
        button("+ area", add_area, { label: "Add an area", key: "add-area" }),
      );
    }

    async function add_area() {
      const name = await ask_name("Add an area", "Its name", "", {
        strong: "Add it",
        hint: `It begins as a copy of “${store.state.areas[i()].name}”.`,
      });
      if (!name) return;
      if (await attempt(null, () => make({ do: "add_area", copy_of: i(), name }, `add area ${name}`))) {
        store.choose(store.state.areas.length - 1);
      }
    }

    function area_tools(area) {
      const alone = store.state.areas.length < 2;
      return element(
        "div",
        { class: "row tail" },
        button("Rename the area", async () => {
          const name = await ask_name("Rename the area", "Its name", area.name, { strong: "Rename it" });
          if (name) await attempt(null, () => make(set(at("name"), name), `rename ${area.name}`));
        }, { class: "plain", key: "rename-area" }),
        alone
          ? null
          : button("Take the area away", () => attempt(null, () => make({ do: "remove_area", area: i() }, `take away area ${area.name}`)), {
              class: "plain",
              key: "remove-area",
            }),
      );
    }

    // -------------------------------------------------------------- a card's frame

    function folding(key, head, body, classes = "") {
      const shown = open.has(key);
      const id = fresh_id("body");
      const inside = element("div", { class: "body", id, hidden: !shown }, shown ? body() : null);
      const fold = button(head, () => {
        if (open.has(key)) open.delete(key);
        else open.add(key);
        draw();
      }, { class: "fold", "aria-expanded": String(shown), "aria-controls": id, key: `fold-${key}` });
      return element("li", { class: `card coat ${classes}` }, fold, inside);
    }

    function mini(stage_of) {
      const made = element("div", { class: "strip mini", "aria-hidden": "true" });
      live.push(() => {
        const stage = stage_of(store.colours?.areas.find((one) => one.index === i()));
        made.style.backgroundImage = gradient(stage?.css);
      });
      return made;
    }

    // -------------------------------------------------------------- the preshade

    /** The stage that the coats lie on: the preshade, or the primer where there is none. */
    function bare(area, colours) {
      return colours?.stages[colours.stages.length - area.coats.filter((one) => !one.off).length - 1];
    }

    function preshade(area) {
      const now = area.preshade ?? { kind: "none" };
      const first = (colours) => bare(area, colours);
      const head = [
        element("span", { class: "number", "aria-hidden": "true" }, "·"),
        element("span", { class: "title" }, element("strong", {}, "Preshade"), element("small", {}, preshade_words(area, now))),
        mini(first),
      ];
      const body = () => [
        element(
          "div",
          { class: "row" },
          element("span", { class: "chip", style: { background: area.primer.css }, "aria-hidden": "true" }),
          element("span", {}, area.primer.name),
          button("Change the primer", async () => {
            const name = await pick_paint("Choose the primer", { now: area.primer.name });
            if (name) await attempt(null, () => make(set(at("primer"), name), "change the primer"));
          }, { class: "plain", key: "primer" }),
        ),
        choice({
          key: "preshade-kind",
          label: "Preshade",
          value: now.kind,
          options: [
            ["sprayed", "white sprayed from above"],
            ["given", "greys I know"],
            ["none", "none"],
          ],
          commit: (kind) =>
            make(
              set(
                at("preshade"),
                kind === "sprayed"
                  ? { white: "airbrush white", thinning: 3.5, passes: 30 }
                  : kind === "given"
                    ? { greys: greys_now() }
                    : null,
              ),
              "change the kind of preshade",
            ),
        }),
        now.kind === "sprayed" ? sprayed(now) : now.kind === "given" ? given(now) : null,
      ];
      return folding("preshade", head, body, "first");
    }

    function preshade_words(area, now) {
      if (now.kind === "sprayed") return `${trimmed(now.passes)} passes of ${now.white} over ${area.primer.name}`;
      if (now.kind === "given") return `greys you know, over ${area.primer.name}`;
      return `none: bare ${area.primer.name}`;
    }

    function greys_now() {
      const shade = store.colours?.areas.find((one) => one.index === i())?.shade;
      return shade ? [Math.round(shade[0]), Math.round(shade[shade.length - 1])] : [30, 88];
    }

    function sprayed(now) {
      const put = (key) => (value) => make(set(at("preshade", key), value), `preshade: ${key}`);
      const try_out = (key) => (value) => show(set(at("preshade", key), value));
      const one = (key, label, rest) =>
        slider({ key: `preshade-${key}`, label, value: now[key] ?? null, preview: try_out(key), commit: put(key), ...rest });
      return [
        element(
          "div",
          { class: "row" },
          element("span", {}, now.white),
          button("Change the white", async () => {
            const name = await pick_paint("Choose the white", { now: now.white });
            if (name) await attempt(null, () => put("white")(name));
          }, { class: "plain", key: "white" }),
        ),
        one("passes", "Passes of white", { min: 1, max: 80, step: 1 }),
        one("thinning", "Thinner", { min: 0, max: 8, step: 0.25, unit: "drops to 1 of paint", usual: 0 }),
        one("reach", "Drifts into the deepest shadow", { min: 0, max: 0.3, step: 0.01, usual: 0.02, unit: "share of the white" }),
      ];
    }

    function given(now) {
      const [dark, light] = now.greys ?? [30, 88];
      return greys_axis({
        key: "greys",
        legend: "Lightness L* of the bare preshade, read off a photograph",
        ends: [
          ["deepest shadow", dark],
          ["full highlight", light],
        ],
        low: 0,
        high: 100,
        painted: () => gradient(Array.from({ length: 11 }, (_, n) => `lab(${n * 10} 0 0)`)),
        preview: (greys) => show(set(at("preshade", "greys"), greys)),
        commit: (greys) => make(set(at("preshade", "greys"), greys), "preshade: greys"),
      });
    }

    // -------------------------------------------------------------- two handles on the grey axis

    function greys_axis({ key, legend, ends, low, high, painted, preview, commit, land }) {
      const greys = element("div", { class: "strip", "aria-hidden": "true" });
      live.push(() => (greys.style.backgroundImage = painted()));
      const fault = element("p", { class: "fault", role: "alert" });
      const handles = ends.map(([words, value], n) =>
        element("input", {
          type: "range",
          min: low,
          max: high,
          step: 1,
          value,
          "aria-label": words,
          class: n ? "upper" : "lower",
          dataset: { key: `${key}-${n}` },
        }),
      );
      const bar = element("div", { class: "lands", "aria-hidden": "true" });
      const said = element("span", { class: "hint" });
      const values = () => handles.map((one) => Number(one.value));
      const whole = element(
        "fieldset",
        { class: "axis field" },
        element("legend", {}, legend),
        element(
          "div",
          { class: "greys" },
          greys,
          bar,
          handles,
        ),
        said,
        fault,
      );
      const tell = () => {
        const [one, other] = values();
        handles.forEach((handle, n) => handle.setAttribute("aria-valuetext", `L* ${values()[n]}`));
        said.textContent = `L* ${one} to ${other}`;
        bar.style.backgroundImage = land ? land(one, other) : "none";
      };
      handles.forEach((handle, n) => {
        handle.addEventListener("input", () => {
          const [one, other] = values();
          // One handle does not pass the other.
          if (one > other) handle.value = n ? one : other;
          tell();
          preview(values());
        });
        handle.defaultValue = handle.value;
        let_go(handle, () => attempt(whole, () => commit(values())));
      });
      tell();
      return whole;
    }

    // -------------------------------------------------------------- a coat

    function coat_card(area, coat, n) {
      const key = `coat-${n}`;
      const lying = area.coats.filter((one) => !one.off);
      const stage_of = (colours) =>
        coat.off || !colours ? null : colours.stages[colours.stages.length - lying.length + lying.indexOf(coat)];
      const head = [
        element("span", { class: "number", "aria-hidden": "true" }, String(n + 1)),
        element("span", { class: "title" }, element("strong", {}, coat.name), element("small", {}, coat_words(coat))),
        element("span", { class: "paints" }, coat.parts.map((part) => swatches(part, { small: true }))),
        mini(stage_of),
      ];
      return folding(key, head, () => coat_body(area, coat, n), coat.off ? "off" : "");
    }

    function coat_words(coat) {
      const count = `${trimmed(coat.coats)} coat${coat.coats === 1 ? "" : "s"}`;
      const said = [coat.off ? "switched off" : count, coat.place_words];
      if (coat.filter) said.push("filter");
      if (coat.patch) said.push(`only on ${coat.patch}`);
      return said.filter(Boolean).join(", ");
    }

    function coat_body(area, coat, n) {
      const here = (...rest) => at("coat", n, ...rest);
      const put = (key, words) => (value) => make(set(here(key), value), `${coat.name}: ${words}`);
      const try_out = (key) => (value) => show(set(here(key), value));
      const sheen = store.terms.sheens.find(([, share]) => share === coat.sheen)?.[0] ?? coat.sheen;
      return [
        paints(coat, n),
        slider({
          key: `c${n}-coats`, label: "Coats", value: coat.coats, min: 0.5, max: 8, step: 0.5,
          preview: try_out("coats"), commit: put("coats", "coats"),
        }),
        slider({
          key: `c${n}-thinning`, label: "Thinner", value: coat.thinning ?? 0, min: 0, max: 8, step: 0.25, unit: "drops to 1 of paint",
          hint: coat.dry_film_um && !coat.by_wet_film ? "The film of a coat is set below, so the colour stays; the quantities change." : null,
          preview: try_out("thinning"), commit: put("thinning", "thinning"),
        }),
        slider({
          key: `c${n}-film`, label: "Dry film of one coat", value: coat.dry_film_um, usual: coat.film_usual_um, min: 0.1,
          max: 10, step: 0.1, unit: "µm", none: `the paint’s own`,
          preview: try_out("dry_film_um"), commit: put("dry_film_um", "film"),
        }),
        where(area, coat, n),
        select({
          key: `c${n}-sheen`, label: "Sheen when dry", value: String(sheen ?? ""),
          options: [
            ["", "the paint’s own"],
            ...store.terms.sheens.map(([words]) => [words, words]),
            ...(typeof sheen === "number" ? [[String(sheen), `${trimmed(sheen)} (0 gloss, 1 matt)`]] : []),
          ],
          commit: (value) => put("sheen", "sheen")(value === "" ? null : value === String(sheen) ? sheen : value),
        }),
        element(
          "div",
          { class: "row" },
          tick("the filter: shown before and after", Boolean(coat.filter), (on) =>
            attempt(null, () => make(set(here("filter"), on || null), `${coat.name}: filter`)), { key: `c${n}-filter` }),
        ),
        coat.patch ? patch(coat, n) : null,
        element(
          "div",
          { class: "row tail" },
          button(coat.off ? "Switch on" : "Switch off", () =>
            attempt(null, () => make(set(here("off"), coat.off ? null : true), `${coat.name}: ${coat.off ? "on" : "off"}`)), { key: `c${n}-off` }),
          button("Up", () => move(area, coat, n, n - 1), { label: `Spray ${coat.name} earlier`, key: `c${n}-up`, disabled: n === 0 }),
          button("Down", () => move(area, coat, n, n + 1), {
            label: `Spray ${coat.name} later`, key: `c${n}-down`, disabled: n === area.coats.length - 1,
          }),
          button("Copy", async () => {
            if (await attempt(null, () => make({ do: "copy_coat", area: i(), coat: n }, `copy ${coat.name}`))) reopen(n + 1);
          }, { label: `Copy ${coat.name}`, key: `c${n}-copy` }),
          button("Rename", async () => {
            const name = await ask_name("Rename the coat", "Its name", coat.name, { strong: "Rename it" });
            if (name) await attempt(null, () => make(set(here("name"), name), `rename ${coat.name}`));
          }, { label: `Rename ${coat.name}`, key: `c${n}-rename` }),
          button("Take away", () => attempt(null, () => make({ do: "remove_coat", area: i(), coat: n }, `take away ${coat.name}`)), {
            label: `Take ${coat.name} away`, key: `c${n}-remove`,
          }),
        ),
      ];
    }

    function reopen(n) {
      for (const key of [...open]) if (key.startsWith("coat-")) open.delete(key);
      open.add(`coat-${n}`);
      draw();
    }

    async function move(area, coat, n, to) {
      const key = n < to ? "down" : "up";
      if (!(await attempt(null, () => make({ do: "move_coat", area: i(), coat: n, to }, `move ${coat.name}`)))) return;
      reopen(to);
      const again = coats.querySelector(`[data-key="c${to}-${key}"]`);
      (again?.disabled ? coats.querySelector(`[data-key="fold-coat-${to}"]`) : again)?.focus();
    }

    // -------------------------------------------------------------- its paints

    function paints(coat, n) {
      const where_mix = at("coat", n, "mix");
      const mix_of = (parts) => Object.fromEntries(parts.map((part) => [part.paint, part.drops ?? 1]));
      const put_mix = (parts, what) =>
        make(
          coat.mixed
            ? set(where_mix, mix_of(parts))
            : [set(at("coat", n, "paint"), null), set(where_mix, mix_of(parts))],
          `${coat.name}: ${what}`,
        );
      const change = async (part) => {
        const name = await pick_paint(`In place of ${part.paint}`, { now: part.paint });
        if (!name || name === part.paint) return;
        const parts = coat.parts.map((one) => (one === part ? { ...one, paint: name } : one));
        await attempt(whole, () =>
          coat.mixed ? put_mix(parts, `${name} for ${part.paint}`) : make(set(at("coat", n, "paint"), name), `${coat.name}: ${name} for ${part.paint}`),
        );
      };
      const lines = coat.parts.map((part, p) =>
        element(
          "li",
          { class: "paint" },
          button([swatches(part), element("span", {}, part.paint)], () => change(part), {
            class: "swatch-button", key: `c${n}-paint-${p}`, title: "Choose another paint", "aria-label": `${part.paint}: choose another`,
          }),
          coat.mixed
            ? stepper({
                key: `c${n}-drops-${p}`, label: `Drops of ${part.paint}`, value: part.drops, step: 1, min: 1, unit: "drops",
                preview: (value) => show(set([...where_mix, part.paint], value)),
                commit: (value) => make(set([...where_mix, part.paint], value), `${coat.name}: drops of ${part.paint}`),
              })
            : null,
          coat.parts.length > 1
            ? button("×", () => attempt(whole, () => put_mix(coat.parts.filter((one) => one !== part), `without ${part.paint}`)), {
                label: `Take ${part.paint} out of the mix`, class: "plain", key: `c${n}-out-${p}`,
              })
            : null,
        ),
      );
      const add = button("+ paint", async () => {
        const name = await pick_paint(`Add to ${coat.name}`);
        if (!name) return;
        const parts = [...coat.parts.map((one) => ({ ...one, drops: coat.mixed ? one.drops : 4 })), { paint: name, drops: 1 }];
        await attempt(whole, () => put_mix(parts, `add ${name}`));
      }, { label: `Add a paint to ${coat.name}`, class: "plain", key: `c${n}-add` });
      const whole = element(
        "div",
        { class: "field mix" },
        element("ul", { "aria-label": `Paints of ${coat.name}` }, lines),
        add,
        element("p", { class: "fault", role: "alert" }),
      );
      return whole;
    }

    // -------------------------------------------------------------- where it lands

    function axis() {
      const colours = store.colours?.areas.find((one) => one.index === i());
      const shade = colours?.shade ?? [0, 100];
      const low = Math.floor(shade[0]);
      const high = Math.max(Math.ceil(shade[shade.length - 1]), low + 1);
      return { low, high };
    }

    /** The bare preshade, each of its greys at its own lightness. */
    function painted_axis() {
      const { low, high } = axis();
      const colours = store.colours?.areas.find((one) => one.index === i());
      const places = colours?.shade.map((L) => (100 * (L - low)) / (high - low));
      return gradient(bare(store.state.areas[i()], colours)?.css, places);
    }

    function where(area, coat, n) {
      const put = (value) => make(set(at("coat", n, "where"), value), `${coat.name}: where it lands`);
      const { low, high } = axis();
      const now = coat.where ?? {};
      const edge = now.edge ?? store.terms.edge;
      const from = now.from ?? low;
      const up_to = now.up_to ?? high;
      const table = ([one, other], soft = edge) => {
        if (one <= low && other >= high) return null;
        return { ...(one > low ? { from: one } : {}), ...(other < high ? { up_to: other } : {}), edge: soft };
      };
      const land = (one, other) => {
        const at_L = (L) => `${Math.min(Math.max((100 * (L - low)) / (high - low), -50), 150).toFixed(1)}%`;
        const soft = Number(edge) / 2;
        const begins = one <= low ? "currentColor 0%" : `transparent ${at_L(one - soft)}, currentColor ${at_L(one + soft)}`;
        const ends = other >= high ? "currentColor 100%" : `currentColor ${at_L(other - soft)}, transparent ${at_L(other + soft)}`;
        return `linear-gradient(to right, ${begins}, ${ends})`;
      };
      return [
        choice({
          key: `c${n}-place`, label: "Where it lands", value: coat.place,
          options: store.terms.places, commit: (name) => put(area.places[name]),
        }),
        greys_axis({
          key: `c${n}-where`,
          legend: "On the greys of the preshade",
          ends: [
            ["From lightness", Math.min(Math.max(from, low), high)],
            ["Up to lightness", Math.min(Math.max(up_to, low), high)],
          ],
          low, high, painted: painted_axis, land,
          preview: (values) => show(set(at("coat", n, "where"), table(values))),
          commit: (values) => put(table(values)),
        }),
        coat.where
          ? slider({
              key: `c${n}-edge`, label: "Softness of its edge", value: edge, min: 0, max: 60, step: 1, unit: "L*",
              preview: (value) => show(set(at("coat", n, "where", "edge"), value)),
              commit: (value) => put({ ...Object.fromEntries(Object.entries(now).filter(([, one]) => one !== null)), edge: value }),
            })
          : null,
      ];
    }

    function patch(coat, n) {
      return slider({
        key: `c${n}-coverage`, label: `Share of the area under “${coat.patch}”`, value: Math.round((coat.coverage ?? 1) * 1000) / 10,
        min: 0.5, max: 60, step: 0.5, unit: "%",
        preview: (value) => show(set(at("coat", n, "coverage"), rounded(value / 100))),
        commit: (value) => make(set(at("coat", n, "coverage"), rounded(value / 100)), `${coat.name}: coverage`),
      });
    }

    async function add_coat(area) {
      const name = await pick_paint("Which paint is the new coat?");
      if (!name) return;
      const taken = new Set(area.coats.map((coat) => coat.name));
      let called = name;
      for (let n = 2; taken.has(called); n += 1) called = `${name} ${n}`;
      const value = { name: called, paint: name, thinning: 1, coats: 1 };
      // Varnish stays last.
      const after = area.coats.findLastIndex((coat) => coat.parts.some((part) => part.kind !== "varnish"));
      if (await attempt(null, () => make({ do: "add_coat", area: i(), after, value }, `add ${called}`))) {
        reopen(after + 1);
        coats.querySelector(`[data-key="fold-coat-${after + 1}"]`)?.focus();
      }
    }

    function tell_notices() {
      const here = store.colours?.areas.find((one) => one.index === i())?.notices ?? [];
      const words = [...new Set([...store.state.notices, ...here])];
      if (notes.textContent !== words.join("")) notes.replaceChildren(...words.map((one) => element("p", { class: "note" }, one)));
    }

    // -------------------------------------------------------------- all of it

    function draw() {
      if (!store.state) return;
      live.length = 0;
      const area = store.state.areas[i()];
      if (!area) return;
      if (last_area !== i()) {
        last_area = i();
        open.clear();
        open.add("coat-0");
      }
      const told = [...(store.state.text_only ?? [])];
      refill(
        coats,
        areas(),
        element(
          "ol",
          { class: "cards" },
          preshade(area),
          area.coats.map((coat, n) => coat_card(area, coat, n)),
        ),
        element("div", { class: "row" }, button("+ coat", () => add_coat(area), { label: "Add a coat", key: "add-coat" })),
        area_tools(area),
        notes,
        told.length
          ? element("details", { class: "note" }, element("summary", {}, "Left as it is in the file"), told.map((words) => element("p", {}, words)))
          : null,
      );
      for (const paint of live) paint();
      tell_notices();
    }

    let axis_drawn = "";
    const off = store.subscribe((what) => {
      drawn.update(what);
      if (what === "state" || what === "area") draw();
      if (what === "colours") {
        for (const paint of live) paint();
        tell_notices();
        // The greys of the preshade are known only now, or are others.
        const { low, high } = axis();
        const now = `${i()} ${low} ${high}`;
        if (now !== axis_drawn && !store.tries) {
          axis_drawn = now;
          draw();
        }
      }
    });
    draw();
    return () => {
      off();
      clear.disconnect();
      document.documentElement.style.scrollPaddingTop = "";
      drawn.stop();
    };
  },
};
