// Greys: the greys of one's own preshade are read off a photograph, and written into the scheme.

import { attempt, button, element, gradient, refill, say, select } from "./parts.js";
import { asked_of, photograph } from "./photograph.js";

const PLACES = [
  ["shadow", "deepest shadow"],
  ["light", "full highlight"],
];

// What was read stays while other panels are looked at.
const kept = { spots: {} };

export default {
  name: "Greys",
  mount(root, { store, ask }) {
    const area = element("div", {});
    const fault = element("p", { class: "fault", role: "alert" });
    const found = element("div", { "aria-live": "polite" });
    root.append(
      element("h2", {}, "Greys of your preshade"),
      element(
        "p",
        { class: "hint" },
        "Photograph the bare preshaded model close beside a 24-patch chart or a grey card, in one even light. Point at its deepest shadow and at its full highlight.",
      ),
      area,
      photograph({ ask, places: PLACES, spots: kept.spots, changed: read }),
      fault,
      found,
    );
    let latest = 0;

    async function read() {
      fault.textContent = "";
      refill(found);
      const { shadow, light } = kept.spots;
      if (!shadow || !light) return;
      const mine = (latest += 1);
      try {
        const asked = { shadow: asked_of(shadow), light: asked_of(light), area: store.area };
        const got = await ask("/api/greys", asked);
        if (mine === latest) draw(got);
      } catch (refused) {
        if (mine === latest) fault.textContent = refused.message;
      }
    }

    function draw(got) {
      refill(
        found,
        element(
          "figure",
          { class: "mat" },
          element("div", { class: "strip", role: "img", "aria-label": got.title, style: { "background-image": gradient([got.shadow.css, got.light.css]) } }),
        ),
        got.warnings.map((one) => element("p", { class: "warning" }, one)),
        element("p", { class: "strong" }, `${got.title}.`),
        button("Write them into the scheme", () => write(got), { class: "strong", key: "write" }),
      );
    }

    function write({ edits, what }) {
      return attempt(null, async () => {
        await store.edit(edits, what);
        say("Written. Undo takes them back.");
      });
    }

    function draw_area() {
      refill(
        area,
        select({
          key: "area",
          label: "For the area",
          value: String(store.area),
          options: store.state.areas.map((one) => [String(one.index), one.name]),
          commit: async (value) => store.choose(Number(value)),
        }),
      );
    }

    const stop = store.subscribe((what) => {
      if (what === "state" || what === "area") {
        draw_area();
        read();
      }
    });
    draw_area();
    read();
    return stop;
  },
};
