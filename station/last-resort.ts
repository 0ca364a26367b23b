import { explain } from "./explain.ts";

const MAKE_SAFE_WITHIN_MS = 1_000;

/**
 * A fault of the program itself must not leave a motor running: safe outputs are commanded, as far as that still
 * works, before the process ends with exit code 70. What does not work any more the I/O block's watchdog does.
 * @returns stop watching
 */
export function makeSafeOnCrash(makeSafe: () => Promise<void>): () => void {
  const onCrash = (error: unknown) => {
    const end = () => process.exit(70);
    setTimeout(end, MAKE_SAFE_WITHIN_MS);
    // Under way before anything is said: to tell the lines of a large program takes a moment.
    const made = Promise.resolve().then(makeSafe);
    setImmediate(() => {
      process.stderr.write(`${explain(error).text}\n`);
      made.then(end, end);
    });
  };
  process.once("uncaughtException", onCrash);
  return () => process.off("uncaughtException", onCrash);
}
