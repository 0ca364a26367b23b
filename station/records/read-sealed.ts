import { existsSync } from "node:fs";
import { availableParallelism } from "node:os";
import { Worker } from "node:worker_threads";
import type { RecordFile } from "./record-name.ts";
import { type SealedPack, unpacked } from "./sealed-pack.ts";
import type { SealedTraveller } from "./sealed-traveller.ts";

export interface SealedFile {
  readonly file: RecordFile;
  /** Null where a whole check must look at it. */
  readonly sealed: SealedTraveller | null;
}

/** Of fewer, most are read before threads have started. */
export const THREADS_FROM = 1000;
/** Files that a thread is given at once, and how many times so many before it has answered: whoever asks may be busy for a while. */
const AT_ONCE = 256;
const AHEAD = 2;
const THREADS_MOST = 4;
/** Of a file little outlives the reading of it; with more room a thread is no quicker, only larger. */
const YOUNG_MB = 8;
/** Beside this file in the built program; there is none where a test reads the sources. */
const WORKER = new URL("./sealed-worker.js", import.meta.url);

export function canReadSealed(): boolean {
  return existsSync(WORKER);
}

/** Threads that read many travellers as `SealedReader` does. They take a while to start, during which something else can be done. */
export class SealedThreads {
  readonly #threads: readonly ReadingThread[];

  constructor(folder: string) {
    const length = Math.min(availableParallelism(), THREADS_MOST);
    this.#threads = Array.from({ length }, () => new ReadingThread(folder));
  }

  /** In batches in the order given. */
  async *read(files: readonly RecordFile[]): AsyncGenerator<readonly SealedFile[], void, void> {
    const under: Promise<readonly SealedFile[]>[] = [];
    let next = 0;
    const askOneMore = () => {
      const thread = this.#threads[(next / AT_ONCE) % this.#threads.length];
      const asked = files.slice(next, next + AT_ONCE);
      if (thread === undefined || asked.length === 0) return;
      under.push(thread.read(asked));
      next += AT_ONCE;
    };
    for (let i = 0; i < AHEAD * this.#threads.length; i++) askOneMore();
    for (let batch = under.shift(); batch; batch = under.shift()) {
      const read = await batch;
      askOneMore();
      yield read;
    }
  }

  async end(): Promise<void> {
    await Promise.all(this.#threads.map((thread) => thread.end()));
  }
}

class ReadingThread {
  readonly #worker: Worker;
  readonly #waiting: ((answer: SealedPack | null) => void)[] = [];
  #isBroken = false;

  constructor(folder: string) {
    this.#worker = new Worker(WORKER, {
      workerData: folder,
      resourceLimits: { maxYoungGenerationSizeMb: YOUNG_MB },
    });
    this.#worker.on("message", (pack: SealedPack) => this.#waiting.shift()?.(pack));
    // Whoever asked looks at these files himself, and says what is the matter with them.
    const leave = () => {
      this.#isBroken = true;
      for (const answer of this.#waiting.splice(0)) answer(null);
    };
    this.#worker.on("error", leave).on("exit", leave);
  }

  async read(files: readonly RecordFile[]): Promise<readonly SealedFile[]> {
    const paths = files.map(({ path }) => path);
    const pack = await new Promise<SealedPack | null>((resolve) => {
      if (this.#isBroken) return resolve(null);
      this.#waiting.push(resolve);
      this.#worker.postMessage(paths);
    });
    const answers = pack === null ? [] : unpacked(pack, paths);
    return files.map((file, at) => ({ file, sealed: answers[at] ?? null }));
  }

  async end(): Promise<void> {
    await this.#worker.terminate();
  }
}
