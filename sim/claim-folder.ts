import { createHash } from "node:crypto";
import { once } from "node:events";
import { rmSync } from "node:fs";
import { connect, createServer } from "node:net";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { ServeError } from "./serve-error.ts";

/**
 * Keeps a second server out of a folder. Whoever serves in it listens on a socket named after it; one that nobody
 * answers is left from a server that was killed.
 * @param folder absolute, without links in it
 * @returns release
 * @throws ServeError when somebody serves there
 */
export async function claimFolder(folder: string): Promise<() => Promise<void>> {
  const name = createHash("sha256").update(folder).digest("hex").slice(0, 16);
  // Not in the folder itself: a socket's path may have no more than a hundred characters.
  const path = join(tmpdir(), `drumtight-serve-${name}.sock`);
  if (await answers(path)) {
    throw new ServeError(`Another sim serve runs in ${folder}; stop it or give another --pty.`);
  }
  rmSync(path, { force: true });
  const server = createServer((caller) => caller.destroy());
  server.listen(path);
  await once(server, "listening");
  server.unref();
  return () => new Promise((resolve) => server.close(() => resolve()));
}

function answers(path: string): Promise<boolean> {
  return new Promise((resolve) => {
    const caller = connect(path);
    const heard = (answered: boolean) => () => {
      caller.destroy();
      resolve(answered);
    };
    caller.once("connect", heard(true));
    caller.once("error", heard(false));
  });
}
