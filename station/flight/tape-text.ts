import type { Levels } from "../../drivers/ports.ts";
import { visible } from "../bring-up/heard-bytes.ts";
import type { Compared, TapeComparison } from "./tape-comparison.ts";
import type { TapeEvent } from "./tape-event.ts";
import type { TapeRecord } from "./tape-record.ts";
import { type Framings, frameOnCable } from "./taped-frames.ts";

/** Longer texts of the traveller, such as curves, are not for reading. */
const SHOWN_LONGEST = 160;

/**
 * The raw conversation, a line for whatever was sent, heard, commanded or went wrong; nothing in it invisible, and
 * Modbus frames as hex with what they mean.
 * @param only this instrument's
 * @param zero_s what times are counted from
 * @example "    4.079 s  leak_gauge     <  N=000210 P=+1998.42 S=0\\r\\n"
 */
export function* conversationLines(
  events: readonly TapeEvent[],
  zero_s: number,
  only: string | null,
  framings: Framings = new Map(),
): Generator<string> {
  for (const event of events) {
    const instrument = "instrument" in event ? event.instrument : "";
    if (only !== null && instrument !== only) continue;
    const said = saidIn(event, framings);
    if (said === null) continue;
    yield `${(event.t_s - zero_s).toFixed(3).padStart(9)} s  ${instrument.padEnd(14)} ${said}`;
  }
}

/** When the test began, on the tape's clock: its cycle's first look at it. */
export function beginOf(events: readonly TapeEvent[]): number {
  return (events.find(({ kind }) => kind === "now") ?? events[0])?.t_s ?? 0;
}

function saidIn(event: TapeEvent, framings: Framings): string | null {
  switch (event.kind) {
    case "heard":
    case "sent": {
      const framing = framings.get(event.instrument);
      const shown = framing ? frameOnCable(framing, event.bytes, event.kind) : visible(event.bytes);
      return `${event.kind === "heard" ? "<" : ">"}  ${shown}`;
    }
    case "opened":
      return "-- connected";
    case "shut":
      return "-- disconnected by the station";
    case "refused":
      return `-- not connected: ${event.message}`;
    case "lost":
      return `-- ended: ${event.message}`;
    case "fault":
      return "-- faulted";
    case "levels":
      return `-- inputs: ${levelWords(event.levels)}`;
    case "called":
      return event.levels === null ? null : `-- commanded: ${levelWords(event.levels)}`;
    case "ended":
      if (event.call === "set") return event.well ? "-- confirmed" : "-- not confirmed";
      return event.well ? null : `-- could not ${event.call}`;
    case "timer":
      return `-- a time of the test ran out: ${event.delay_ms / 1000} s`;
    case "told":
      return `-- the test was told: ${JSON.stringify(event.event)}`;
    case "given":
      return event.what === "begun" ? "-- the attempt is on disk" : "-- the room's air as it was entered";
    case "now":
    case "wall":
    case "readings":
    case "ran":
      return null;
  }
}

/** @example levelWords({ source: true, vent: false }) // "source on, vent off" */
export function levelWords(levels: Levels): string {
  return Object.entries(levels)
    .map(([name, level]) => `${name} ${level ? "on" : "off"}`)
    .join(", ");
}

/** What was recorded beside what was found again. */
export function comparisonText(
  { characteristics, differing, isSame }: TapeComparison,
  verdicts: { readonly recorded: string; readonly replayed: string },
): string {
  const rows = [
    ["", "recorded", "replayed"],
    ["verdict", verdicts.recorded, verdicts.replayed],
    ...characteristics.map(({ what, recorded, replayed }) => [what, recorded ?? "-", replayed ?? "-"]),
  ];
  const widths = [0, 1].map((column) => Math.max(...rows.map((row) => row[column]?.length ?? 0)));
  const table = rows.map((row) =>
    row
      .map((cell, column) => cell.padEnd(widths[column] ?? 0))
      .join("  ")
      .trimEnd(),
  );
  const end = isSame
    ? ["The same to the last digit: verdict, reasons, values, uncertainties, curves, phases and their times."]
    : ["Not the same:", ...differing.flatMap(differenceLines)];
  return [...table, ...end].join("\n");
}

/** Whether the tape may be taken at its word. */
export function recordLine({ is, path }: TapeRecord): string {
  switch (is) {
    case "same":
      return "The tape's traveller is the one on record, to the byte.";
    case "another":
      return `Another text is on record: ${path} is not what the tape says was recorded. One of them was changed; drumtight audit tells whether it was the record.`;
    case "none":
      return "No record lies beside the tape, so only the tape itself says what was recorded.";
  }
}

function differenceLines({ what, recorded, replayed }: Compared): string[] {
  return [`  ${what}`, `    recorded  ${shortened(recorded)}`, `    replayed  ${shortened(replayed)}`];
}

function shortened(text: string | null): string {
  if (text === null) return "nothing";
  return text.length <= SHOWN_LONGEST
    ? text
    : `${text.slice(0, SHOWN_LONGEST)}... (${text.length} characters)`;
}
