import { join } from "node:path";
import { parentPort, workerData } from "node:worker_threads";
import { AuditReader } from "./audit-read.ts";
import { packed } from "./sealed-pack.ts";
import { SealedReader, type SealedTraveller } from "./sealed-traveller.ts";

/** Asked with paths relative to the folder of `workerData`, answers each in turn. A thread of its own; see `readSealed`. */
const folder = String(workerData);
const file = new AuditReader();
const sealed = new SealedReader();

parentPort?.on("message", (paths: readonly string[]) => {
  const answers = paths.map((path): SealedTraveller | null => {
    const read = file.read(join(folder, path));
    return read.ok ? sealed.read(read.bytes, path) : null;
  });
  const pack = packed(answers);
  parentPort?.postMessage(pack, [pack.numbers.buffer]);
});
