/**
 * Turns SIGINT, SIGTERM and an output nobody reads any more into an orderly stop: the running test is aborted, made safe and recorded, and nothing
 * new starts. A second signal ends the program as usual; the I/O block's watchdog then drops the outputs.
 * @param stopping called once, on the first signal
 */
export function stopOnSignal(stopping: () => void): AbortSignal {
  const controller = new AbortController();
  const stop = () => {
    process.off("SIGINT", stop);
    process.off("SIGTERM", stop);
    if (controller.signal.aborted) return;
    controller.abort();
    stopping();
  };
  // Whoever read the lines is gone (a closed pipe). Without a listener this would end the process in mid-test.
  process.stdout.on("error", stop);
  process.on("SIGINT", stop);
  process.on("SIGTERM", stop);
  return controller.signal;
}
