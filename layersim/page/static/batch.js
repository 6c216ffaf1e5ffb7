// The batch: how much of everything, in which order, the card for the bench with its ticks, and the log.

import { attempt, button, choice, element, field, html, progress, refill, say, select } from "./parts.js";
import { all_read, colours, colours_of } from "./photograph.js";

const WHAT = [
  ["card", "Bench card"],
  ["quantities", "Quantities"],
  ["order", "Order of work"],
  ["sprayed", "Sprayed it"],
];

const kept = { what: "card", models: null, found: {}, of: {}, work: {}, said: [], chips: { typed: {}, spots: {} } };

export default {
  name: "Batch",
  mount(root, { store, ask }) {
    const form = element("div", { class: "batch-form" });
    const running = element("div", { class: "running" });
    const fault = element("p", { class: "fault", role: "alert" });
    const answer = element("div", { class: "answer" });
    const logged = element("div", { class: "logged" });
    root.append(element("h2", {}, "Batch"), form, fault, running, answer, logged);
    const stamp = () => `${store.state.revision} ${kept.models ?? ""}`;
    const fresh = (what) => kept.found[what] && kept.of[what] === stamp();
    let steps = null;

    // ------------------------------------------------------------ what is worked out

    async function begin(what) {
      fault.textContent = "";
      const of = stamp();
      try {
        const models = ["log", "learn"].includes(what) ? null : kept.models;
        kept.work[what] = { id: (await ask("/api/batch", { what, models })).work, of };
      } catch (refused) {
        fault.textContent = refused.message;
        return;
      }
      follow();
    }

    function follow() {
      const of_this = kept.what === "sprayed" ? ["log", "learn"] : [kept.what];
      refill(running, of_this.filter((what) => kept.work[what]).map(followed));
    }

    function followed(what) {
      const { id, of } = kept.work[what];
      return progress(
        id,
        (event) => {
          // Another mount of this panel may have heard it, too: the first keeps it, each shows it.
          if (kept.work[what]?.id === id) {
            delete kept.work[what];
            if (event.result) {
              kept.found[what] = event.result;
              kept.of[what] = of;
            }
          }
          if (event.error && root.isConnected) fault.textContent = event.error;
          if (root.isConnected) draw_answer();
        },
        { words: "Working it out" },
      );
    }

    // ------------------------------------------------------------ what is shown

    function draw() {
      draw_form();
      draw_answer();
      follow();
    }

    function draw_form() {
      const models = element("input", {
        type: "number",
        min: 1,
        step: 1,
        value: kept.models ?? "",
        placeholder: "as the scheme says",
        dataset: { key: "models" },
        onchange: () => {
          kept.models = models.value === "" ? null : Number(models.value);
          draw_answer();
        },
      });
      refill(
        form,
        choice({ key: "what", label: "What", value: kept.what, options: WHAT, commit: show, hidden_label: true }),
        kept.what === "sprayed"
          ? null
          : element(
              "div",
              { class: "row" },
              field("Models", models),
              button("Work it out", () => begin(kept.what), { class: "strong", key: "start" }),
            ),
      );
    }

    function show(what) {
      kept.what = what;
      fault.textContent = "";
      draw();
      if (what === "sprayed") load_steps();
    }

    function draw_answer() {
      refill(logged, kept.what === "sprayed" ? log_form() : null);
      if (kept.what === "sprayed") {
        // Below the buttons that ask for it.
        logged.append(...["log", "learn"].filter((what) => kept.found[what]).map((what) => html(kept.found[what].html)));
        refill(answer);
        return;
      }
      const found = kept.found[kept.what];
      if (!found) return refill(answer);
      const content = html(found.html);
      refill(
        answer,
        element("h3", { class: "title" }, found.title),
        fresh(kept.what) ? null : element("p", { class: "note" }, "The scheme or the number of models has changed since: work it out again."),
        kept.what === "card" ? card_tools() : null,
        content,
      );
      if (kept.what === "card") with_ticks(content);
    }

    // ------------------------------------------------------------ the card and its ticks

    function card_tools() {
      return element(
        "div",
        { class: "row card-tools" },
        button("Print the card", () => window.print(), { key: "print" }),
        button("Download PDF", () => download("pdf", "card.pdf"), { key: "pdf" }),
        button("Download for a phone", () => download("page", "card.html"), { key: "phone" }),
        button("Clear all ticks", clear, { key: "clear" }),
        element("output", { class: "done" }),
      );
    }

    async function download(name, ending) {
      await attempt(null, async () => {
        const address = URL.createObjectURL(await ask(`/api/card/${name}`));
        const stem = (store.state.file ?? store.state.name).replace(/\.toml$/, "").replace(/[^\p{L}\p{N}]+/gu, "-");
        const link = element("a", { href: address, download: `${stem}-${ending}` });
        link.click();
        setTimeout(() => URL.revokeObjectURL(address), 10000);
      });
    }

    function boxes(content) {
      return [...content.querySelectorAll("input[type=checkbox]")].map((box) => {
        const area = box.closest("[data-area]")?.dataset.area ?? "";
        return [box, `${area}, ${box.getAttribute("aria-label")}`];
      });
    }

    async function with_ticks(content) {
      for (const [box, name] of boxes(content)) {
        box.dataset.key = `tick ${name}`;
        box.addEventListener("change", async () => {
          const on = box.checked;
          const done = await attempt(null, async () => marked(content, await ask("/api/ticks", { boxes: [name], on })));
          if (!done) box.checked = !on;
        });
      }
      await attempt(null, async () => marked(content, await ask("/api/ticks")));
    }

    function marked(content, { ticked }) {
      const all = boxes(content);
      for (const [box, name] of all) box.checked = ticked.includes(name);
      const done = all.filter(([box]) => box.checked).length;
      const said = root.querySelector("output.done");
      if (said) said.textContent = `${done} of ${all.length} done`;
    }

    async function clear() {
      if (!window.confirm("Clear all ticks of this scheme?")) return;
      const content = answer.querySelector(".server");
      await attempt(null, async () => marked(content, await ask("/api/ticks", { clear: true })));
    }

    // ------------------------------------------------------------ what was really sprayed

    async function load_steps() {
      try {
        steps = await ask("/api/log");
      } catch (refused) {
        fault.textContent = refused.message;
        return;
      }
      draw_answer();
    }

    function log_form() {
      if (!steps) return null;
      if (!steps.file) return element("p", { class: "note" }, steps.why);
      const area = steps.areas[Math.min(store.area, steps.areas.length - 1)];
      const names = area.steps.map((step) => step.name);
      if (!names.includes(kept.step)) kept.step = area.steps.find((step) => step.coats)?.name ?? names[0];
      const step = area.steps.find((one) => one.name === kept.step);
      const number = (key, label, props = {}) => field(label, element("input", { type: "number", min: 0, step: "any", dataset: { key }, name: key, ...props }));
      const drops = step.paints.length ? [...step.paints, "thinner"] : [];
      const entry = element(
        "form",
        { class: "entry card" },
        element(
          "div",
          { class: "row" },
          select({
            key: "log-area",
            label: "Area",
            value: String(store.area),
            options: steps.areas.map((one, i) => [String(i), one.name]),
            commit: (value) => store.choose(Number(value)),
          }),
          select({
            key: "log-step",
            label: "Coat",
            value: kept.step,
            options: names.map((name) => [name, name]),
            commit: (value) => {
              kept.step = value;
              draw_answer();
            },
          }),
          number("coats", "Coats laid this time", { step: 1, value: step.coats ?? "" }),
          number("pressure", "Pressure, bar"),
        ),
        drops.length
          ? element(
              "details",
              {},
              element("summary", {}, "Drops, if counted"),
              element("div", { class: "row" }, drops.map((name, i) => number(`drops-${i}`, name))),
            )
          : null,
        element(
          "details",
          { class: "further", open: Object.keys(colours_of(kept.chips)).length > 0 },
          element("summary", {}, "A dry chip"),
          colours({
            ask,
            kept: kept.chips,
            key: "chip",
            places: Object.entries(store.terms.tones).map(([place, words]) => [place, words[0].toUpperCase() + words.slice(1)]),
            legend: "Its colour: L,a,b in daylight (D65), or #rrggbb off a screen, which counts for little",
            placeholder: "31.5,2,-18",
            lamp: () => store.state.lamp,
          }),
        ),
        field("Note", element("input", { type: "text", name: "note", maxlength: 2000, autocomplete: "off", dataset: { key: "note" } })),
        element("p", { class: "fault", role: "alert" }),
        element("div", { class: "row" }, element("button", { type: "submit", class: "strong" }, "Sprayed it")),
      );
      entry.addEventListener("submit", (event) => {
        event.preventDefault();
        add(entry, area.name, step.name, drops);
      });
      return [
        entry,
        element("div", { class: "said", "aria-live": "polite" }, kept.said.map((line) => element("p", {}, line))),
        element(
          "div",
          { class: "row" },
          button("Show the log", () => begin("log"), { key: "show-log" }),
          button("What the log teaches", () => begin("learn"), { key: "learn" }),
          button("Take the last entry back", take_back, { key: "take-back" }),
        ),
        element("p", { class: "hint" }, `Kept in ${steps.file}, beside the scheme.`),
      ];
    }

    async function add(entry, area, step, drops) {
      await all_read();
      const value = (name) => entry.elements[name]?.value.trim() ?? "";
      const number = (name) => (value(name) === "" ? null : Number(value(name)));
      const laid = drops.map((name, i) => [name, number(`drops-${i}`)]).filter(([, count]) => count !== null);
      const asked = {
        area,
        step,
        coats: number("coats"),
        pressure_bar: number("pressure"),
        drops: Object.fromEntries(laid),
        chips: colours_of(kept.chips),
        note: value("note"),
      };
      await attempt(entry.querySelector(":scope > .fault").parentElement, async () => {
        const got = await ask("/api/log", asked);
        kept.said = got.words;
        kept.chips = { typed: {}, spots: {} };
        say(got.words[0]);
        draw_answer();
      });
    }

    async function take_back() {
      await attempt(null, async () => {
        kept.said = (await ask("/api/log/take-back", {})).words;
        draw_answer();
      });
    }

    const off = [
      store.subscribe((what) => {
        if (what === "area" && kept.what === "sprayed") draw_answer();
        if (what === "state") {
          draw_answer();
          if (kept.what === "sprayed") load_steps();
        }
      }),
      store.on("ticks", (event) => {
        const content = answer.querySelector(".server");
        if (kept.what === "card" && content) marked(content, event);
      }),
    ];
    draw();
    if (kept.what === "sprayed") load_steps();
    else if (kept.what === "card" && !kept.found.card && !kept.work.card) begin("card");
    return () => off.forEach((one) => one());
  },
};
