import type { Readable } from "node:stream";
import { escaped } from "../limits/escaped-text.ts";
import { RETEST_KEY } from "../limits/label-checks.ts";
import type { Reason } from "./cycle/reason.ts";
import type { Scan } from "./cycle/scan.ts";
import { UsageError } from "./explain.ts";
import { partName, quoted } from "./shown-text.ts";

/** Characters of a line; far more than a serial and its parts need. */
export const LONGEST_SCAN = 200;
const SHOWN_OF_TOO_LONG = 40;

/**
 * A scanned line: the serial, then tracked parts as name=value and the number of a retest's reason, separated by blanks.
 * @returns null for an empty line
 * @example parseScan("POD000123 tub_cavity=P2") // { serial: "POD000123", parts: { tub_cavity: "P2" } }
 * @example parseScan("POD000123 retest=2") // { serial: "POD000123", parts: {}, retestReason: 2 }
 */
export function parseScan(line: string): Scan | null {
  if (line.length > LONGEST_SCAN) return tooLong(line);
  const [serial, ...rest] = line.trim().split(/\s+/);
  if (!serial) return null;
  return { serial, ...parseParts(rest) };
}

/**
 * What a line names beside the serial.
 * @param words as name=value; one without "=" is a part of that name with nothing scanned for it
 */
export function parseParts(words: readonly string[]): Omit<Scan, "serial"> {
  const values = new Map<string, string>();
  const misread: Reason[] = [];
  for (const word of words) {
    const at = word.indexOf("=");
    const [name, value] = at < 0 ? [word, ""] : [word.slice(0, at), word.slice(at + 1)];
    const before = values.get(name);
    if (before !== undefined && before !== value) misread.push(contradiction(name, before, value));
    values.set(name, value);
  }
  const retest = values.get(RETEST_KEY);
  values.delete(RETEST_KEY);
  if (retest !== undefined && !/^[1-9]$/.test(retest) && misread.length === 0) misread.push(noNumber(retest));
  return {
    parts: Object.fromEntries(values),
    ...(retest === undefined || misread.length > 0 ? {} : { retestReason: Number(retest) }),
    ...(misread.length === 0 ? {} : { misread }),
  };
}

function tooLong(line: string): Scan {
  const beginning = `${line.slice(0, SHOWN_OF_TOO_LONG).trim()}...`;
  const sentence = `The scan is longer than ${LONGEST_SCAN} characters; it begins with ${escaped(JSON.stringify(beginning))}. Scan one label at a time.`;
  return { serial: beginning, parts: {}, misread: [{ code: "SCAN_TOO_LONG", sentence }] };
}

function contradiction(name: string, one: string, other: string): Reason {
  if (name === RETEST_KEY) {
    const sentence = `The scan gives two reasons for the retest, ${quoted(one)} and ${quoted(other)}. Scan it again with one of them.`;
    return { code: "RETEST_REASON_MISSING", sentence };
  }
  const sentence = `The scan names the ${partName(name)} twice, as ${quoted(one)} and as ${quoted(other)}. Look which is in the unit and scan it again with that one.`;
  return { code: "BAD_PART", sentence };
}

function noNumber(text: string): Reason {
  const sentence = `The reason of a retest is a number from 1 to 9, and not ${quoted(text)}. Scan the unit again with one, like retest=1.`;
  return { code: "RETEST_REASON_MISSING", sentence };
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
