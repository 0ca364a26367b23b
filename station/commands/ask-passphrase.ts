import { createInterface } from "node:readline/promises";
import { Writable } from "node:stream";

/** The passphrase from DRUMTIGHT_PASSPHRASE, else asked for without showing what is typed; "" when there is nobody to ask. */
export async function askPassphrase(question: string): Promise<string> {
  const given = process.env.DRUMTIGHT_PASSPHRASE;
  if (given !== undefined) return given;
  if (!process.stdin.isTTY) return "";
  process.stderr.write(question);
  const unseen = new Writable({ write: (_chunk, _encoding, done) => done() });
  const typed = createInterface({ input: process.stdin, output: unseen, terminal: true });
  const interrupted = new AbortController();
  typed.once("SIGINT", () => interrupted.abort());
  try {
    return await typed.question("", { signal: interrupted.signal });
  } catch (error) {
    if (interrupted.signal.aborted) return "";
    throw error;
  } finally {
    typed.close();
    process.stderr.write("\n");
  }
}
