import type { DriverErrorCode } from "../../drivers/ports.ts";
import { formatMeasured, formatNumber } from "../../limits/print-quantity.ts";
import type { GaugeWatch, WatchCounts } from "./gauge-watch.ts";
import type { ShownChannel } from "./shown-channel.ts";
import { noiseOf, paceOf, seriesOf } from "./watch-figures.ts";

/** What a watched gauge shows at a moment. */
export interface WatchState {
  readonly isConnected: boolean;
  /** Why it is not connected; "" while it is. */
  readonly fault: string;
  readonly channels: readonly {
    readonly name: string;
    readonly unit: string;
    /** Null where it is over range or invalid. */
    readonly value: number | null;
    readonly quality: string;
    readonly noise: number | null;
  }[];
  readonly rate_Hz: number | null;
  readonly jitter_s: number | null;
  readonly counts: WatchCounts;
  readonly lastLine: string;
}

/** @param lastLine as it came, unprintable bytes escaped */
export function watchState(
  watch: GaugeWatch,
  channels: readonly ShownChannel[],
  lastLine: string,
): WatchState {
  const lines = watch.lines();
  const pace = paceOf(lines);
  const last = lines.at(-1)?.readings ?? [];
  return {
    isConnected: watch.fault === null,
    fault: watch.fault?.message ?? "",
    channels: channels.map(({ name, unit, shown, shownDifference }) => {
      const reading = last.find(({ channel }) => channel === name);
      const noise = noiseOf(seriesOf(lines, name));
      return {
        name,
        unit,
        value: reading?.quality === "good" ? shown(reading.value) : null,
        quality: reading?.quality ?? "none",
        noise: noise === null ? null : shownDifference(noise),
      };
    }),
    rate_Hz: pace?.rate_Hz ?? null,
    jitter_s: pace?.jitter_s ?? null,
    counts: watch.counts,
    lastLine,
  };
}

/** Kinds of fault as people count them. */
const FAULTS: readonly (readonly [words: string, codes: readonly DriverErrorCode[]])[] = [
  ["silent or half a line", ["REPLY_TIMEOUT"]],
  ["malformed", ["REPLY_MALFORMED"]],
  ["too long", ["LINE_TOO_LONG"]],
  ["out of sequence", ["OUT_OF_SEQUENCE"]],
  ["port lost", ["PORT_LOST", "PORT_MISSING", "PORT_BUSY"]],
  ["wrong instrument", ["WRONG_INSTRUMENT"]],
  ["its own error", ["INSTRUMENT_ERROR"]],
];

/** Rows for a terminal, to be drawn over the ones before. */
export function watchRows(state: WatchState): string[] {
  const { counts } = state;
  const width = Math.max(0, ...state.channels.map(({ name }) => name.length));
  return [
    ...state.channels.map(
      ({ name, unit, value, quality, noise }) =>
        `${name.padEnd(width)}  ${valueText(value, noise, quality).padStart(12)} ${unit.padEnd(6)} noise ${noise === null ? "-" : `${formatNumber(noise, { significant: 2 })} ${unit}`}`,
    ),
    `rate ${state.rate_Hz === null ? "-" : formatNumber(state.rate_Hz, { significant: 3 })} /s, jitter ${milliseconds(state.jitter_s)}, longest gap ${milliseconds(counts.longestGap_s)}`,
    `${counts.lines} lines, ${counts.overRange} over range, ${counts.invalid} invalid, ${counts.missing} missing by its counter`,
    `faults: ${faultsText(counts)}; reconnected ${counts.reconnects} times`,
    `last line: ${state.lastLine}`,
    state.isConnected ? "" : state.fault,
  ];
}

/** One line, for a log. */
export function watchLine(state: WatchState): string {
  const values = state.channels.map(
    ({ name, unit, value, quality, noise }) =>
      `${name} ${valueText(value, noise, quality)} ${unit}${noise === null ? "" : ` (noise ${formatNumber(noise, { significant: 2 })})`}`,
  );
  const rate = state.rate_Hz === null ? "-" : formatNumber(state.rate_Hz, { significant: 3 });
  const faults = faultsText(state.counts);
  return state.isConnected
    ? `${values.join(", ")}; ${rate} /s, jitter ${milliseconds(state.jitter_s)}, faults ${faults}`
    : `not connected: ${state.fault}`;
}

export function faultsText({ faults }: Pick<WatchCounts, "faults">): string {
  const counted = FAULTS.flatMap(([words, codes]) => {
    const count = codes.reduce((sum, code) => sum + (faults.get(code) ?? 0), 0);
    return count > 0 ? [`${count} ${words}`] : [];
  });
  return counted.length > 0 ? counted.join(", ") : "none";
}

function valueText(value: number | null, noise: number | null, quality: string): string {
  if (value === null) return quality === "none" ? "-" : quality;
  // A digit beyond the noise lets it be seen.
  return formatMeasured({ value, ...(noise === null ? {} : { uncertainty: noise }) }).value;
}

function milliseconds(time_s: number | null): string {
  return time_s === null ? "-" : `${formatNumber(time_s * 1000, { significant: 3 })} ms`;
}
