import { createInterface } from "node:readline";
import type { Readable } from "node:stream";
import type { Scan } from "./cycle/station-machine.ts";

/**
 * A scanned line: the serial, then tracked parts as name=value, separated by blanks.
 * @returns null for an empty line
 * @example parseScan("POD000123 tub_cavity=P2") // { serial: "POD000123", parts: { tub_cavity: "P2" } }
 */
export function parseScan(line: string): Scan | null {
  const [serial, ...rest] = line.trim().split(/\s+/);
  if (!serial) return null;
  const parts = rest.map((part) => {
    const at = part.indexOf("=");
    return at < 0 ? ([part, ""] as const) : ([part.slice(0, at), part.slice(at + 1)] as const);
  });
  return { serial, parts: Object.fromEntries(parts) };
}

/** Scans as they are typed or piped in, until the input ends, somebody stops or there are this many. */
export async function* scannedLines(input: Readable, stop: AbortSignal, count: number): AsyncGenerator<Scan> {
  const lines = createInterface({ input, crlfDelay: Number.POSITIVE_INFINITY, signal: stop });
  try {
    let left = count;
    if (left <= 0) return;
    for await (const line of lines) {
      const scan = parseScan(line);
      if (!scan) continue;
      yield scan;
      if (--left <= 0) return;
    }
  } finally {
    lines.close();
    input.destroy();
  }
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
