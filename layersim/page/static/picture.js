// The picture of the open scheme: the finish with its targets, all areas, before and after, A beside B, every stage.

import { is_ready, on_model } from "./figure.js";
import { is_open, on_form } from "./form.js";
import { attempt, button, element, gradient, html, progress, refill, say, strip_words, tick } from "./parts.js";

const TARGET_WIDE = 16;
const wide = matchMedia("(color-gamut: p3)");

/** Make the picture. `finish` stays in sight, `more` goes below; `update(what)` brings both up to date. */
export function picture({ store, ask }) {
  const opened = new Set(["areas", "filter", ...(is_ready() ? ["model"] : []), ...(is_open() ? ["form"] : [])]);
  let pinned = null;
  let probe_tone = null;
  const painters = [];

  // ---------------------------------------------------------------- the finish, always in sight

  const lamp = element(
    "select",
    { id: "lamp", onchange: () => store.judge({ lamp: lamp.value || null }) },
    store.terms.lamps.map(([value, words]) => element("option", { value }, words)),
  );
  const sheen = element(
    "select",
    { id: "judged-sheen", onchange: () => store.judge({ finish: sheen.value === "" ? null : Number(sheen.value) }) },
    [["", "as painted"], ...store.terms.sheens.map(([words, share]) => [share, words])].map(([value, words]) =>
      element("option", { value }, words),
    ),
  );
  const range = tick("how far it may come out", store.judging.ranges, (on) => store.judge({ ranges: on }));
  const heading = element("h2", {});
  const high = element("div", { class: "strip edge", "aria-hidden": "true" });
  const low = element("div", { class: "strip edge", "aria-hidden": "true" });
  const tones = element("div", { class: "strip big", role: "img" });
  const targets = element("div", { class: "wanted" });
  const looks_mat = element("div", { class: "rows looks" });
  const beyond = element("div", { class: "beyond", "aria-hidden": "true" });
  const beyond_words = element("p", { class: "hint" });
  const probe = element("input", { type: "range", class: "probe", min: 0, max: 32, step: 1, value: 16, "aria-label": "Read a tone" });
  const reading = element("p", { class: "reading", "aria-hidden": "true" });
  const doubts = element("div", {});
  const stack = element("div", { class: "stack" }, high, tones, low, targets);
  const finish = element(
    "section",
    { class: "finish", "aria-label": "Finish" },
    element(
      "div",
      { class: "judging row" },
      element("span", {}, element("label", { for: "lamp" }, "Lamp"), lamp),
      element("span", {}, element("label", { for: "judged-sheen" }, "Sheen"), sheen),
      range,
    ),
    element(
      "div",
      { class: "mat" },
      heading,
      stack,
      beyond,
      probe,
      element("div", { class: "ends two", "aria-hidden": "true" }, store.terms.ends.map((words) => element("span", {}, words))),
      reading,
      looks_mat,
      beyond_words,
    ),
  );

  const area = () => store.colours?.areas.find((one) => one.index === store.area) ?? null;
  const last = (one) => one.stages[one.stages.length - 1];
  /** How metal looks from other sides than the one that all strips show; nothing of other paint. */
  const usual = (one) => one.looks?.[1]?.words ?? "";
  const sides = (one) => (one.looks ?? []).filter((_, i) => i !== 1);

  function read(tone) {
    probe_tone = tone;
    const one = area();
    if (!one) return;
    const stage = last(one);
    const lab = stage.lab[tone];
    if (!lab) return;
    const [L, a, b] = lab.map((value) => (Math.round(value * 10) / 10 + 0).toFixed(1));
    const said = [`${one.axis} ${Math.round(one.shade[tone])}: Lab ${L} ${a} ${b}`];
    if (stage.sure) said.push(stage.sure);
    for (const look of sides(one)) said.push(`${look.words}: L* ${Math.round(look.lab[tone][0])}`);
    for (const [key, target] of Object.entries(one.target ?? {})) {
      if (target && Math.abs(target.tone - tone) <= (stage.css.length * TARGET_WIDE) / 200) {
        said.push(`target ${store.terms.tones[key]}: ΔE00 ${Number(target.apart).toFixed(1)} apart`);
      }
    }
    reading.textContent = said.join(" · ");
    probe.value = tone;
    probe.setAttribute("aria-valuetext", said.join(", "));
  }

  const unread = () => {
    probe_tone = null;
    reading.textContent = "Point at a tone to read it in numbers.";
  };
  probe.addEventListener("input", () => read(Number(probe.value)));
  probe.addEventListener("focus", () => read(Number(probe.value)));
  probe.addEventListener("blur", unread);
  stack.addEventListener("pointermove", (event) => {
    const box = stack.getBoundingClientRect();
    const steps = Number(probe.max);
    read(Math.round(Math.min(Math.max((event.clientX - box.left) / box.width, 0), 1) * steps));
  });
  stack.addEventListener("pointerleave", () => document.activeElement !== probe && unread());

  function paint_finish() {
    const one = area();
    if (!one) return;
    const stage = last(one);
    const what = one.finished ? "finish" : `after ${stage.name}`;
    heading.textContent = [`${one.name}: ${what}`, usual(one)].filter(Boolean).join(", ");
    probe.max = stage.css.length - 1;
    tones.style.backgroundImage = gradient(stage.css);
    tones.setAttribute("aria-label", strip_words(`${one.name}, ${what}`, stage));
    const ranged = store.judging.ranges && stage.low_css && stage.high_css;
    for (const [edge, css] of [
      [high, stage.high_css],
      [low, stage.low_css],
    ]) {
      edge.hidden = !ranged;
      edge.style.backgroundImage = gradient(ranged ? css : null);
    }
    targets.replaceChildren(
      ...Object.entries(one.target ?? {})
        .filter(([, target]) => target)
        .map(([key, target]) => {
          const at = (100 * target.tone) / Math.max(stage.css.length - 1, 1);
          const left = Math.min(Math.max(at - TARGET_WIDE / 2, 0), 100 - TARGET_WIDE);
          return element("div", {
            class: "target",
            role: "img",
            "aria-label": `Target, ${store.terms.tones[key]}, ΔE00 ${Number(target.apart).toFixed(1)} from the finish`,
            style: { left: `${left}%`, width: `${TARGET_WIDE}%`, background: target.css },
          });
        }),
    );
    targets.hidden = !targets.children.length;
    const out = (wide.matches ? stage.beyond_p3 : stage.beyond_srgb) ?? [];
    const some = out.some(Boolean);
    beyond.hidden = beyond_words.hidden = !some;
    beyond.style.backgroundImage = some ? marked(out) : "none";
    beyond_words.textContent = some ? "Over the dots the paint is stronger in colour than this screen can show." : "";
    fill_rows(looks_mat, sides(one).map((look) => row(look.words, look, { of: `${one.name}, ${look.words}` })));
    looks_mat.hidden = !looks_mat.children.length;
    refill(doubts, told("How metal is shown", one.metal), told("What is most in doubt", one.doubt));
    if (probe_tone !== null) read(Math.min(probe_tone, stage.css.length - 1));
    else if (!reading.textContent) unread();
  }

  function told(words, lines) {
    if (!lines?.length) return null;
    return element("details", { class: "doubt" }, element("summary", {}, words), lines.map((line) => element("p", {}, line)));
  }

  // ---------------------------------------------------------------- below: folded parts that open on demand

  const more = element("div", { class: "more" });

  function folded(key, words, ...content) {
    const made = element("details", { ontoggle: () => (made.open ? opened.add(key) : opened.delete(key), made.open && paint()) });
    made.open = opened.has(key);
    made.append(element("summary", {}, element("h2", {}, words)), ...content);
    return made;
  }

  const areas_mat = element("div", { class: "mat rows" });
  painters.push(["areas", () => {
    const rows = store.colours.areas.map((one) => row([one.name, usual(one)].filter(Boolean).join(", "), last(one), { of: `${one.name}, finish` }));
    fill_rows(areas_mat, rows);
  }]);

  const split = element("input", { type: "range", min: 0, max: 100, step: 1, value: 50, "aria-label": "How much is shown as before the filter", "aria-valuetext": "half" });
  const before = element("div", { class: "strip before", role: "img" });
  const after = element("div", { class: "strip after", role: "img" });
  const filter_mat = element("div", { class: "mat" }, element("div", { class: "wipe" }, after, before), split, element("div", { class: "ends two", "aria-hidden": "true" }, element("span", {}, "all after"), element("span", {}, "all before")));
  const no_filter = element("p", { class: "note" }, "No coat of this area is marked as its filter.");
  const wipe = () => {
    before.style.clipPath = `inset(0 0 ${100 - split.value}% 0)`;
    split.setAttribute("aria-valuetext", `${split.value} % before, below it after`);
  };
  split.addEventListener("input", wipe);
  wipe();
  painters.push(["filter", () => {
    const { stages } = area() ?? { stages: [] };
    const at = stages.findIndex((stage) => stage.is_filter);
    filter_mat.hidden = at < 1;
    no_filter.hidden = at >= 1;
    if (at < 1) return;
    for (const [shown, stage, words] of [
      [before, stages[at - 1], "Before the filter"],
      [after, stages[at], "After the filter"],
    ]) {
      shown.style.backgroundImage = gradient(stage.css);
      shown.setAttribute("aria-label", strip_words(words, stage));
    }
  }]);

  const pin = button("Pin what is here now as A", () => attempt(null, async () => {
    const { text } = await ask("/api/compare/text");
    pinned = { colours: structuredClone(store.colours), text };
    opened.add("pinned");
    verdict.replaceChildren();
    paint();
    say("Pinned as A. Change what you like: B is what you have now.");
  }), { key: "pin", disabled: !store.colours });
  const unpin = button("Let A go", () => {
    pinned = null;
    verdict.replaceChildren();
    paint();
    pin.focus();
  }, { key: "unpin" });
  const matters = button("Does it matter?", does_it_matter, { key: "matters" });
  const beside_mat = element("div", { class: "mat" });
  const beside_words = element("p", { class: "hint" });
  const verdict = element("div", { "aria-live": "polite" });
  painters.push(["pinned", () => {
    const old = pinned?.colours.areas.find((one) => one.name === area()?.name);
    // There is nothing to pin before the first colours.
    pin.disabled = false;
    unpin.hidden = matters.hidden = !pinned;
    beside_mat.hidden = !old;
    beside_words.textContent = !pinned ? "Pin what you have, change on, and see both." : old ? "" : "What is pinned has no area of this name.";
    if (!old) return;
    const now = area();
    const pair = (look, a, b) => [
      row(`A, pinned${look}`, a, { of: `A, pinned${look}` }),
      row(`B, now${look}`, b, { of: `B, now${look}` }),
    ];
    const looks = old.looks?.length ? old.looks : now.looks ?? [];
    fill_rows(
      beside_mat,
      looks.length
        ? looks.flatMap((look, i) => pair(`: ${look.words}`, old.looks?.[i] ?? last(old), now.looks?.[i] ?? last(now)))
        : pair("", last(old), last(now)),
    );
    beside_mat.classList.add("rows");
  }]);

  async function does_it_matter() {
    const done = await attempt(null, async () => {
      const { work } = await ask("/api/compare", { first: pinned.text, names: ["A, pinned", "B, now"] });
      const ended = ({ result, error }) => verdict.replaceChildren(result ? html(result.html) : element("p", {}, error));
      verdict.replaceChildren(progress(work, ended, { words: "Spraying both" }));
    });
    if (!done) verdict.replaceChildren();
  }

  const stages_mat = element("div", { class: "mat rows stages" });
  painters.push(["stages", () => {
    const one = area();
    if (!one) return;
    fill_rows(stages_mat, one.stages.map((stage) => row(stage.name, stage, { of: stage.name, under: stage.recipe, sure: stage.sure })));
  }]);

  const model_words = element("p", { class: "hint" });
  const model = on_model({ store, ask, told: (words) => (model_words.textContent = words) });
  model.whole.hidden = !is_ready();
  if (!is_ready()) model_words.textContent = "Drop a photograph of your preshaded model under “On the model”, and see every change on it here.";
  painters.push(["model", model.draw]);

  const form_words = element("p", { class: "hint" });
  const form = is_open() ? on_form({ store, ask, told: (words) => (form_words.textContent = words) }) : null;
  if (form) painters.push(["form", form.draw]);
  else form_words.append("Without a photograph: under ", element("a", { href: "#/form" }, "On a form"), " a form in space has the scheme's colours, and is then here, too.");

  const numbers = element("div", {});
  let numbers_for = "";
  painters.push(["numbers", () => {
    const now = `${store.state.revision} ${store.area}`;
    if (now === numbers_for) return;
    numbers_for = now;
    attempt(null, async () => {
      const got = await ask("/api/words", { area: store.area });
      numbers.replaceChildren(html(got.html ?? got));
    });
  }]);

  more.append(
    doubts,
    folded("areas", "All areas together", areas_mat),
    folded("filter", "Before and after the filter", no_filter, filter_mat),
    folded("model", "On your model", model_words, model.whole),
    folded("form", "On a form", form_words, form?.whole ?? []),
    folded("pinned", "A beside B", element("div", { class: "row" }, pin, unpin, matters), beside_words, beside_mat, verdict),
    folded("stages", "Every stage", stages_mat),
    folded("numbers", "In numbers", numbers),
  );

  function row(words, stage, { of, under, sure }) {
    return { words, stage, of, under, sure };
  }

  /** Fill rows of strips; strips that are there are painted anew and not made anew. */
  function fill_rows(mat, rows) {
    while (mat.children.length > rows.length) mat.lastChild.remove();
    rows.forEach(({ words, stage, of, under, sure }, i) => {
      let made = mat.children[i];
      if (!made) {
        made = element("div", { class: "line" }, element("span", { class: "name" }), element("div", { class: "strip", role: "img" }), element("small", { class: "under" }));
        mat.append(made);
      }
      const [name, shown, small] = made.children;
      name.textContent = words;
      shown.style.backgroundImage = gradient(stage.css);
      shown.setAttribute("aria-label", strip_words(of, stage));
      shown.title = sure ?? "";
      small.textContent = under ?? "";
      small.hidden = !under;
    });
  }

  function paint() {
    if (!store.colours) return;
    paint_finish();
    for (const [key, draw] of painters) if (opened.has(key)) draw();
  }

  function update(what) {
    if (what === "judging" || what === "state") {
      lamp.value = store.judging.lamp ?? store.state?.lamp;
      sheen.value = store.judging.finish === null ? "" : String(store.judging.finish);
      range.querySelector("input").checked = store.judging.ranges;
    }
    if (what === "state" || what === "area" || what === "colours") paint();
  }

  const screen_changed = () => paint();
  wide.addEventListener("change", screen_changed);
  update("judging");
  paint();
  const stop = () => {
    wide.removeEventListener("change", screen_changed);
    form?.stop();
  };
  return { finish, more, update, stop };
}

/** Return dots below the tones that a screen cannot show. */
function marked(out) {
  const each = 100 / Math.max(out.length - 1, 1);
  const stops = out.flatMap((beyond, i) => {
    const ink = beyond ? "currentColor" : "transparent";
    return [`${ink} ${Math.max((i - 0.5) * each, 0).toFixed(2)}%`, `${ink} ${Math.min((i + 0.5) * each, 100).toFixed(2)}%`];
  });
  return `linear-gradient(to right, ${stops.join(", ")})`;
}
