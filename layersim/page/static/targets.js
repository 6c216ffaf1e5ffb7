// Targets: drop the artwork, point at shadow, mid-tone and light tone, and write them into the scheme.

import { attempt, button, choice, element, field, fresh_id, refill, say, select } from "./parts.js";
import { drop } from "./drop.js";
import { pointing } from "./pointing.js";

// What was pointed at stays while other panels are looked at.
export const kept = { picture: null, url: null, spots: {}, area: null, written: {}, place: "shadow", size: null };

export default {
  name: "Targets",
  mount(root, { store, ask }) {
    const PLACES = Object.entries(store.terms.tones);
    const bench = element("div", { class: "pointing" });
    const side = element("div", { class: "chosen" });
    const stage = element("div", { class: "artwork", hidden: true });
    const said = element("ul", { class: "said" });
    const place_drop = drop({
      label: "Drop the artwork here, or choose a picture",
      hint: "PNG, JPEG, WebP, TIFF, GIF or BMP. It stays on this machine, and only its colours are kept until layersim stops.",
      accept: "image/*",
      taken: upload,
      key: "artwork",
    });
    const fault = element("p", { class: "fault", role: "alert" });
    const areas = element("div", {});
    root.append(
      element("h2", {}, "Targets"),
      element(
        "p",
        { class: "hint" },
        "Point at the shadow, the mid-tone and the light tone of one painted thing. The light of a small spot is averaged.",
      ),
      place_drop,
      fault,
      bench,
    );
    bench.append(stage, side);

    // ------------------------------------------------------------ the picture

    const point = pointing({ name: "The artwork", set, size: () => kept.size, about: (said.id = fresh_id("about")) });
    const choosing = element("div", {});
    const size = element("input", {
      type: "range",
      min: 0.5,
      max: 15,
      step: 0.5,
      oninput: () => {
        kept.size = Number(size.value);
        size.setAttribute("aria-valuetext", `${kept.size} per cent of the longer side`);
        point.move();
      },
    });
    stage.append(choosing, ...point.whole, field("Width of the spot", size));

    async function set([x, y]) {
      const place = kept.place;
      fault.textContent = "";
      try {
        const spot = await ask("/api/spot", { id: kept.picture.id, x, y, size: kept.size, place });
        kept.spots[place] = spot;
        kept.area = store.state.areas[store.area].name;
      } catch (refused) {
        fault.textContent = refused.message;
        return;
      }
      say(`${name_of(place)} is set: ${kept.spots[place].lab_words}`);
      // On to the next that is still open.
      const open = PLACES.map(([one]) => one).find((one) => !kept.spots[one] || kept.spots[one].is_proposed);
      if (open) kept.place = open;
      draw();
    }

    async function upload(file) {
      fault.textContent = "";
      try {
        const got = await ask(`/api/upload/artwork?name=${encodeURIComponent(file.name)}`, file);
        const shown = await ask(`/api/picture/${got.id}`);
        if (kept.url) URL.revokeObjectURL(kept.url);
        Object.assign(kept, { picture: got, url: URL.createObjectURL(shown), place: "shadow", size: got.size });
        Object.assign(kept, { spots: {}, area: null });
        await load();
        point.surface.focus();
      } catch (refused) {
        fault.textContent = refused.message;
      }
    }

    async function load() {
      await point.show(kept.url, `The artwork ${kept.picture.name}`);
      stage.hidden = false;
      size.value = kept.size;
      draw();
    }

    // ------------------------------------------------------------ what was chosen

    const name_of = (place) => PLACES.find(([one]) => one === place)[1];

    function draw() {
      refill(
        choosing,
        choice({ key: "place", label: "Point at", value: kept.place, options: PLACES, commit: (place) => (kept.place = place) }),
      );
      point.mark(Object.values(kept.spots).map((spot) => ({ at: [spot.x, spot.y], words: name_of(spot.place) })));
      draw_side();
    }

    function draw_side() {
      if (!kept.picture || !store.state) return;
      const spots = PLACES.map(([place]) => kept.spots[place]).filter(Boolean);
      refill(
        areas,
        select({
          key: "area",
          label: "For the area",
          value: String(store.area),
          options: store.state.areas.map((area) => [String(area.index), area.name]),
          commit: async (value) => store.choose(Number(value)),
        }),
      );
      refill(said, kept.picture.words.map((words) => element("li", {}, sentence(words))));
      refill(
        side,
        areas,
        stale().map((words) => element("p", { class: "warning" }, words)),
        element(
          "ul",
          { class: "spots" },
          PLACES.map(([place, words]) => row(place, words)),
        ),
        element(
          "div",
          { class: "row" },
          button("Write them into the scheme", write, { class: "strong", disabled: !spots.length, key: "write" }),
          button("Take what the picture proposes", propose, { key: "propose" }),
        ),
        said,
      );
    }

    // What was pointed at for another area, or what the scheme has from another picture, is not what it seems.
    function stale() {
      const { name } = store.state.areas[store.area];
      const from = kept.written[name];
      return [
        kept.area && kept.area !== name ? `These spots were pointed at for ${kept.area}. Written now, ${name} gets them.` : null,
        from && from.id !== kept.picture.id ? `The targets of ${name} in the scheme are from ${from.name}, not from this picture.` : null,
      ].filter(Boolean);
    }

    function row(place, words) {
      const spot = kept.spots[place];
      const now = store.state.areas[store.area]?.targets?.[place];
      return element(
        "li",
        { class: "card" },
        element("h3", {}, words),
        element(
          "div",
          { class: "pair" },
          tone(now?.css, now ? "in the scheme" : "in the scheme: none"),
          tone(spot?.css, spot ? (is_written(spot, now) ? "from the picture" : "from the picture, not written yet") : "from the picture: not set yet"),
        ),
        spot || now
          ? element(
              "details",
              {},
              element("summary", {}, "Numbers"),
              now ? element("p", { class: "hint" }, `In the scheme: ${now.text}.`) : null,
              spot
                ? element("p", { class: "hint" }, `From the picture: ${spot.hex}, ${spot.lab_words}. Its pixels lie ΔE00 ${spot.spread} from their mean.`)
                : null,
            )
          : null,
        (spot?.words ?? []).map((one) => element("p", { class: "warning" }, sentence(one))),
      );
    }

    const is_written = (spot, now) => (spot.value.colour ?? spot.value) === now?.text;

    function tone(css, words) {
      return element(
        "figure",
        {},
        element("div", { class: "tone", style: { background: css ?? "transparent" } }),
        element("figcaption", {}, words),
      );
    }

    function propose() {
      for (const [place, spot] of Object.entries(kept.picture.proposed)) {
        kept.spots[place] = { ...spot, is_proposed: true };
      }
      kept.area = store.state.areas[store.area].name;
      draw();
    }

    function write() {
      const value = Object.fromEntries(Object.entries(kept.spots).map(([place, spot]) => [place, spot.value]));
      const area = store.state.areas[store.area];
      return attempt(null, async () => {
        await store.edit([{ do: "set_targets", area: area.index, value }], `targets of ${area.name} from ${kept.picture.name}`);
        kept.written[area.name] = { id: kept.picture.id, name: kept.picture.name };
        kept.area = area.name;
        draw_side();
        say(`Written into ${area.name}. Undo takes them back.`);
      });
    }

    const stop = store.subscribe((what) => {
      if (what === "state" || what === "area") draw_side();
    });
    if (kept.picture) load();
    return stop;
  },
};

/** Return words of the program as a sentence. */
function sentence(words) {
  return `${words.charAt(0).toUpperCase()}${words.slice(1)}${/[.?!]$/.test(words) ? "" : "."}`;
}
