import { parentPort } from "node:worker_threads";
import { JOBS, runLine } from "./leak-step-line.ts";

// A thread of the bench: asked for jobs by number, answers each with its result.
parentPort?.on("message", (index: number) => {
  const job = JOBS[index];
  if (!job) throw new RangeError(`There is no job ${index}.`);
  parentPort?.postMessage(runLine(job.line, job.model));
});
