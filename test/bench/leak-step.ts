import { availableParallelism } from "node:os";
import { extname } from "node:path";
import { fileURLToPath } from "node:url";
import { Worker } from "node:worker_threads";
import type { Bench } from "./figure.ts";
import { leakFigures } from "./leak-step-figures.ts";
import { JOBS, type LineResult } from "./leak-step-line.ts";

/**
 * The leak step on units of six lines and both demo models (leak-step-plants.ts), by three methods side by side on the very
 * same curves: the fixed timer (settle, then slope or difference, whichever is ready sooner), the same less the mean
 * curve of the tight reference, and the early verdict exactly as the demo's limit files have it. Each line's station
 * learns from five runs on its own tight reference, for the second and third method alike; no constant of the estimator
 * is set per line. All are judged by the limit file's guarded acceptance, each with its own uncertainty as
 * measureLeakRate gives it.
 *
 * Both fixed timers get the shortest times that their own error on other units of the same line allows
 * (leak-step-timing.ts): the competitor at its best, better than anybody could set it who does not know true leaks.
 *
 * A wrong verdict is an accepted unit that leaks more than the limit, or a rejected one that does not; void (no valid
 * measurement) is neither, and is counted beside them. Intervals are exact, 95 % (Clopper-Pearson). Times are from shut-off
 * to verdict, void ones included. "As made" are good units as the demo line makes them: log-normal around 15 % of the limit.
 */
export const leakStep: Bench = async () => leakFigures(await resultsOfAll());

/** Every line and model once, on as many threads as there are cores. */
async function resultsOfAll(): Promise<readonly LineResult[]> {
  const results = new Map<number, LineResult>();
  let next = 0;
  const own = fileURLToPath(import.meta.url);
  const worker = new URL(`leak-step-worker${extname(own)}`, import.meta.url);
  const thread = () =>
    new Promise<void>((resolve, reject) => {
      const running = new Worker(worker);
      let job = 0;
      const give = () => {
        job = next++;
        if (job < JOBS.length) running.postMessage(job);
        else running.terminate().then(() => resolve(), reject);
      };
      running.on("error", reject);
      running.on("message", (result: LineResult) => {
        results.set(job, result);
        give();
      });
      give();
    });
  await Promise.all(Array.from({ length: Math.min(availableParallelism(), JOBS.length) }, thread));
  return JOBS.flatMap((_, job) => results.get(job) ?? []);
}
