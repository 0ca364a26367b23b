import { Box, Text } from "ink";
import type { ModelLimits } from "../../limits/model.ts";
import { formatMeasured } from "../../limits/print-quantity.ts";
import { limitRange, limitText } from "./live-values.ts";
import { type Look, tint } from "./look.ts";
import type { Verdict } from "./screen-state.ts";

export interface Row {
  readonly name: string;
  readonly value: string;
  readonly spread: string;
  readonly unit: string;
  readonly limit: string;
  readonly mark: string;
}

/** @returns what was measured, one row per characteristic */
export function measuredRows(characteristics: Verdict["characteristics"]): readonly Row[] {
  return characteristics.map((it) => {
    const comparedWith = [it.lower, it.upper].filter((limit) => limit !== undefined);
    const spread = it.expanded_uncertainty;
    const text =
      it.value === null
        ? { value: "not measured" }
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
      mark: it.verdict.toUpperCase(),
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
  }));
}

/**
 * A row per characteristic. The mark stands first, where nothing can cut it off; without room for everything the
 * uncertainty goes, then the end of a long name.
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
  const widest = (cell: keyof Row) => Math.max(0, ...rows.map((row) => row[cell].length));
  const cells = ["mark", "value", "unit", "limit"] as const;
  const needed = cells.reduce((sum, cell) => sum + widest(cell), GAPS);
  const spread = widest("name") + widest("spread") + 1 + needed <= width ? widest("spread") : 0;
  const name = Math.max(SHORTEST_NAME, Math.min(widest("name"), width - needed));
  return (
    <Box flexDirection="column">
      {rows.map((row) => (
        <Text key={row.name} wrap="truncate">
          <Text bold {...tint(look, row.mark === "PASS" ? "green" : row.mark === "FAIL" ? "red" : "yellow")}>
            {row.mark.padEnd(widest("mark"))}
          </Text>
          {widest("mark") > 0 ? " " : ""}
          {`${shortened(row.name, name).padEnd(name)} `}
          <Text bold>{row.value.padStart(widest("value"))}</Text>
          {spread > 0 ? ` ${row.spread.padEnd(spread)}` : ""}
          {` ${row.unit.padEnd(widest("unit"))}  ${row.limit}`}
        </Text>
      ))}
    </Box>
  );
}

/** Between mark, name, value, unit and limit. */
const GAPS = 5;
const SHORTEST_NAME = 8;

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
