/**
 * For a server that moves nothing: a signal before it serves ends the program at once, whatever it waits for, and one
 * after that ends it in good order. What was made until then, such as a pseudo-terminal's process, goes with the program.
 * @param stop called at the first signal once it serves
 * @returns to be called when serving has begun
 */
export function endOnSignal(stop: () => void): () => void {
  let hasBegun = false;
  for (const signal of ["SIGINT", "SIGTERM", "SIGHUP"] as const) {
    process.once(signal, () => {
      if (hasBegun) stop();
      else process.exit(0);
    });
  }
  return () => {
    hasBegun = true;
  };
}
