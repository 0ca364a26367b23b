import { join } from "node:path";
import { parentPort, workerData } from "node:worker_threads";
import { AuditReader } from "./audit-read.ts";
import { Packing } from "./sealed-pack.ts";
import { SealedReader } from "./sealed-traveller.ts";

/** Asked with paths relative to the folder of `workerData`, answers each in turn. A thread of its own; see `readSealed`. */
const folder = String(workerData);
const file = new AuditReader();
const sealed = new SealedReader();
const packing = new Packing();

parentPort?.on("message", (paths: readonly string[]) => {
  for (const path of paths) {
    const read = file.read(join(folder, path));
    packing.add(read.ok ? sealed.read(read.bytes, path) : null);
  }
  const pack = packing.take();
  parentPort?.postMessage(pack, [pack.numbers.buffer]);
});
