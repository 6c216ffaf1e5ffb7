// Work that is asked for faster than it is done.

/**
 * Return how to have `work()` done: once more after all that was asked for meanwhile, so that the latest wins.
 * `settled()` is called when nothing more is asked for.
 */
export function latest(work, settled = () => {}) {
  let busy = null;
  let next = false;
  return () => {
    next = true;
    busy ??= (async () => {
      try {
        while (next) {
          next = false;
          await work();
        }
      } finally {
        busy = null;
      }
      settled();
    })();
    return busy;
  };
}
