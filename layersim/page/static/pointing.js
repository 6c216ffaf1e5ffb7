// A picture to point at: by mouse, finger or keyboard, with a cross as wide as the spot and a loupe.

import { element, fresh_id, refill } from "./parts.js";

const LOUPE_PX = 132;
const ZOOM = 6;
const LEAST_PX = 5;

const APART = 0.25;
const MOST_POINTS = 1500;

/**
 * Make one. `set([x, y])` is called with a point in per cent of the picture; `size()` is the spot's width in per
 * cent of its longer side. While `paints()` says so, dragging draws: `line(points)` is called as it grows, with
 * null if it is given up, and `stroke(points)` at its end. `show(url, alt)` shows a picture, `mark([{ at, words }])`
 * says what is where.
 */
export function pointing({ name, set, size, about, paints = () => false, line, stroke }) {
  let at = [50, 50];
  let drawn = null;
  const image = element("img", { alt: "", draggable: "false" });
  const cross = element("div", { class: "cross", "aria-hidden": "true" });
  const loupe = element("canvas", { class: "loupe", width: LOUPE_PX, height: LOUPE_PX, "aria-hidden": "true" });
  const marks = element("div", { class: "marks" });
  const hint = element("p", { class: "hint", id: fresh_id("keys") }, "With the keyboard: arrows move the cross, Shift with an arrow moves it further, Enter sets it.");
  const surface = element(
    "div",
    {
      class: "surface",
      tabindex: "0",
      role: "application",
      "aria-label": `${name}. Arrows move the cross, Enter sets it.`,
      "aria-describedby": about ?? hint.id,
      onpointermove: (event) => {
        move(point(event));
        if (drawn && event.isPrimary) for (const one of event.getCoalescedEvents?.() ?? [event]) draw_on(one);
      },
      onpointerdown: (event) => {
        move(point(event));
        // A second finger is no brush.
        if (!event.isPrimary) give_up();
        else if (paints() && event.button === 0) {
          surface.setPointerCapture(event.pointerId);
          drawn = [rounded(point(event))];
          line(drawn);
        }
      },
      onpointerup: (event) => {
        if (!drawn || !event.isPrimary) return;
        const whole = drawn;
        drawn = null;
        stroke(whole);
      },
      onpointercancel: give_up,
      onclick: (event) => paints() || set(point(event)),
      onkeydown: keys,
    },
    image,
    marks,
    cross,
    loupe,
  );

  function point(event) {
    const box = image.getBoundingClientRect();
    const share = (one, from, length) => Math.min(100, Math.max(0, (100 * (one - from)) / Math.max(length, 1)));
    return [share(event.clientX, box.left, box.width), share(event.clientY, box.top, box.height)];
  }

  const rounded = (one) => one.map((value) => Math.round(value * 100) / 100);

  function draw_on(event) {
    const next = rounded(point(event));
    const last = drawn[drawn.length - 1];
    if (drawn.length >= MOST_POINTS || Math.hypot(next[0] - last[0], next[1] - last[1]) < APART) return;
    drawn.push(next);
    line(drawn);
  }

  function give_up() {
    if (!drawn) return;
    drawn = null;
    line(null);
  }

  function move(to = at) {
    at = to;
    const box = image.getBoundingClientRect();
    const wide = Math.max((size() / 100) * Math.max(box.width, box.height), LEAST_PX);
    for (const [key, value] of Object.entries({ left: `${at[0]}%`, top: `${at[1]}%`, width: `${wide}px`, height: `${wide}px` })) {
      cross.style.setProperty(key, value);
    }
    loupe.classList.toggle("left", at[0] > 50);
    loupe.classList.toggle("low", at[1] < 50);
    magnify();
  }

  function magnify() {
    if (!image.naturalWidth) return;
    const draw = loupe.getContext("2d");
    const shown = LOUPE_PX / ZOOM;
    draw.imageSmoothingEnabled = false;
    draw.fillStyle = "#808080";
    draw.fillRect(0, 0, LOUPE_PX, LOUPE_PX);
    const left = (at[0] / 100) * image.naturalWidth - shown / 2;
    const top = (at[1] / 100) * image.naturalHeight - shown / 2;
    draw.drawImage(image, left, top, shown, shown, 0, 0, LOUPE_PX, LOUPE_PX);
    const wide = (size() / 100) * Math.max(image.naturalWidth, image.naturalHeight) * ZOOM;
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
      move(at.map((value, i) => Math.min(100, Math.max(0, value + by[i]))));
    } else if (event.key === "Enter") {
      event.preventDefault();
      set(at);
    }
  }

  async function show(url, alt) {
    image.src = url;
    image.alt = alt;
    await image.decode();
    // As wide as there is room, but never taller than the window.
    surface.style.setProperty("max-width", `calc(70vh * ${image.naturalWidth / image.naturalHeight})`);
    move();
  }

  const mark = (spots) =>
    refill(
      marks,
      spots.map(({ at: [x, y], words }) => element("span", { class: "mark", style: { left: `${x}%`, top: `${y}%` } }, words)),
    );

  return { whole: [surface, hint], surface, show, mark, move };
}
