import { onLostOutput } from "./lost-output.ts";

/**
 * Turns SIGINT, SIGTERM, a terminal that goes away and an output nobody can read any more into an orderly stop: the
 * running test is aborted, made safe and recorded, and nothing new starts. A second SIGINT or SIGTERM ends the
 * program as usual; the I/O block's watchdog then drops the outputs.
 * @param stopping called once, on the first of these
 * @returns its reason is an OutputLost where that was it
 */
export function stopOnSignal(stopping: () => void): AbortSignal {
  const controller = new AbortController();
  const stop = (reason?: unknown) => {
    process.off("SIGINT", onSignal);
    process.off("SIGTERM", onSignal);
    if (controller.signal.aborted) return;
    controller.abort(reason);
    stopping();
  };
  const onSignal = () => stop();
  // Without a listener this would end the process in mid-test.
  onLostOutput(stop);
  process.on("SIGINT", onSignal);
  process.on("SIGTERM", onSignal);
  // Kernel and shell may each send one when a terminal goes: that is no second wish.
  process.on("SIGHUP", onSignal);
  return controller.signal;
}
