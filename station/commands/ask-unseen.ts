import { createInterface } from "node:readline/promises";
import { Writable } from "node:stream";

/**
 * What is in an environment variable, else asked for without showing what is typed.
 * @returns "" when there is nobody to ask
 */
export async function askUnseen(question: string, variable: string): Promise<string> {
  const given = process.env[variable];
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
