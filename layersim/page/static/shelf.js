// The shelf: every paint as swatches, found by words, and ticked where one owns it.

import { attempt, button, dialog, element, fresh_id, html, refill } from "./parts.js";

const ANY = "any";

export default {
  name: "Shelf",
  mount(root, { store, ask }) {
    const chosen = { words: "", kind: ANY, hue: ANY, whose: ANY };
    let shelf = null;
    let latest = 0;

    const search = element("input", {
      type: "search",
      id: fresh_id("search"),
      placeholder: "red glaze",
      autocomplete: "off",
      spellcheck: "false",
      maxlength: 200,
      oninput: () => {
        chosen.words = search.value;
        load();
      },
    });
    const filters = element("div", { class: "row filters" });
    const count = element("p", { class: "hint", role: "status" });
    const list = element("ul", { class: "shelf-list" });
    const foot = element("div", { class: "foot" });
    root.append(
      element("h2", {}, "Shelf"),
      element(
        "p",
        { class: "hint" },
        "Each paint three times: opaque, one thin coat over black, one thin coat over white. Opaque metal runs from its glint to where it is turned away. Tick what you own: a match can then use these alone.",
      ),
      element("div", { class: "field find" }, element("label", { for: search.id }, "Find paints by name, kind, hue or use"), search),
      filters,
      count,
      list,
      foot,
    );

    async function load() {
      const mine = (latest += 1);
      let got;
      try {
        got = await ask(`/api/shelf?words=${encodeURIComponent(chosen.words)}`);
      } catch (fault) {
        count.textContent = fault.message;
        return;
      }
      if (mine !== latest) return;
      shelf = got;
      draw();
    }

    function draw() {
      if (!filters.childElementCount) {
        filters.append(
          menu("Kind", "kind", shelf.kinds),
          menu("Hue", "hue", shelf.hues),
          menu("Whose", "whose", ["owned", "not owned", "own", "starter"], {
            owned: "what I own",
            "not owned": "what I do not own",
            own: "my own paint files",
            starter: "starter paints",
          }),
        );
      }
      const paints = shelf.paints.filter(fits);
      const yours = paints.filter((paint) => paint.owned).length;
      count.textContent = paints.length
        ? `${paints.length} paint${paints.length === 1 ? "" : "s"}, ${yours} ticked as owned`
        : shelf.none || "None is left by these choices.";
      refill(list, paints.map(card));
      refill(
        foot,
        shelf.notices.map((words) => element("p", { class: "warning" }, words)),
        element("p", { class: "hint" }, `Ticks are kept in ${shelf.owned_file}. Your own paints belong in ${shelf.folder}.`),
      );
    }

    function menu(label, key, values, words = {}) {
      const control = element(
        "select",
        {
          id: fresh_id(key),
          onchange: () => {
            chosen[key] = control.value;
            draw();
          },
        },
        [ANY, ...values].map((value) => element("option", { value }, words[value] ?? value)),
      );
      return element("div", { class: "field" }, element("label", { for: control.id }, label), control);
    }

    function fits(paint) {
      const whose = {
        [ANY]: true,
        owned: paint.owned,
        "not owned": !paint.owned,
        own: paint.own,
        starter: !paint.own,
      };
      return (
        (chosen.kind === ANY || paint.kind === chosen.kind) &&
        (chosen.hue === ANY || paint.hue.includes(chosen.hue)) &&
        whose[chosen.whose]
      );
    }

    function card(paint) {
      const told = [paint.kind, paint.hue, paint.own ? "your own" : "starter", paint.invented ? "invented" : null];
      const box = element("input", {
        type: "checkbox",
        "aria-label": `I own ${paint.name}`,
        dataset: { key: `own-${paint.name}` },
        onchange: () => own(paint, box),
      });
      box.checked = paint.owned;
      return element(
        "li",
        { class: "card paint-card" },
        element(
          "span",
          { class: "wide-swatches", role: "img", "aria-label": `${paint.name}: opaque, over black, over white` },
          [paint.masstone_css, paint.over_black_css, paint.over_white_css].map((css) =>
            element("i", { style: { background: css } }),
          ),
        ),
        element(
          "div",
          { class: "told" },
          button(paint.name, () => show(paint), { class: "name", label: `${paint.name}: more about it`, key: `about-${paint.name}` }),
          element("small", {}, told.filter(Boolean).join(", ")),
        ),
        element("label", { class: "tick" }, box, element("span", { "aria-hidden": "true" }, "I own it")),
      );
    }

    async function own(paint, box) {
      const done = await attempt(null, async () => {
        await ask("/api/owned", { names: [paint.name], owned: box.checked });
        paint.owned = box.checked;
      });
      if (!done) box.checked = paint.owned;
    }

    async function show(paint) {
      await attempt(null, async () => {
        const got = await ask(`/api/paint?name=${encodeURIComponent(paint.name)}`);
        await dialog(got.name, html(got.html), [["close", "Close"]], { wide: true });
      });
    }

    const heard = [store.on("owned", load), store.on("shelf", load)];
    load();
    return () => heard.forEach((stop) => stop());
  },
};
