import { formatNumber } from "../../../limits/print-quantity.ts";
import { UsageError } from "../../explain.ts";

/** An answer for programs, `--json`'s fields, and for people. */
export interface Answer {
  readonly fields: Readonly<Record<string, unknown>>;
  readonly lines: readonly string[];
}

/** Prints the answer as lines, or as one JSON object whose numbers are free of the last digits' noise. */
export function printResult(
  json: true | undefined,
  fields: Readonly<Record<string, unknown>>,
  lines: readonly string[],
): void {
  const text = JSON.stringify(fields, (_, value: unknown) =>
    typeof value === "number" ? finite(value) : value,
  );
  process.stdout.write(json ? `${text}\n` : lines.map((line) => `${line}\n`).join(""));
}

/** @returns a number for a person to read, six digits of it; small ones as 3.69248e-5 */
export function sixDigits(value: number): string {
  if (value !== 0 && Math.abs(value) < 1e-3) return Number(value.toPrecision(6)).toExponential();
  return formatNumber(value, { significant: 6 });
}

/** What to put behind a value that was not given. */
export function byDefault(isAssumed: boolean): string {
  return isAssumed ? " (house default)" : "";
}

function finite(value: number): number {
  if (!Number.isFinite(value)) {
    throw new UsageError("These quantities are too large or too small to calculate with.");
  }
  return Number(value.toPrecision(12));
}
