// How the page asks the program. The key is in the address behind "#"; it is kept for this tab only.

const KEPT = "layersim-key";
// The program says something every 15 seconds, if only an empty line.
const SILENT_MS = 40_000;
const AGAIN_MS = 1000;

function key() {
  const given = new URLSearchParams(location.hash.slice(1)).get("key");
  if (given) {
    sessionStorage.setItem(KEPT, given);
    history.replaceState(null, "", location.pathname);
  }
  return sessionStorage.getItem(KEPT) ?? "";
}

const TOKEN = key();

/** A sentence of the program for the painter; `status` is 409 where it takes a word to go on. */
export class Told extends Error {
  constructor(words, status = 0) {
    super(words);
    this.status = status;
  }
}

/** Ask the program. `body` is sent as JSON, or as it is if it is a Blob. Raises Told with a sentence for the painter. */
export async function ask(path, body = undefined, { signal, method } = {}) {
  const headers = { "X-Layersim-Token": TOKEN };
  let sent;
  if (body instanceof Blob) {
    sent = body;
  } else if (body !== undefined) {
    headers["Content-Type"] = "application/json";
    sent = JSON.stringify(body);
  }
  let answer;
  try {
    answer = await fetch(path, { method: method ?? (body === undefined ? "GET" : "POST"), headers, body: sent, signal });
  } catch (fault) {
    if (fault.name === "AbortError") throw fault;
    throw new Told("The program does not answer. Is it still running? Start it again with: layersim open");
  }
  const type = answer.headers.get("Content-Type") ?? "";
  const content = type.startsWith("application/json") ? await answer.json() : await answer.blob();
  if (!answer.ok) throw new Told(content.error ?? `The program says ${answer.status}.`, answer.status);
  return content;
}

/** Call `heard(event)` for everything the program says by itself; begins again when the line breaks. */
export async function listen(heard, lost = () => {}) {
  for (;;) {
    const line = new AbortController();
    let silent;
    const alive = () => {
      clearTimeout(silent);
      silent = setTimeout(() => line.abort(), SILENT_MS);
    };
    try {
      alive();
      const answer = await fetch("/api/events", { headers: { "X-Layersim-Token": TOKEN }, signal: line.signal });
      if (answer.ok) {
        heard({ kind: "hello" });
        const reader = answer.body.pipeThrough(new TextDecoderStream()).getReader();
        let rest = "";
        for (;;) {
          const { value, done } = await reader.read();
          if (done) break;
          alive();
          const lines = (rest + value).split("\n");
          rest = lines.pop();
          for (const one of lines) if (one) heard(JSON.parse(one));
        }
      }
    } catch {
      // The program may be back in a moment: a closed laptop, a new start.
    }
    clearTimeout(silent);
    lost();
    await new Promise((go) => setTimeout(go, AGAIN_MS));
  }
}
