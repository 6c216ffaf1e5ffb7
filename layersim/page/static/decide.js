// Match, correct, and how much it matters: asked for here, worked out beside, with progress and stop.

import { ask } from "./api.js";
import { attempt, button, choice, element, field, html, pick_paint, progress, refill, say, select, tick } from "./parts.js";
import { all_read, colours, colours_of } from "./photograph.js";
import { kept as artwork } from "./targets.js";

const BARE = "preshade";
// What was asked and found stays while other panels are looked at.
const kept = {
  match: { where: null, goal: null, owned: false, quick: true, limits: {}, filters: [], other_preshades: false, work: null, found: null, of: null },
  correct: { typed: {}, spots: {}, owned: false, limits: {}, against_plan: false, work: null, found: null, of: null },
  choices: { texts: ["", ""], work: null, found: null, of: null },
  tolerance: { work: null, found: null, of: null },
};

/** Return the parts of a panel that has work done: a line for what it says, progress, and the answer. */
function worker(one, { ask, store, root, label, shown }) {
  const running = element("div", { class: "running" });
  const fault = element("p", { class: "fault", role: "alert" });
  const answer = element("div", { class: "answer", "aria-live": "off" });
  const start = button(label, () => begin(), { class: "strong", key: "start" });

  let asked = null;
  async function begin() {
    fault.textContent = one.fault = "";
    start.disabled = true;
    try {
      await all_read();
      const got = await ask(...asked());
      one.work = got.work;
      one.asked_of = store.state.revision;
      follow();
    } catch (refused) {
      fault.textContent = one.fault = refused.message;
      start.disabled = false;
    }
  }

  function follow() {
    if (!one.work) return;
    start.disabled = true;
    const id = one.work;
    refill(
      running,
      progress(
        id,
        (event) => {
          // Another mount of this panel may have heard it, too: the first keeps it, each shows it.
          if (one.work === id) {
            one.work = null;
            one.fault = event.error ?? "";
            if (event.result) {
              one.found = event.result;
              one.of = one.asked_of;
              say("Worked out.");
            }
          }
          start.disabled = one.work !== null;
          if (root.isConnected) draw();
        },
        { words: `${label}: working` },
      ),
    );
  }

  function draw() {
    fault.textContent = one.fault ?? "";
    if (!one.found) return refill(answer);
    const old = one.of !== store.state.revision;
    refill(
      answer,
      element("h3", {}, one.found.title),
      old ? element("p", { class: "note" }, "The scheme has changed since this was worked out.") : null,
      shown(one.found),
    );
  }

  return {
    whole: element("div", { class: "work" }, element("div", { class: "row" }, start), fault, running, answer),
    asks: (what) => (asked = what),
    follow,
    draw,
  };
}

function notices(found) {
  return [
    found.aside ? element("p", { class: "faint" }, found.aside) : null,
    ...(found.notices ?? []).map((one) => element("p", { class: "hint" }, one)),
  ];
}

/** Return answers as they are told, each with a button that writes it. */
function answers(found, { ask, store }) {
  const use = (number) =>
    attempt(null, async () => {
      const got = await ask("/api/match/use", { id: found.id, answer: number });
      await store.load();
      say(`${got.words}. Undo takes it back.`);
    });
  const one_of = (answer, i) =>
    element(
      "li",
      { class: "card" },
      html(answer.html),
      button("Use it", () => use(i + 1), { label: `Use it: ${answer.recipe}`, key: `use-${i + 1}` }),
    );
  return [
    html(found.head),
    element("ol", { class: "answers" }, found.answers.map(one_of)),
    found.foot ? html(found.foot) : null,
    ...notices(found),
  ];
}

function area_choice(store, changed) {
  return select({
    key: "area",
    label: "Area",
    value: String(store.area),
    options: store.state.areas.map((area) => [String(area.index), area.name]),
    commit: (value) => {
      store.choose(Number(value));
      changed();
    },
  });
}

function owned_tick(one) {
  return tick("only paints I own (ticked on the shelf)", one.owned, (on) => (one.owned = on), { key: "owned" });
}

// Limits of a search, as the program has them if nothing is said: { match, correct }.
let usual = null;

/** Fields for the limits of a search, folded away; an empty one leaves it as the program has it. */
function further(one, search, title, ...more) {
  const fold = (event) => (one.open = event.target.open);
  const whole = element("details", { class: "further", open: one.open, ontoggle: fold }, element("summary", {}, title));
  const put = (key, value) => {
    if (value === null) delete one.limits[key];
    else one.limits[key] = value;
  };
  const limit = (key, label, read = Number) => {
    const typed = element("input", {
      type: "text",
      value: [one.limits[key] ?? ""].flat().join(", "),
      placeholder: [usual[search][key] ?? "the paints' own"].flat().join(", "),
      autocomplete: "off",
      dataset: { key: `limit-${key}` },
      onchange: () => put(key, typed.value.trim() === "" ? null : read(typed.value.trim())),
    });
    return field(label, typed);
  };
  const fill = () =>
    whole.append(
      element(
        "div",
        { class: "row" },
        limit("paints_at_most", "Paints in a mix, at most"),
        limit("drops", "Drops of paint in a mix, at most"),
        limit("least_drops", "Fewest drops of one paint"),
        limit("coats", "Coats to try", String),
        limit("thinnings", "Drops of thinner to one, to try", (said) => said.split(/[\s,;]+/).map(Number)),
        limit("wet_film_um", "Wet film of a coat, µm"),
      ),
      ...more,
    );
  if (usual) fill();
  else attempt(null, async () => ((usual = await ask("/api/limits")), fill()));
  return whole;
}

/** Show one finished strip of the area as it is now, so that what was used is seen at once. */
function now_strip(store, parts) {
  const area = store.colours?.areas.find((one) => one.index === store.area);
  const last = area?.stages.at(-1);
  if (!last) return null;
  return element("figure", { class: "mat now" }, parts.strip(last, { label: `${area.name}, finished, as it is now` }));
}

/** Mount a panel that shows a form, work and the answer, and draws itself anew when the scheme changes. */
function mounted(root, { store }, title, hint, form, work, now = () => null) {
  const head = element("div", { class: "decide-form" });
  const strip = element("div", {});
  root.append(element("h2", {}, title), element("p", { class: "hint" }, hint), strip, head, work.whole);
  const draw = () => {
    refill(head, form());
    refill(strip, now());
    work.draw();
  };
  const off = store.subscribe((what) => {
    if (what === "colours") refill(strip, now());
    if (what === "state" || what === "area") draw();
  });
  draw();
  work.follow();
  return off;
}

const match = {
  name: "Match",
  mount(root, { store, ask, parts }) {
    const one = kept.match;
    const area = () => store.state.areas[store.area];
    const work = worker(one, { ask, store, root, label: "Find mixes", shown: (found) => answers(found, { ask, store }) });
    const places = () => [
      ...area().coats.map((coat) => [`coat ${coat.name}`, `in place of “${coat.name}”`]),
      [`after ${BARE}`, "new, on the bare preshade"],
      ...area().coats.map((coat) => [`after ${coat.name}`, `new, after “${coat.name}”`]),
    ];
    work.asks(() => {
      const [kind, name] = [one.where.slice(0, one.where.indexOf(" ")), one.where.slice(one.where.indexOf(" ") + 1)];
      const { owned, quick, limits, filters, other_preshades } = one;
      const more = { owned, quick, limits, filters, other_preshades, as_planned: one.goal === "planned" };
      if (one.goal === "artwork") more.artwork = { id: artwork.picture.id, spots: artwork.spots };
      return ["/api/match", { area: area().name, [kind]: name, ...more }];
    });
    // What can be come close to: [value, words].
    const goals = () => [
      area().has_match_target ? ["targets", "the area's targets"] : null,
      artwork.picture ? ["artwork", `the artwork ${artwork.picture.name}`] : null,
      ["planned", "what is planned now"],
    ].filter(Boolean);
    const add_filter = async () => {
      const found = await pick_paint("A glaze to try after it");
      if (found && !one.filters.includes(found)) one.filters.push(found);
      store.choose(store.area);
    };
    const others = () => [
      element(
        "div",
        { class: "row" },
        one.filters.map((name) =>
          button(`${name} ×`, () => ((one.filters = one.filters.filter((other) => other !== name)), store.choose(store.area)), {
            label: `Do not try ${name} as a filter`,
            key: `filter-${name}`,
          }),
        ),
        button("+ filter after it", add_filter, { label: "Try a glaze as a filter after it", key: "add-filter" }),
      ),
      tick("try a darker and a lighter preshade, and lifted shadows, too", one.other_preshades, (on) => (one.other_preshades = on), { key: "other-preshades" }),
    ];
    const form = () => {
      const where = places();
      if (!where.some(([value]) => value === one.where)) one.where = where[0][0];
      if (!goals().some(([value]) => value === one.goal)) one.goal = goals()[0][0];
      return [
        element(
          "div",
          { class: "row" },
          area_choice(store, () => {}),
          select({ key: "where", label: "Which coat", value: one.where, options: where, commit: (value) => (one.where = value) }),
        ),
        choice({ key: "goal", label: "Come close to", value: one.goal, options: goals(), commit: (value) => (one.goal = value) }),
        area().has_match_target
          ? null
          : element("p", { class: "hint" }, "This area has no targets yet. They are set on the panel of that name; there the artwork is dropped, too."),
        choice({
          key: "pace",
          label: "How long",
          value: one.quick,
          options: [
            [true, "quick"],
            [false, "thorough"],
          ],
          commit: (value) => (one.quick = value),
        }),
        owned_tick(one),
        further(one, "match", "Limits, filters and other preshades", ...others()),
      ];
    };
    return mounted(
      root,
      { store },
      "Match",
      "Which mixes of your paints come closest? Every recipe of up to three paints is tried.",
      form,
      work,
      () => now_strip(store, parts),
    );
  },
};

const correct = {
  name: "Correct",
  mount(root, { store, ask, parts }) {
    const one = kept.correct;
    const area = () => store.state.areas[store.area];
    const work = worker(one, { ask, store, root, label: "What can be done", shown: (found) => answers(found, { ask, store }) });
    work.asks(() => ["/api/correct", { area: area().name, found: colours_of(one), owned: one.owned, limits: one.limits, against_plan: one.against_plan }]);
    const form = () => [
      element("div", { class: "row" }, area_choice(store, () => {})),
      colours({
        ask,
        kept: one,
        key: "found",
        places: Object.entries(store.terms.tones).map(([place, words]) => [place, words[0].toUpperCase() + words.slice(1)]),
        legend: "What came out, dry: L,a,b or #rrggbb, at one tone at least",
        placeholder: "38,4,-24",
        lamp: () => store.state.lamp,
      }),
      tick("hold it against what was planned, not the targets", one.against_plan, (on) => (one.against_plan = on), { key: "against" }),
      owned_tick(one),
      further(one, "correct", "Limits"),
    ];
    return mounted(
      root,
      { store },
      "Correct",
      "Something came out otherwise than wanted? The page says what may have gone wrong, and which thin coat brings it back, or that it is best left.",
      form,
      work,
      () => now_strip(store, parts),
    );
  },
};

const matters = {
  name: "Does it matter",
  mount(root, { store, ask }) {
    const one = kept.choices;
    const work = worker(one, {
      ask,
      store,
      root,
      label: "Compare",
      shown: (found) => [html(found.html)],
    });
    work.asks(() => [
      "/api/compare",
      { choices: one.texts.map((text) => text.trim()).filter(Boolean), areas: [store.state.areas[store.area].name] },
    ]);
    const form = () => [
      element("div", { class: "row" }, area_choice(store, () => {})),
      ...one.texts.map((text, i) => {
        const typed = element("input", {
          type: "text",
          value: text,
          placeholder: i ? "no filter: without filter" : "two coats: filter.coats = 2",
          autocomplete: "off",
          spellcheck: "false",
          dataset: { key: `choice-${i}` },
          oninput: () => (one.texts[i] = typed.value),
        });
        return field(`Choice ${i + 1}`, typed);
      }),
      element(
        "details",
        {},
        element("summary", {}, "What can stand there"),
        element(
          "p",
          { class: "hint" },
          "A name, a colon, and what changes: COAT.coats = 2, COAT = 4 one : 1 other, COAT.sheen = matt, without COAT, preshade.passes = 20, lamp = LED-B3. Several stand in one choice with a semicolon between them.",
        ),
      ),
      button(
        "+ choice",
        () => {
          if (one.texts.length < 8) one.texts.push("");
          store.choose(store.area);
        },
        { label: "Add a choice", key: "add-choice" },
      ),
    ];
    return mounted(
      root,
      { store },
      "Does it matter?",
      "Each choice is sprayed by the same hand from the same bottles as the scheme as it is. Is the difference more than between two sprayings? To compare what you change by hand, pin A on the Scheme panel.",
      form,
      work,
    );
  },
};

const tolerance = {
  name: "Tolerance",
  mount(root, { store, ask }) {
    const work = worker(kept.tolerance, {
      ask,
      store,
      root,
      label: "How forgiving is it?",
      shown: (found) => [html(found.html)],
    });
    work.asks(() => ["/api/tolerance", {}]);
    return mounted(
      root,
      { store },
      "Tolerance",
      "One coat too many, a film a fifth too thick, a drop wrong: what does most? How alike will the models be?",
      () => [],
      work,
    );
  },
};

export default [match, correct, matters, tolerance];
