import type { Readable } from "node:stream";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/station-machine.ts";
import { UsageError } from "./explain.ts";

/** Characters of a line; far more than a serial and its parts need. */
export const LONGEST_SCAN = 200;
const SHOWN_OF_TOO_LONG = 40;

/**
 * A scanned line: the serial, then tracked parts as name=value, separated by blanks.
 * @returns null for an empty line
 * @example parseScan("POD000123 tub_cavity=P2") // { serial: "POD000123", parts: { tub_cavity: "P2" } }
 */
export function parseScan(line: string): Scan | null {
  if (line.length > LONGEST_SCAN) return tooLong(line);
  const [serial, ...rest] = line.trim().split(/\s+/);
  if (!serial) return null;
  const parts = new Map<string, string>();
  const misread: Reason[] = [];
  for (const part of rest) {
    const at = part.indexOf("=");
    const [name, value] = at < 0 ? [part, ""] : [part.slice(0, at), part.slice(at + 1)];
    const before = parts.get(name);
    if (before !== undefined && before !== value) misread.push(contradiction(name, before, value));
    parts.set(name, value);
  }
  const scan = { serial, parts: Object.fromEntries(parts) };
  return misread.length === 0 ? scan : { ...scan, misread };
}

function tooLong(line: string): Scan {
  const beginning = `${line.slice(0, SHOWN_OF_TOO_LONG).trim()}...`;
  const sentence = `The scan is longer than ${LONGEST_SCAN} characters; it begins with ${JSON.stringify(beginning)}. Scan one label at a time.`;
  return { serial: beginning, parts: {}, misread: [{ code: "SCAN_TOO_LONG", sentence }] };
}

function contradiction(name: string, one: string, other: string): Reason {
  const part = name.replaceAll("_", " ");
  return {
    code: "BAD_PART",
    sentence: `The scan names the ${part} twice, as ${JSON.stringify(one)} and as ${JSON.stringify(other)}. Look which is in the unit and scan it again with that one.`,
  };
}

/**
 * Scans as they are typed or piped in, until the input ends, somebody stops or there are this many.
 * @throws UsageError when the input can't be read
 */
export async function* scannedLines(input: Readable, stop: AbortSignal, count: number): AsyncGenerator<Scan> {
  const end = () => input.destroy();
  stop.addEventListener("abort", end);
  try {
    let left = count;
    if (left <= 0 || stop.aborted) return;
    for await (const line of linesOf(input)) {
      const scan = parseScan(line);
      if (!scan) continue;
      yield scan;
      if (--left <= 0) return;
    }
  } catch (error) {
    // An input that is destroyed while it is read says so as an error.
    if (stop.aborted) return;
    const why = error instanceof Error ? error.message : String(error);
    throw new UsageError(`Standard input can't be read (${why}).`);
  } finally {
    stop.removeEventListener("abort", end);
    input.destroy();
  }
}

/** Lines without their ends. Of one that is too long only so much that it shows: a jammed scanner may never end it. */
async function* linesOf(input: Readable): AsyncGenerator<string> {
  input.setEncoding("utf8");
  let rest = "";
  for await (const text of input) {
    const lines = `${rest}${text}`.split(/\r\n|[\r\n]/);
    rest = (lines.pop() ?? "").slice(0, LONGEST_SCAN + 1);
    yield* lines;
  }
  if (rest !== "") yield rest;
}

/**
 * Whether somebody has piped something in. An input that stays open without a byte, as many program starters leave it,
 * counts as nothing after the wait.
 */
export function hasInput(input: Readable, wait_ms: number): Promise<boolean> {
  return new Promise((resolve) => {
    const answer = (has: boolean) => () => {
      clearTimeout(timer);
      input.off("readable", onReadable);
      input.off("end", onEnd);
      input.off("error", onEnd);
      if (!has) input.destroy();
      resolve(has);
    };
    const onReadable = () => {
      if (input.readableLength > 0) answer(true)();
    };
    const onEnd = answer(false);
    const timer = setTimeout(onEnd, wait_ms);
    input.on("readable", onReadable);
    input.on("end", onEnd);
    input.on("error", onEnd);
  });
}
