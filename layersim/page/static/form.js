// The open scheme on a form in space, for who has no photograph: it is turned by hand, and follows every change.

import { button, choice, element, progress, refill, select, tick } from "./parts.js";
import { drop } from "./drop.js";
import { latest } from "./latest.js";
import { space } from "./space.js";
import { FRONT, turning } from "./turning.js";

const OWN = "own";
const USUAL = "lamplighter";
const UPS = [["", "as its kind of file has it"], ["z", "z, as for printing"], ["y", "y"]];
const WHITE = { above: "above", below: "below", front: "the front", behind: "behind", left: "its left", right: "its right" };
const FLAT = "This browser draws nothing in space here (it has no WebGL). So here the form is seen from four sides: its front, its left, behind and its right.";

// What was chosen stays while other panels are looked at.
const kept = {
  choices: null, form: null, mesh: null, chosen: null, up: "", front: 0, last: null, white: ["above"], areas: {}, names: [],
  stage: "finished", view: { ...FRONT, slow: false },
};

/** Whether a form is there: the scheme can be seen on it. */
export const is_open = () => kept.form !== null;

// There is one drawing for all panels, made when it is first needed: it goes to where it is looked at now.
let drawing = null;
let drawn_form = null;
let is_lost = false;
// The work that sprays the form just now; who chooses another meanwhile waits for that alone.
let spraying = null;
let repaint = () => {};

function in_space() {
  drawing ??= space(kept.choices.studio, (lost) => {
    is_lost = lost;
    repaint();
  }).catch(() => null);
  return drawing;
}

/** Parts keep their areas when these are called otherwise; where one is gone, the next takes its place. */
function follow(areas) {
  const names = areas.map((area) => area.name);
  for (const [part, area] of Object.entries(kept.areas)) {
    if (!area || names.includes(area)) continue;
    kept.areas[part] = names[Math.min(Math.max(kept.names.indexOf(area), 0), names.length - 1)];
  }
  kept.names = names;
}

/**
 * The form in the scheme's colours, what is only tried among them. `draw()` shows them anew, and the latest wins;
 * `told(message)` is called with what is wrong, or with nothing.
 */
export function on_form({ store, ask, told }) {
  const image = element("img", { alt: "The form in the scheme's colours, from four sides", hidden: true });
  const surface = element("div", { class: "turned" });
  const flat = element("p", { class: "hint", role: "status" });
  let scene = null;
  const turned = turning({ surface, name: "The form in the scheme's colours", view: kept.view, moved: () => scene?.draw(kept.view) });
  const sort = choice({
    key: "form-stage",
    label: "Seen",
    value: kept.stage,
    options: kept.choices.stages.map((stage) => [stage, stage]),
    commit: (value) => {
      kept.stage = value;
      draw();
    },
  });

  const draw = latest(async () => {
    const form = kept.form;
    if (!form) return;
    follow(store.state.areas);
    const asked = {
      id: form.id, areas: kept.areas, stage: kept.stage, lamp: store.judging.lamp, edits: store.trying, revision: store.state.revision,
    };
    try {
      scene = await in_space();
      // Who has gone on to another panel meanwhile has the drawing there.
      if (!whole.isConnected) return;
      if (scene && !is_lost) {
        if (scene.canvas.parentNode !== surface) surface.append(scene.canvas);
        const points = drawn_form === form.id ? null : await ask(`/api/form/${form.id}/points`);
        const colours = await ask("/api/form/colours", asked);
        if (points) scene.put_form(await points.arrayBuffer());
        drawn_form = form.id;
        scene.put_colours(await colours.arrayBuffer());
        await scene.draw(kept.view);
        surface.dataset.drawn = form.name;
      } else {
        const picture = URL.createObjectURL(await ask("/api/form/picture", asked));
        if (image.src) URL.revokeObjectURL(image.src);
        image.src = picture;
      }
      told("");
    } catch (fault) {
      told(fault.message);
    }
    const in_sides = !scene || is_lost;
    surface.hidden = turned.below.hidden = in_sides;
    image.hidden = !in_sides || !image.src;
    flat.textContent = in_sides ? FLAT : "";
  });
  repaint = draw;

  const whole = element("figure", { class: "in-space" }, surface, image, flat, element("figcaption", {}, sort, turned.below));
  return { whole, draw, stop: turned.stop };
}

export default {
  name: "On a form",
  mount(root, { store, ask }) {
    const fault = element("p", { class: "fault", role: "alert" });
    const busy = element("div", {});
    const choosing = element("div", { class: "chosen" });
    const parts = element("div", { class: "chosen" });
    const place = element("div", {});
    let model = null;
    root.append(
      element("h2", {}, "On a form in space"),
      element(
        "p",
        { class: "hint" },
        "Without a photograph of your model: a form that comes with layersim, or a mesh of your own, is sprayed white, and has the scheme's colours. Turn it by hand.",
      ),
      fault,
      element("div", { class: "pointing" }, place, element("div", { class: "chosen" }, busy, choosing, parts)),
    );

    async function begin() {
      try {
        kept.choices ??= await ask("/api/forms");
        kept.chosen ??= USUAL;
        model = on_form({ store, ask, told: (words) => (fault.textContent = words) });
        choose();
        if (kept.form) show();
        else await spray();
      } catch (refused) {
        fault.textContent = refused.message;
      }
    }

    /** Have the form sprayed that is chosen now; `fresh` if its parts are others than before. */
    async function spray(fresh = true) {
      fault.textContent = "";
      const { chosen, mesh, up, front } = kept;
      // What cannot be sprayed leaves the form that is there, and what was chosen for it.
      const refuse = (words) => {
        fault.textContent = words;
        Object.assign(kept, kept.last);
        choose();
      };
      try {
        const what = kept.chosen === OWN ? { mesh: kept.mesh.id, up: kept.up, front: kept.front } : { form: kept.chosen };
        if (spraying) ask(`/api/work/${spraying}/stop`, {}).catch(() => {});
        const { work } = await ask("/api/form", { ...what, white: kept.white });
        spraying = work;
        const ended = ({ result, error }) => {
          if (spraying !== work) return;
          spraying = null;
          if (error) return refuse(error);
          Object.assign(kept, { form: result, last: { chosen, mesh, up, front } });
          if (fresh) Object.assign(kept, { areas: { ...result.areas }, names: store.state.areas.map((area) => area.name) });
          if (root.isConnected) show();
        };
        refill(busy, progress(work, ended, { words: "Spraying the form white" }));
      } catch (refused) {
        refuse(refused.message);
      }
    }

    async function upload(file) {
      fault.textContent = "";
      try {
        kept.mesh = await ask(`/api/upload/form?name=${encodeURIComponent(file.name)}`, file);
        Object.assign(kept, { chosen: OWN, front: 0 });
        choose();
        await spray();
      } catch (refused) {
        fault.textContent = refused.message;
      }
    }

    /** Spray from another side, too, or from that one no more; from one at least. */
    function from(side) {
      const others = kept.white.filter((one) => one !== side);
      if (!kept.white.includes(side)) kept.white = [...others, side];
      else if (others.length) kept.white = others;
      choose();
      return spray(false);
    }

    function in_front() {
      kept.front = (kept.front + kept.view.around) % 360;
      Object.assign(kept.view, FRONT);
      return spray(false);
    }

    function choose() {
      refill(
        choosing,
        select({
          key: "form",
          label: "Form",
          value: kept.chosen,
          options: [...kept.choices.forms, ...(kept.mesh ? [[OWN, kept.mesh.name]] : [])],
          commit: (value) => {
            kept.chosen = value;
            choose();
            return spray();
          },
        }),
        drop({
          label: "Or drop a mesh of your own here, or choose it",
          hint: "STL, OBJ, PLY, OFF or GLB, 64 MB at most. It stays on this machine, and goes when layersim stops.",
          accept: kept.choices.endings.map((one) => `.${one}`).join(","),
          taken: upload,
          key: "mesh",
        }),
        kept.chosen === OWN
          ? element(
              "div",
              { class: "row" },
              select({ key: "up", label: "Up in the file is", value: kept.up, options: UPS, commit: (value) => ((kept.up = value), spray(false)) }),
              button("The side seen now is its front", in_front, { key: "front" }),
            )
          : null,
        element(
          "fieldset",
          {},
          element("legend", {}, "White is sprayed from"),
          element("div", { class: "row" }, kept.choices.white.map((side) => tick(WHITE[side] ?? side, kept.white.includes(side), () => from(side), { key: `white-${side}` }))),
        ),
      );
    }

    function show() {
      follow(store.state.areas);
      if (!model.whole.isConnected) place.append(model.whole);
      refill(
        parts,
        element("h3", {}, "Which part is which area"),
        kept.form.parts.map((part) =>
          select({
            key: `part-${part}`,
            label: part || "All of it",
            value: kept.areas[part] ?? "",
            options: [["", "none: it stays as preshaded"], ...kept.names.map((name) => [name, name])],
            commit: (value) => {
              kept.areas[part] = value;
              model.draw();
            },
          }),
        ),
      );
      model.draw();
    }

    begin();
    const stop = store.subscribe((what) => {
      if (!model || !kept.form) return;
      if (what === "state") show();
      if (what === "colours" || what === "judging") model.draw();
    });
    return () => {
      stop();
      model?.stop();
    };
  },
};
