// Work that is asked for faster than it is done.

/** Return how to have `work()` done: once more after all that was asked for meanwhile, so that the latest wins. */
export function latest(work) {
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
    })();
    return busy;
  };
}
