import { formatMeasured, formatNumber } from "../../../limits/print-quantity.ts";
import { NoStudy, type StudyAnswer, type StudyReport } from "../study-report.ts";
import { isEnough, meanOf } from "./baseline.ts";
import { drawnChart, refuseInfinite } from "./chart-report.ts";
import { signalRows } from "./signal-rows.ts";
import { type ReferenceCheck, type Stability, stabilityOf } from "./stability.ts";

export interface StabilityOptions {
  readonly lambda?: number | undefined;
  /** How far a reading may be off the certified value, in its unit; above 0. */
  readonly tolerance?: number | undefined;
  /** What was checked: "leak rate of REF-LEAK-TUB-12". */
  readonly of?: string | undefined;
  readonly unit?: string | undefined;
}

/**
 * Reference checks over time as a report: yes while nothing changes, marginal while what changes is within the tolerance.
 * @throws NoStudy where the checks can't tell, or a tolerance is stated without certified values
 */
export function stabilityReport(checks: readonly ReferenceCheck[], options: StabilityOptions): StudyReport {
  const { tolerance, of, unit } = options;
  if (tolerance !== undefined && !(tolerance > 0 && Number.isFinite(tolerance)))
    throw new NoStudy("The tolerance is how far a reading may be off: give a number above 0.");
  const stability = stabilityOf(checks, options);
  const { deviations, drift, isCertified, individuals, ewma } = stability;
  if (tolerance !== undefined && !isCertified)
    throw new NoStudy("A tolerance is about certified values: give the column reference, too.");
  const found = foundIn(stability, tolerance);
  const bias = isCertified ? meanOf(deviations) : null;
  const figures = {
    n: checks.length,
    bias,
    sigma: individuals.figures.sigma ?? null,
    CL: individuals.figures.CL ?? null,
    UCL: individuals.figures.UCL ?? null,
    LCL: individuals.figures.LCL ?? null,
    EWMA_CL: ewma.figures.CL ?? null,
    EWMA_UCL: ewma.figures.UCL ?? null,
    EWMA_LCL: ewma.figures.LCL ?? null,
    lambda: ewma.figures.lambda ?? null,
    drift: drift.slope,
    drift_per: drift.per,
    drift_standard_error: drift.standardError,
    drift_CI95: drift.CI95,
    is_drifting: found.isDrifting,
    tolerance: tolerance ?? null,
    until_tolerance: found.untilTolerance,
    signals: found.signals.map(({ index, rule, chart, sentence }) => ({ index, rule, chart, sentence })),
    deviations,
    ewma: ewma.figures.ewma ?? null,
  };
  refuseInfinite(figures);
  const unitText = unit === undefined ? "" : ` ${unit}`;
  return {
    title: "Stability of reference checks",
    question: "Does the station read its reference pieces as it did before?",
    subject: `${of === undefined ? "" : `${of}, `}${checks.length} checks${unit === undefined ? "" : `, in ${unit}`}`,
    conclusion: conclusionOf(stability, found, { unit: unitText, tolerance }),
    answer: found.answer,
    bands: [
      {
        text: "stable: no signal on either chart (three sigma; nine in a row on one side), and a drift whose 95 % interval holds zero",
        source: "AIAG MSA, 4th ed., stability by control charts; NIST/SEMATECH e-Handbook 6.3.2",
      },
    ],
    notes: [
      ...individuals.notes,
      ...(isCertified
        ? []
        : ["No certified values were given: the averages are held against the readings' own mean."]),
      ...(isCertified && tolerance === undefined
        ? [
            "A certificate's value is uncertain itself: a small constant deviation may be the piece's. State a tolerance to tell what matters.",
          ]
        : []),
    ],
    tables: [
      {
        caption: isCertified ? "Deviation from the certified value" : "Readings",
        columns: [
          { heading: "", kind: "text" },
          { heading: unit ?? "value", kind: "number" },
        ],
        rows: [
          [isCertified ? "mean deviation (bias)" : "mean", shown(meanOf(deviations), Number(figures.sigma))],
          ["standard deviation, short term", formatNumber(Number(figures.sigma), { significant: 3 })],
          ["newest average (EWMA)", shown(found.newest, Number(figures.sigma))],
          [`drift per ${drift.per}`, driftText(stability)],
        ],
      },
      ...(found.signals.length > 0
        ? [
            {
              caption: "Signals",
              columns: [
                { heading: "check", kind: "number" as const },
                { heading: "what", kind: "text" as const },
              ],
              rows: signalRows(found.signals, "point")
                .slice(0, MOST_ROWS)
                .map(({ points, sentence }) => [points, sentence]),
            },
          ]
        : []),
    ],
    charts: [individuals, ewma].flatMap((charted) =>
      charted.charts.slice(0, 1).map((chart) => drawnChart(chart, charted, unit)),
    ),
    figures,
    data: {
      caption: "Checks",
      columns: [
        { heading: "check", kind: "number" },
        { heading: "time", kind: "text" },
        { heading: "value", kind: "number" },
        { heading: "reference", kind: "number" },
      ],
      rows: stability.checks.map(({ value, reference, time_s }, i) => [
        String(i + 1),
        time_s === null ? "" : new Date(time_s * 1000).toISOString().replace(".000Z", "Z"),
        formatNumber(value),
        reference === null ? "" : formatNumber(reference),
      ]),
    },
  };
}

const MOST_ROWS = 25;

interface Found {
  readonly answer: StudyAnswer;
  readonly signals: Stability["individuals"]["charts"][number]["signals"];
  readonly isDrifting: boolean;
  readonly newest: number;
  readonly isWithin: boolean;
  /** Days or checks until the average is at the tolerance, by the drift; null where it is not on its way there. */
  readonly untilTolerance: number | null;
}

function foundIn({ individuals, ewma, deviations, drift }: Stability, tolerance: number | undefined): Found {
  const signals = [...individuals.charts, ...ewma.charts]
    .flatMap((chart) => chart.signals)
    .sort((a, b) => a.index - b.index);
  const isDrifting = drift.CI95[0] > 0 || drift.CI95[1] < 0;
  const averages = ewma.charts[0]?.values ?? [];
  const newest = averages.at(-1) ?? 0;
  const isWithin = tolerance !== undefined && deviations.every((it) => Math.abs(it) <= tolerance);
  const isChanged = isDrifting || signals.length > 0;
  const left = tolerance === undefined ? null : (Math.sign(drift.slope) * tolerance - newest) / drift.slope;
  const steady: StudyAnswer = isEnough(deviations.length) ? "yes" : "none";
  return {
    answer: tolerance !== undefined && !isWithin ? "no" : isChanged ? (isWithin ? "marginal" : "no") : steady,
    signals,
    isDrifting,
    newest,
    isWithin,
    untilTolerance: isDrifting && left !== null ? Math.max(0, left) : null,
  };
}

function conclusionOf(
  { deviations, drift, isCertified, checks }: Stability,
  found: Found,
  { unit, tolerance }: { readonly unit: string; readonly tolerance: number | undefined },
): string {
  const part =
    tolerance === undefined
      ? ""
      : ` (${formatNumber((100 * Math.abs(found.newest)) / tolerance, { significant: 2 })} % of the tolerance)`;
  const off = isCertified
    ? `averages ${signed(found.newest)}${unit} off the certified value${part}`
    : `averages ${signed(found.newest)}${unit}`;
  const outside =
    found.answer === "no" && !found.isWithin && found.untilTolerance !== null && found.untilTolerance === 0;
  if (found.isDrifting) {
    const left =
      found.untilTolerance === null
        ? ""
        : outside
          ? "; it has reached the tolerance"
          : `; at this rate the tolerance is reached in ${formatNumber(found.untilTolerance, { significant: 2 })} ${drift.per}s`;
    return `The station drifts by ${signed(drift.slope)}${unit} a ${drift.per} and ${off}${left}: look for the cause before more is tested on trust.`;
  }
  const [first] = found.signals;
  if (first)
    return `The station does not stand still: ${found.signals.length === 1 ? "one signal" : `${found.signals.length} signals`} in ${checks.length} checks, the first at check ${first.index}, and it now ${off}; find out what changed there.`;
  if (found.answer === "no")
    return `The station does not change, but readings were further off than the tolerance: it ${off} and scatters too widely or stands off; have it looked at.`;
  if (found.answer === "none")
    return `No sign of a change in ${deviations.length} checks, too few to say that the station stands still: go on to 20 or more.`;
  return `The station stands still: no signal and no drift in ${deviations.length} checks; it ${off}.`;
}

function driftText({ drift: { slope, CI95 } }: Stability): string {
  const { value, uncertainty } = formatMeasured({ value: slope, uncertainty: CI95[1] - slope });
  return uncertainty === undefined ? value : `${value} +- ${uncertainty}`;
}

function shown(value: number, sigma: number): string {
  return formatMeasured({ value, uncertainty: sigma }).value;
}

function signed(value: number): string {
  const text = formatNumber(value, { significant: 3 });
  return value > 0 ? `+${text}` : text;
}
