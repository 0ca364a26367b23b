import { Box, Text } from "ink";
import type { ModelLimits } from "../../limits/model.ts";
import { formatMeasured } from "../../limits/print-quantity.ts";
import { decidedEarly, secondsText } from "../records/early-verdict-text.ts";
import { limitRange, limitText } from "./live-values.ts";
import { type Look, tint } from "./look.ts";
import type { Verdict } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

export interface Row {
  readonly name: string;
  readonly value: string;
  readonly spread: string;
  readonly unit: string;
  readonly limit: string;
  /** Empty for what was not measured, which says nothing of the unit. */
  readonly mark: string;
  /** Why the row reads as it does, beneath it; empty where that needs no words. */
  readonly note: string;
  /** Within its limits and yet failed, or decided early: without its spread the row can't be understood. */
  readonly needsSpread: boolean;
}

export function isMeasured({ value }: Row): boolean {
  return value !== NOT_MEASURED;
}

/** @returns the lines that Characteristics takes for these rows in this width */
export function linesOf(rows: readonly Row[], width: number): number {
  const { mark, spread } = columnsOf(rows, width);
  const notes = rows.map((row) => noteLines(row, spread > 0, width - indentOf(mark).length).length);
  return notes.reduce((sum, lines) => sum + 1 + lines, 0);
}

/** @returns what was measured, one row per characteristic */
export function measuredRows(characteristics: Verdict["characteristics"]): readonly Row[] {
  return characteristics.map((it) => {
    const comparedWith = [it.lower, it.upper].filter((limit) => limit !== undefined);
    const spread = it.expanded_uncertainty;
    const early = decidedEarly(it);
    const isClose = it.verdict === "fail" && isWithinLimits(it);
    const text =
      it.value === null
        ? { value: NOT_MEASURED }
        : formatMeasured({
            value: it.value,
            comparedWith,
            ...(spread === null ? {} : { uncertainty: spread }),
          });
    const isEstimate = it.value !== null && it.uncertainty === null;
    return {
      name: plainName(it.name),
      value: isEstimate ? `about ${Number((it.value ?? 0).toPrecision(2))}` : text.value,
      spread: text.uncertainty === undefined ? "" : `+- ${text.uncertainty}`,
      unit: it.value === null ? "" : plainUnit(it.unit),
      limit: limitRange(it.lower, it.upper),
      mark: it.value === null && it.verdict === "void" ? "" : it.verdict.toUpperCase(),
      note: early
        ? `early: sure ${secondsText(early.afterFill_s)} after the fill`
        : isClose
          ? "too close to its limit to be sure"
          : "",
      needsSpread: early !== null || isClose,
    };
  });
}

/** @returns what a unit is going to be judged by */
export function limitRows({ characteristics }: ModelLimits): readonly Row[] {
  return characteristics.map((it) => ({
    name: plainName(it.name),
    value: "",
    spread: "",
    unit: plainUnit(it.unit),
    limit: limitText(it),
    mark: "",
    note: "",
    needsSpread: false,
  }));
}

function isWithinLimits({ value, lower, upper }: Verdict["characteristics"][number]): boolean {
  return value !== null && value >= (lower ?? value) && value <= (upper ?? value);
}

/**
 * A row per characteristic. The mark stands first, where nothing can cut it off; without room for everything the
 * uncertainty goes, beneath its row where it matters, then the end of a long name.
 */
export function Characteristics({
  look,
  rows,
  width,
}: {
  readonly look: Look;
  readonly rows: readonly Row[];
  readonly width: number;
}) {
  const { mark, name, value, spread, unit, measured } = columnsOf(rows, width);
  const indent = indentOf(mark);
  return (
    <Box flexDirection="column">
      {rows.map((row) => (
        <Box key={row.name} flexDirection="column">
          <Text wrap="truncate">
            <Text
              bold
              {...tint(look, row.mark === "PASS" ? "green" : row.mark === "FAIL" ? "red" : "yellow")}
            >
              {row.mark.padEnd(indent.length)}
            </Text>
            {`${shortened(row.name, name).padEnd(name)} `}
            {isMeasured(row) ? (
              <>
                <Text bold>{row.value.padStart(value)}</Text>
                {`${spread > 0 ? ` ${row.spread.padEnd(spread)}` : ""} ${row.unit.padEnd(unit)}`.padEnd(
                  measured - value,
                )}
              </>
            ) : (
              <Text bold>{NOT_MEASURED.padEnd(measured)}</Text>
            )}
            {`  ${row.limit}`}
          </Text>
          {noteLines(row, spread > 0, width - indent.length).map((line) => (
            <Text key={line} wrap="truncate">{`${indent}${line}`}</Text>
          ))}
        </Box>
      ))}
    </Box>
  );
}

const NOT_MEASURED = "not measured";
/** After mark and name, and before the limit. */
const GAPS = 4;
const SHORTEST_NAME = 8;

/** Widths; `measured` is that of value, spread and unit together, and a spread of none leaves it out. */
function columnsOf(rows: readonly Row[], width: number) {
  const widest = (cell: "mark" | "name" | "spread" | "unit" | "limit") =>
    Math.max(0, ...rows.map((row) => row[cell].length));
  const value = Math.max(0, ...rows.flatMap((row) => (isMeasured(row) ? [row.value.length] : [])));
  const unmeasured = rows.every(isMeasured) ? 0 : NOT_MEASURED.length;
  const measuredWith = (spread: number) =>
    Math.max(unmeasured, value + (spread > 0 ? spread + 1 : 0) + 1 + widest("unit"));
  const others = widest("mark") + widest("limit") + GAPS;
  const fits = others + widest("name") + measuredWith(widest("spread")) <= width;
  const spread = fits ? widest("spread") : 0;
  const measured = measuredWith(spread);
  const name = Math.max(SHORTEST_NAME, Math.min(widest("name"), width - others - measured));
  return { mark: widest("mark"), name, value, spread, unit: widest("unit"), measured };
}

function indentOf(mark: number): string {
  return " ".repeat(mark === 0 ? 0 : mark + 1);
}

function noteLines(row: Row, hasSpread: boolean, width: number): readonly string[] {
  const said = [!hasSpread && row.needsSpread ? row.spread : "", row.note].filter((text) => text !== "");
  return wrapWords(said.join(", "), width);
}

function shortened(name: string, width: number): string {
  return name.length <= width ? name : `${name.slice(0, width - 1)}…`;
}

function plainName(name: string): string {
  return name.replaceAll("_", " ");
}

/** Reference conditions stand in the traveller. */
function plainUnit(unit: string): string {
  return unit.split(" @ ")[0] ?? unit;
}
