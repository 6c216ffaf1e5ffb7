// Turning something by hand: by mouse, finger, keyboard and buttons, or slowly by itself.

import { button, element, fresh_id, tick } from "./parts.js";

const DEG_PER_PX = 0.5;
const KEY_DEG = 10;
const MOST_TILT_DEG = 80;
const NEARER = 1.15;
const NEAR = [0.6, 6];
const SLOW_DEG_PER_S = 20;
const AROUND = ["the front", "the front and its left", "its left", "behind and its left", "behind", "behind and its right", "its right", "the front and its right"];
const calm = matchMedia("(prefers-reduced-motion: reduce)");

/** From where it is looked at first: degrees around it, to its left; degrees above; how near. */
export const FRONT = Object.freeze({ around: 0, above: 10, near: 1 });

/** Say from where something is looked at. */
export function seen_words({ around, above }) {
  const side = AROUND[((Math.round(around / 45) % 8) + 8) % 8];
  return `Seen from ${side}${above > 30 ? ", from above" : above < -30 ? ", from below" : ""}`;
}

/**
 * Let `surface` turn what it shows. `view` is { around, above, near, slow }, which is kept by who calls; `moved()`
 * is called when it has changed. Returns what stands below it, and how to end.
 */
export function turning({ surface, name, view, moved }) {
  const held = new Map();
  let apart = 0;
  let last = 0;
  let going = null;

  function turn({ around = 0, above = 0, times = 1 }) {
    view.around = (view.around + around) % 360;
    view.above = Math.min(MOST_TILT_DEG, Math.max(-MOST_TILT_DEG, view.above + above));
    view.near = Math.min(NEAR[1], Math.max(NEAR[0], view.near * times));
    moved();
  }

  /** By hand: who takes it stops it, and hears where it stands. */
  function by_hand(change) {
    if (view.slow) run((view.slow = slow.querySelector("input").checked = false));
    turn(change);
    tell();
  }

  function tell() {
    surface.setAttribute("aria-label", `${name}. ${seen_words(view)}`);
  }

  const MOVES = {
    ArrowLeft: { around: KEY_DEG },
    ArrowRight: { around: -KEY_DEG },
    ArrowUp: { above: -KEY_DEG },
    ArrowDown: { above: KEY_DEG },
    "+": { times: NEARER },
    "-": { times: 1 / NEARER },
  };

  function front() {
    Object.assign(view, FRONT);
    by_hand({});
  }

  function keys(event) {
    if (event.ctrlKey || event.metaKey || event.altKey) return;
    const move = MOVES[{ "=": "+", "−": "-" }[event.key] ?? event.key];
    if (!move && event.key !== "Home") return;
    event.preventDefault();
    if (move) by_hand(move);
    else front();
  }

  const spread = () => {
    const [one, other] = [...held.values()];
    return Math.hypot(one.x - other.x, one.y - other.y);
  };

  function take(event) {
    if (event.button) return;
    surface.setPointerCapture(event.pointerId);
    held.set(event.pointerId, { x: event.clientX, y: event.clientY });
    if (held.size === 2) apart = spread();
  }

  function drag(event) {
    const before = held.get(event.pointerId);
    if (!before) return;
    const now = { x: event.clientX, y: event.clientY };
    held.set(event.pointerId, now);
    if (held.size === 1) {
      by_hand({ around: DEG_PER_PX * (before.x - now.x), above: DEG_PER_PX * (now.y - before.y) });
    } else if (held.size === 2) {
      const wide = spread();
      by_hand({ times: wide / Math.max(apart, 1) });
      apart = wide;
    }
  }

  const let_go = (event) => held.delete(event.pointerId);

  function wheel(event) {
    // The wheel moves the page, unless the form is held or was chosen.
    if (!event.ctrlKey && document.activeElement !== surface) return;
    event.preventDefault();
    by_hand({ times: Math.exp(-event.deltaY / 500) });
  }

  // Slowly by itself, as often as the screen is drawn; a step takes no more than a tenth of a second's turn.
  function step(now) {
    if (!surface.isConnected) return run(false);
    turn({ around: (SLOW_DEG_PER_S * Math.min(now - (last || now), 100)) / 1000 });
    last = now;
    going = requestAnimationFrame(step);
  }

  function run(on) {
    cancelAnimationFrame(going);
    last = 0;
    if (on) going = requestAnimationFrame(step);
    else tell();
  }

  const slow = tick("Turn slowly", view.slow, (on) => run((view.slow = on)), { key: "slow" });
  const hint = element(
    "p",
    { class: "hint", id: fresh_id("keys") },
    "Drag it, or use the arrow keys; + and − bring it nearer and farther, Home shows its front.",
  );
  const move = (sign, label, change) => button(sign, () => by_hand(change), { label });
  const below = element(
    "div",
    { class: "turns" },
    element(
      "div",
      { class: "row", role: "group", "aria-label": "Turn it" },
      move("←", "Turn it to the left", MOVES.ArrowLeft),
      move("→", "Turn it to the right", MOVES.ArrowRight),
      move("↑", "Tilt its top away", MOVES.ArrowUp),
      move("↓", "Tilt its top towards you", MOVES.ArrowDown),
      move("+", "Nearer", MOVES["+"]),
      move("−", "Farther", MOVES["-"]),
      button("Front", front, { label: "Show its front" }),
    ),
    slow,
    hint,
  );
  surface.tabIndex = 0;
  surface.setAttribute("role", "application");
  surface.setAttribute("aria-describedby", hint.id);
  for (const [kind, heard] of Object.entries({ keydown: keys, pointerdown: take, pointermove: drag, pointerup: let_go, pointercancel: let_go })) {
    surface.addEventListener(kind, heard);
  }
  surface.addEventListener("wheel", wheel, { passive: false });

  // Who asks their system for less motion is not offered any.
  function calmer() {
    slow.hidden = calm.matches;
    if (calm.matches) view.slow = slow.querySelector("input").checked = false;
    run(view.slow);
  }
  calm.addEventListener("change", calmer);
  calmer();
  return {
    below,
    stop() {
      calm.removeEventListener("change", calmer);
      cancelAnimationFrame(going);
    },
  };
}
