import { type ChildProcess, spawn } from "node:child_process";
import {
  accessSync,
  constants,
  existsSync,
  lstatSync,
  mkdirSync,
  realpathSync,
  statSync,
  unlinkSync,
} from "node:fs";
import { dirname, join, resolve } from "node:path";
import { claimFolder } from "./claim-folder.ts";
import { ServeError } from "./serve-error.ts";

export interface PtyServing {
  /** Path of the pseudo-terminal by instrument name. */
  readonly paths: ReadonlyMap<string, string>;
  close(): Promise<void>;
}

/** A link that has not come after this long will not come. */
const LINK_WITHIN_ms = 5000;
const LOOK_EVERY_ms = 10;
/** Quick failures in a row before it is given up. However short somebody had the port open, that is none: socat ends with 0. */
const FRUITLESS_MOST = 5;
const QUICK_ms = 200;

/**
 * A pseudo-terminal for each TCP port, by socat. It waits for somebody to open it before it connects, and begins
 * afresh after each close, so that nothing old is ever read: a port nobody has open keeps nothing.
 * @param folder made if missing; links of an earlier run are replaced
 * @param gaveUp called when a pseudo-terminal can no longer be had
 * @throws ServeError when socat is missing, a link cannot be made, or somebody else serves in this folder
 */
export async function serveOnPtys(
  ports: ReadonlyMap<string, number>,
  folder: string,
  gaveUp: (error: ServeError) => void,
): Promise<PtyServing> {
  const absolute = resolve(folder);
  try {
    makeFolder(absolute);
  } catch (error) {
    throw new ServeError(`The folder ${folder} cannot be made; give another --pty.`, { cause: error });
  }
  try {
    accessSync(absolute, constants.W_OK);
  } catch (error) {
    throw new ServeError(`Nothing can be made in the folder ${folder}; give another --pty.`, {
      cause: error,
    });
  }
  const release = await claimFolder(realpathSync(absolute));
  const paths = new Map([...ports.keys()].map((name) => [name, join(absolute, name)]));
  const lines: PtyLine[] = [];
  // A program that ends without closing still takes its children with it.
  const kill = () => {
    for (const line of lines) line.kill();
  };
  process.on("exit", kill);
  const close = async () => {
    process.off("exit", kill);
    await Promise.all(lines.map((line) => line.close()));
    await release();
  };
  try {
    for (const [name, port] of ports) {
      const line = new PtyLine(paths.get(name) ?? join(absolute, name), port, gaveUp);
      lines.push(line);
      await line.open();
    }
  } catch (error) {
    await close();
    throw error;
  }
  return { paths, close };
}

/** One socat, started again whenever its user has closed the port. */
class PtyLine {
  readonly #path: string;
  readonly #port: number;
  readonly #gaveUp: (error: ServeError) => void;
  #child: ChildProcess | null = null;
  #failure: ServeError | null = null;
  #isClosing = false;
  #fruitless = 0;

  constructor(path: string, port: number, gaveUp: (error: ServeError) => void) {
    this.#path = path;
    this.#port = port;
    this.#gaveUp = gaveUp;
  }

  async open(): Promise<void> {
    clearTheWay(this.#path);
    this.#start();
    for (let waited_ms = 0; !existsSync(this.#path); waited_ms += LOOK_EVERY_ms) {
      if (this.#failure) throw this.#failure;
      if (waited_ms >= LINK_WITHIN_ms)
        throw new ServeError(`socat made no pseudo-terminal at ${this.#path}.`);
      await new Promise((done) => setTimeout(done, LOOK_EVERY_ms));
    }
  }

  async close(): Promise<void> {
    this.#isClosing = true;
    const child = this.#child;
    if (child && child.exitCode === null && child.signalCode === null) {
      const ended = new Promise((done) => child.once("exit", done));
      child.kill("SIGTERM");
      await ended;
    }
    removeDeadLink(this.#path);
  }

  kill(): void {
    this.#isClosing = true;
    this.#child?.kill("SIGTERM");
  }

  #start(): void {
    const started_ms = performance.now();
    const child = spawn(
      "socat",
      [`pty,raw,echo=0,link=${this.#path},wait-slave,pty-interval=0.02`, `tcp:127.0.0.1:${this.#port}`],
      { stdio: "ignore" },
    );
    this.#child = child;
    child.once("error", (error: NodeJS.ErrnoException) => {
      this.#child = null;
      const missing =
        "Pseudo-terminals need the program socat; install it (Debian: apt install socat) or use --tcp.";
      this.#fail(
        new ServeError(error.code === "ENOENT" ? missing : `socat does not start: ${error.message}`),
      );
    });
    child.once("exit", (code) => {
      if (this.#isClosing || this.#child !== child) return;
      const failedAtOnce = code !== 0 && performance.now() - started_ms < QUICK_ms;
      this.#fruitless = failedAtOnce ? this.#fruitless + 1 : 0;
      if (this.#fruitless >= FRUITLESS_MOST) {
        this.#fail(new ServeError(`socat keeps ending at once; ${this.#path} cannot be served.`));
      } else {
        this.#start();
      }
    });
  }

  #fail(failure: ServeError): void {
    this.#failure = failure;
    if (!this.#isClosing) this.#gaveUp(failure);
  }
}

/** Step by step: Node's own way of making all that is missing never ends below /proc (seen with Node 20). */
function makeFolder(absolute: string): void {
  const entry = statSync(absolute, { throwIfNoEntry: false });
  if (entry?.isDirectory()) return;
  if (dirname(absolute) !== absolute) makeFolder(dirname(absolute));
  mkdirSync(absolute);
}

/** A killed socat leaves its link behind; its terminal may by now be somebody else's. */
function clearTheWay(path: string): void {
  const entry = lstatSync(path, { throwIfNoEntry: false });
  if (!entry) return;
  if (!entry.isSymbolicLink()) throw new ServeError(`${path} is in the way; move it or give another --pty.`);
  unlinkSync(path);
}

function removeDeadLink(path: string): void {
  if (lstatSync(path, { throwIfNoEntry: false })?.isSymbolicLink() && !existsSync(path)) unlinkSync(path);
}
