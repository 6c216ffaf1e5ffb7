// What all panels share: the open scheme, its colours, and the painter's changes. The program holds the truth;
// this keeps its last answer, and asks again when it says that something changed.

import { ask, listen, Told } from "./api.js";

const AREA = "layersim-area";

class Store {
  /** The latest answer of /api/scheme. */
  state = null;
  /** Words of lamps, sheens, places and tones, as the program has them. */
  terms = null;
  /** The latest answer of /api/colours: of the scheme, or of a tentative change of it. */
  colours = null;
  /** The changes that the colours are of, and that are only tried. */
  trying = [];
  /** What was done last, in words; for who hears the page. */
  done = "";
  /** Under what is judged: a lamp (null: the scheme's), a sheen 0..1 (null: as painted), with ranges or not. */
  judging = { lamp: null, finish: null, ranges: false };
  /** Index of the area that is worked on. */
  area = Number(sessionStorage.getItem(AREA) ?? 0);
  /** What the program said last that cannot be put beside a field. */
  fault = "";

  #heard = new Set();
  #events = new Map();
  #line = Promise.resolve();
  #asking = null;
  #next = null;
  #asks = 0;
  #page = crypto.randomUUID();

  /** Call `fn(what)` whenever "state", "colours", "area", "judging" or "fault" changed; returns how to stop it. */
  subscribe(fn) {
    this.#heard.add(fn);
    return () => this.#heard.delete(fn);
  }

  /** Call `fn(event)` for the program's events of one kind; returns how to stop it. */
  on(kind, fn) {
    if (!this.#events.has(kind)) this.#events.set(kind, new Set());
    this.#events.get(kind).add(fn);
    return () => this.#events.get(kind).delete(fn);
  }

  /** Read the scheme and its colours, and listen from now on. */
  async begin() {
    this.on("scheme", () => this.#after(() => this.#reread()));
    this.on("outside", () => this.#after(() => this.load()));
    this.on("hello", () => this.#after(() => (this.state ? this.#reread() : this.load())));
    listen(
      (event) => this.#hand(event),
      () => this.#hand({ kind: "lost" }),
    );
    // In turn with what the line says first, or it would be read twice, and panels would be drawn anew for nothing.
    await this.#after(() => this.load());
  }

  async load() {
    this.terms ??= await ask("/api/terms");
    this.#take(await ask("/api/scheme"));
  }

  /** Make changes of the scheme, as one step of undo. Raises Told with the program's sentence if it refuses. */
  edit(edits, what) {
    return this.#after(async () => {
      this.#next = null;
      try {
        const state = await ask("/api/edit", { edits, what, revision: this.state.revision });
        this.done = what;
        this.#take(state);
      } catch (fault) {
        // Another page was quicker: what is there now comes first, then the words about it.
        if (fault.status === 409) await this.#reread();
        else this.refresh();
        throw fault;
      }
    });
  }

  /** Show what changes would give without making them. The latest wins. */
  preview(edits) {
    const areas = [...new Set(edits.map((edit) => edit.area ?? (edit.at?.[0] === "area" ? edit.at[1] : null)))];
    this.#want({ edits, areas: areas.includes(null) ? null : areas });
  }

  /** Ask for the colours of the scheme as it is. */
  refresh() {
    this.#want({ edits: [], areas: null });
  }

  undo() {
    return this.#sent("/api/undo", {}, this.area, `Undone: ${this.state.undo}`);
  }

  redo() {
    return this.#sent("/api/redo", {}, this.area, `Done again: ${this.state.redo}`);
  }

  reload() {
    return this.#sent("/api/reload", {});
  }

  save(as = null, over = false) {
    return this.#sent("/api/save", over ? { as, over } : { as });
  }

  open(file) {
    return this.#sent("/api/open", { file }, 0);
  }

  begin_new(like) {
    return this.#sent("/api/new", { like }, 0);
  }

  /** Judge under another lamp or sheen, or with ranges. */
  judge(change) {
    this.judging = { ...this.judging, ...change };
    this.#say("judging");
    this.refresh();
  }

  /** Work on another area. */
  choose(index) {
    this.area = index;
    sessionStorage.setItem(AREA, String(index));
    this.#say("area");
  }

  #sent(path, body, area = this.area, done = "") {
    return this.#after(async () => {
      this.#next = null;
      const state = await ask(path, body);
      if (area !== this.area) this.choose(area);
      this.done = done;
      this.#take(state);
    });
  }

  // One after the other, so that quick clicks keep their order and an event does not overtake its own answer.
  #after(work) {
    const done = this.#line.then(work);
    this.#line = done.catch(() => {});
    return done;
  }

  async #reread() {
    const state = await ask("/api/scheme");
    if (state.revision !== this.state?.revision || state.changed_outside !== this.state?.changed_outside) {
      this.#take(state);
    }
  }

  #take(state) {
    this.state = state;
    if (this.area >= state.areas.length) this.choose(0);
    this.#say("state");
    this.refresh();
  }

  #want(wanted) {
    this.#next = wanted;
    if (!this.#asking) this.#asking = this.#ask_colours().finally(() => (this.#asking = null));
  }

  async #ask_colours() {
    while (this.#next) {
      const { edits, areas } = this.#next;
      this.#next = null;
      const ticket = `${this.#page}:${(this.#asks += 1)}`;
      try {
        const got = await ask("/api/colours", { edits, areas, ticket, tones: 33, ...this.judging });
        // What a later ask made give up says nothing.
        if (got instanceof Blob) continue;
        this.colours = areas && this.colours ? { ...got, areas: merged(this.colours.areas, got.areas) } : got;
        this.fault = "";
        this.trying = edits;
        this.#say("colours");
      } catch (fault) {
        if (!(fault instanceof Told)) throw fault;
        this.fault = fault.message;
        this.#say("fault");
      }
    }
  }

  #hand(event) {
    for (const fn of this.#events.get(event.kind) ?? []) fn(event);
  }

  #say(what) {
    for (const fn of [...this.#heard]) fn(what);
  }
}

function merged(old, fresh) {
  const found = new Map(old.map((area) => [area.index, area]));
  // What is hardly meant is looked for once the hand rests; until then it stands as it was.
  for (const area of fresh) found.set(area.index, { ...area, notices: area.notices ?? found.get(area.index)?.notices });
  return [...found.values()].sort((one, other) => one.index - other.index);
}

export const store = new Store();
