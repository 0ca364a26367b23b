import type { LeakStep } from "../../../limits/model.ts";
import { formatNumber } from "../../../limits/print-quantity.ts";

/** A leak step's timing as lines of a limit file, to stand in place of those of the same keys. */
export function timingLines(
  step: Pick<LeakStep, "settle_s" | "measureLongest_s" | "method" | "earlyVerdict">,
): string[] {
  const { method, earlyVerdict: early } = step;
  const by =
    method.kind === "fitted"
      ? "{ kind: fitted }"
      : `{ kind: ${method.kind}, subtract_mean_curve: ${method.subtractsMeanCurve} }`;
  return [
    `settle: ${formatNumber(step.settle_s)} s`,
    `method: ${by}`,
    `measure_longest: ${formatNumber(step.measureLongest_s)} s`,
    // One key a line: a terminal would break a longer one.
    ...(early
      ? [
          "early_verdict:",
          `  measure_shortest: ${formatNumber(early.measureShortest_s)} s`,
          `  look_every: ${formatNumber(early.lookEvery_s)} s`,
          `  false_accept: ${percent(early.falseAccept)}`,
          `  false_reject: ${percent(early.falseReject)}`,
        ]
      : ['early_verdict: "off"']),
  ];
}

/**
 * An upper limit as a line of a limit file, rounded down to three digits: never above what it was worked out from.
 * @example upperLine(52.987, "mL/min @ 20 degC") // "upper: 52.9 mL/min @ 20 degC"
 */
export function upperLine(limit: number, unit: string): string {
  return `upper: ${formatNumber(roundedDown(limit))} ${unit}`;
}

/** To three significant digits, towards smaller. */
export function roundedDown(limit: number): number {
  const place = 10 ** (Math.floor(Math.log10(limit)) - 2);
  // What is a multiple already must not lose one for the last bit.
  return Number((Math.floor(limit / place + 1e-9) * place).toPrecision(3));
}

function percent(part: number): string {
  return `${formatNumber(100 * part)} %`;
}
