import { spawn } from "node:child_process";
import { UsageError } from "../explain.ts";

/** What CUPS takes as a queue's name: no spaces, no slash, no number sign (from memory); and nothing that reads as an option. */
const QUEUE = /^[A-Za-z0-9_][A-Za-z0-9_.-]{0,126}$/;

/** @throws UsageError for a text that is no queue's name */
export function requireQueueName(queue: string): void {
  if (QUEUE.test(queue)) return;
  throw new UsageError(
    `${JSON.stringify(queue)} is no name of a printer queue: letters, digits, _ . and -; lpstat -e lists those of this computer.`,
  );
}

/** What is to be printed, and how. */
export interface PrintJob {
  readonly queue: string;
  readonly pdf: Uint8Array;
  /** As the list of jobs shows it. */
  readonly title: string;
  /** Of the paper; the printer must not fit the page to another one, or codes change their size. */
  readonly media: string;
}

/** How long a queue may take to accept a page: it takes it from the spooler, not from the printer. */
const LONGEST_ms = 20_000;

/**
 * Hands a page to a printer queue by CUPS' `lp`.
 * @returns what lp says: the job's number
 * @throws UsageError where lp is not installed, or refuses it
 */
export async function printOn({ queue, pdf, title, media }: PrintJob): Promise<string> {
  requireQueueName(queue);
  const options = ["-o", `media=${media}`, "-o", "print-scaling=none"];
  const child = spawn("lp", ["-d", queue, "-t", title, ...options, "-"], { timeout: LONGEST_ms });
  const said = { out: "", err: "" };
  child.stdout.setEncoding("utf8").on("data", (text: string) => {
    said.out += text;
  });
  child.stderr.setEncoding("utf8").on("data", (text: string) => {
    said.err += text;
  });
  // An lp that ends before it has read everything says why on its own.
  child.stdin.on("error", () => undefined);
  child.stdin.end(pdf);
  const status = await new Promise<number | null>((resolve, reject) => {
    child.on("close", resolve);
    child.on("error", (error: NodeJS.ErrnoException) => {
      const missing = error.code === "ENOENT";
      reject(
        new UsageError(
          missing
            ? "There is no lp on this computer, so nothing was printed: install CUPS' client (on Debian, cups-client), or write the page with --pdf FILE and print that."
            : `lp can't be run, so nothing was printed: ${error.message}.`,
        ),
      );
    });
  });
  if (status === 0) return said.out.trim();
  const why = said.err
    .trim()
    .replace(/^lp: /, "")
    .replace(/\s+/g, " ")
    .replace(/[.\s]+$/, "");
  const ended =
    status === null ? "did not answer in time" : why === "" ? `ended with ${status}` : `says: ${why}`;
  throw new UsageError(
    `Nothing was printed on ${queue}: lp ${ended}. lpstat -e lists the queues; --pdf FILE writes the page instead.`,
  );
}
