import type { TapeEvent } from "./tape-event.ts";

const LF = 0x0a;
const CR = 0x0d;

/**
 * Events without the beginnings of lines at their end whose rest is not on the tape.
 * @param streaming instruments that speak by themselves
 */
export function wholeLines(
  events: readonly TapeEvent[],
  streaming: ReadonlySet<string>,
): readonly TapeEvent[] {
  const kept: TapeEvent[] = [];
  const hasEnded = new Set<string>();
  for (const event of events.toReversed()) {
    if (event.kind !== "heard" || !streaming.has(event.instrument) || hasEnded.has(event.instrument)) {
      kept.push(event);
      continue;
    }
    const end = Math.max(event.bytes.lastIndexOf(LF), event.bytes.lastIndexOf(CR));
    if (end < 0) continue;
    hasEnded.add(event.instrument);
    kept.push({ ...event, bytes: event.bytes.subarray(0, end + 1) });
  }
  return kept.reverse();
}

/** The events of a last connecting without what an instrument still said over the connection before. */
export function sinceOpened(preamble: readonly TapeEvent[]): readonly TapeEvent[] {
  const opened = new Map<string, number>();
  preamble.forEach((event, at) => {
    if (event.kind === "opened") opened.set(event.instrument, at);
  });
  return preamble.filter(
    (event, at) => !("instrument" in event) || at >= (opened.get(event.instrument) ?? 0),
  );
}

/**
 * How far to move up each instrument's part of a last connecting, as if the attempt had followed at once: its driver
 * then finds no silence that never was.
 */
export function aheadOf(
  preamble: readonly TapeEvent[],
  attempt: readonly TapeEvent[],
): ReadonlyMap<string, number> {
  const last = new Map<string, number>();
  for (const event of preamble) if ("instrument" in event) last.set(event.instrument, event.t_s);
  const first = new Map<string, number>();
  for (const event of attempt.toReversed()) if ("instrument" in event) first.set(event.instrument, event.t_s);
  const begin_s = attempt[0]?.t_s ?? 0;
  return new Map([...last].map(([name, last_s]) => [name, (first.get(name) ?? begin_s) - last_s]));
}
