// Targets: drop the artwork, point at shadow, mid-tone and light tone, and write them into the scheme.

import { attempt, button, element, field, fresh_id, refill, say, select } from "./parts.js";
import { drop } from "./drop.js";

const PLACES = [
  ["shadow", "shadow"],
  ["mid", "mid-tone"],
  ["light", "light tone"],
];
const LOUPE_PX = 132;
const ZOOM = 6;

// What was pointed at stays while other panels are looked at.
const kept = { picture: null, url: null, spots: {}, place: "shadow", at: [50, 50], size: null };

export default {
  name: "Targets",
  mount(root, { store, ask }) {
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
        "Point at the shadow, the mid-tone and the light tone of one painted thing. The light of a small spot is averaged. With the keyboard: arrows move the cross, Shift with an arrow moves it further, Enter sets it.",
      ),
      place_drop,
      fault,
      bench,
    );
    bench.append(stage, side);

    // ------------------------------------------------------------ the picture

    const image = element("img", { alt: "The artwork", draggable: "false" });
    const cross = element("div", { class: "cross", "aria-hidden": "true" });
    const loupe = element("canvas", { class: "loupe", width: LOUPE_PX, height: LOUPE_PX, "aria-hidden": "true" });
    const marks = element("div", { class: "marks" });
    const surface = element(
      "div",
      {
        class: "surface",
        tabindex: "0",
        role: "application",
        "aria-label": "The artwork. Arrows move the cross, Enter sets the target.",
        "aria-describedby": (said.id = fresh_id("about")),
        onpointermove: (event) => move(point(event)),
        onpointerdown: (event) => move(point(event)),
        onclick: (event) => set(point(event)),
        onkeydown: keys,
      },
      image,
      marks,
      cross,
      loupe,
    );
    const choosing = element("div", {});
    const size = element("input", {
      type: "range",
      min: 0.5,
      max: 15,
      step: 0.5,
      oninput: () => {
        kept.size = Number(size.value);
        size.setAttribute("aria-valuetext", `${kept.size} per cent of the longer side`);
        move(kept.at);
      },
    });
    stage.append(choosing, surface, field("Width of the spot", size));

    function point(event) {
      const box = image.getBoundingClientRect();
      const share = (at, from, length) => Math.min(100, Math.max(0, (100 * (at - from)) / Math.max(length, 1)));
      return [share(event.clientX, box.left, box.width), share(event.clientY, box.top, box.height)];
    }

    function move(at) {
      kept.at = at;
      const box = image.getBoundingClientRect();
      const wide = Math.max((kept.size / 100) * Math.max(box.width, box.height), 5);
      for (const [name, value] of Object.entries({
        left: `${at[0]}%`,
        top: `${at[1]}%`,
        width: `${wide}px`,
        height: `${wide}px`,
      })) {
        cross.style.setProperty(name, value);
      }
      loupe.classList.toggle("left", at[0] > 50);
      loupe.classList.toggle("low", at[1] < 50);
      magnify(at);
    }

    function magnify([x, y]) {
      if (!image.naturalWidth) return;
      const draw = loupe.getContext("2d");
      const shown = LOUPE_PX / ZOOM;
      draw.imageSmoothingEnabled = false;
      draw.fillStyle = "#808080";
      draw.fillRect(0, 0, LOUPE_PX, LOUPE_PX);
      const left = (x / 100) * image.naturalWidth - shown / 2;
      const top = (y / 100) * image.naturalHeight - shown / 2;
      draw.drawImage(image, left, top, shown, shown, 0, 0, LOUPE_PX, LOUPE_PX);
      const wide = (kept.size / 100) * Math.max(image.naturalWidth, image.naturalHeight) * ZOOM;
      for (const [ink, line] of [
        ["#000", 3],
        ["#fff", 1],
      ]) {
        draw.strokeStyle = ink;
        draw.lineWidth = line;
        draw.beginPath();
        draw.arc(LOUPE_PX / 2, LOUPE_PX / 2, Math.max(wide / 2, 2), 0, 2 * Math.PI);
        draw.stroke();
      }
    }

    function keys(event) {
      const step = event.shiftKey ? 5 : 0.5;
      const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
      if (by) {
        event.preventDefault();
        move(kept.at.map((value, i) => Math.min(100, Math.max(0, value + by[i]))));
      } else if (event.key === "Enter") {
        event.preventDefault();
        set(kept.at);
      }
    }

    async function set([x, y]) {
      const place = kept.place;
      fault.textContent = "";
      try {
        const spot = await ask("/api/spot", { id: kept.picture.id, x, y, size: kept.size, place });
        kept.spots[place] = spot;
      } catch (refused) {
        fault.textContent = refused.message;
        return;
      }
      say(`${name_of(place)}: ${kept.spots[place].hex}, ${kept.spots[place].lab_words}`);
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
        Object.assign(kept, { picture: got, url: URL.createObjectURL(shown), place: "shadow", at: [50, 50], size: got.size });
        kept.spots = {};
        await load();
        surface.focus();
      } catch (refused) {
        fault.textContent = refused.message;
      }
    }

    async function load() {
      image.src = kept.url;
      image.alt = `The artwork ${kept.picture.name}`;
      await image.decode();
      // As wide as there is room, but never taller than the window.
      surface.style.setProperty("max-width", `calc(70vh * ${image.naturalWidth / image.naturalHeight})`);
      stage.hidden = false;
      size.value = kept.size;
      draw();
      move(kept.at);
    }

    // ------------------------------------------------------------ what was chosen

    const name_of = (place) => PLACES.find(([one]) => one === place)[1];

    function draw() {
      const group = fresh_id("place");
      refill(
        choosing,
        element(
          "fieldset",
          { class: "choice" },
          element("legend", {}, "Point at"),
          element(
            "div",
            { class: "options" },
            PLACES.map(([place, words]) => {
              const box = element("input", {
                type: "radio",
                name: group,
                dataset: { key: `place-${place}` },
                onchange: () => (kept.place = place),
              });
              box.checked = place === kept.place;
              return element("label", {}, box, element("span", {}, words));
            }),
          ),
        ),
      );
      refill(
        marks,
        Object.values(kept.spots).map((spot) =>
          element("span", { class: "mark", style: { left: `${spot.x}%`, top: `${spot.y}%` } }, name_of(spot.place)),
        ),
      );
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
          tone(now?.css, now ? `in the scheme: ${now.text}` : "in the scheme: none"),
          tone(spot?.css, spot ? `from the picture: ${spot.hex}` : "from the picture: not set yet"),
        ),
        spot
          ? element("p", { class: "hint" }, `${spot.lab_words}. Its pixels lie ΔE00 ${spot.spread} from their mean.`)
          : null,
        (spot?.words ?? []).map((one) => element("p", { class: "warning" }, sentence(one))),
      );
    }

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
      draw();
    }

    function write() {
      const value = Object.fromEntries(Object.entries(kept.spots).map(([place, spot]) => [place, spot.value]));
      const area = store.state.areas[store.area];
      return attempt(null, async () => {
        await store.edit([{ do: "set_targets", area: area.index, value }], `targets of ${area.name} from ${kept.picture.name}`);
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
