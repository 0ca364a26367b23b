import { formatNumber } from "../../../limits/print-quantity.ts";
import { NoStudy, type StudyAnswer, type StudyReport } from "../study-report.ts";
import { namedChart } from "./named-chart.ts";
import { signalsOf } from "./signal-rows.ts";
import type { ReferenceCheck } from "./stability.ts";
import { type StabilityOptions, stabilityReport } from "./stability-report.ts";

/** A check of one of several reference pieces, at one of several stations. */
export interface PieceCheck extends ReferenceCheck {
  readonly reference: number;
  /** Half width: how far the piece may read off, by its certificate. */
  readonly tolerance: number;
  readonly piece: string;
  readonly station: string;
}

interface Series {
  readonly piece: string;
  readonly station: string;
  readonly checks: readonly PieceCheck[];
  /** Null where the checks can't tell; then `why`. */
  readonly report: StudyReport | null;
  readonly why: string | null;
  readonly notes: readonly string[];
}

/** Worst first; of those as bad, the one with more signals. */
const ORDER: readonly StudyAnswer[] = ["no", "marginal", "none", "yes"];

/**
 * Reference checks over time, each piece at each station for itself, as one report: its conclusion is that of the worst.
 * @param checks one or more, in the order of their making
 * @param options `of` is what all have in common: "leak rate of TUB-12 on reference pieces"
 * @throws NoStudy where not one of them can tell
 */
export function stabilityOfSeveral(checks: readonly PieceCheck[], options: StabilityOptions): StudyReport {
  const series = seriesOf(checks).map((it) => studied(it, options));
  const told = series
    .flatMap(({ report, ...it }) => (report ? [{ ...it, report }] : []))
    .sort(
      (a, b) =>
        ORDER.indexOf(a.report.answer) - ORDER.indexOf(b.report.answer) ||
        signalsOf(b.report) - signalsOf(a.report),
    );
  const [worst] = told;
  if (!worst) {
    throw new NoStudy(series.map((it) => `${nameOf(it, series)}: ${it.why}`).join(" "));
  }
  const silent = series.filter(({ report }) => report === null);
  const unitText = options.unit === undefined ? "" : `, in ${options.unit}`;
  const { of, unit } = options;
  if (series.length === 1) return { ...worst.report, notes: [...worst.report.notes, ...worst.notes] };
  return {
    title: worst.report.title,
    question: worst.report.question,
    subject: `${of === undefined ? "" : `${of}, `}${checks.length} checks of ${series.length} ${isOneStation(series) ? "pieces" : "pieces at their stations"}${unitText}`,
    conclusion: conclusionOf(told, silent, series),
    answer: worst.report.answer,
    bands: worst.report.bands,
    notes: [
      ...told.flatMap((it) =>
        [...it.report.notes, ...it.notes].map((note) => `${nameOf(it, series)}: ${note}`),
      ),
      ...silent.map((it) => `${nameOf(it, series)}: ${it.why}`),
    ],
    tables: [summaryTable(told, series, unit), ...signalTables(told, series)],
    charts: told.flatMap((it) =>
      it.report.charts.map((chart) => namedChart(`${nameOf(it, series)},`, chart)),
    ),
    figures: {
      n: checks.length,
      pieces: told.map(({ piece, station, report }) => ({
        piece,
        station,
        answer: report.answer,
        conclusion: report.conclusion,
        ...report.figures,
      })),
      without_an_answer: silent.map(({ piece, station, why, checks: own }) => ({
        piece,
        station,
        n: own.length,
        why: why ?? "",
      })),
    },
    data: {
      caption: "Checks",
      columns: [
        { heading: "piece", kind: "text" },
        { heading: "station", kind: "text" },
        { heading: "time", kind: "text" },
        { heading: "value", kind: "number" },
        { heading: "certified", kind: "number" },
      ],
      rows: checks.map(({ piece, station, time_s, value, reference }) => [
        piece,
        station,
        time_s === null ? "" : new Date(time_s * 1000).toISOString().replace(".000Z", "Z"),
        formatNumber(value),
        formatNumber(reference),
      ]),
    },
  };
}

function seriesOf(checks: readonly PieceCheck[]): Pick<Series, "piece" | "station" | "checks">[] {
  const series = new Map<string, { piece: string; station: string; checks: PieceCheck[] }>();
  for (const check of checks) {
    const { piece, station } = check;
    const key = JSON.stringify([piece, station]);
    const known = series.get(key) ?? { piece, station, checks: [] };
    known.checks.push(check);
    series.set(key, known);
  }
  return [...series.values()];
}

function studied(it: Pick<Series, "piece" | "station" | "checks">, options: StabilityOptions): Series {
  const newest = it.checks.at(-1);
  if (!newest) throw new RangeError("A series has checks.");
  const tolerance = options.tolerance ?? (newest.tolerance > 0 ? newest.tolerance : undefined);
  const of = `${it.piece} at ${it.station}`;
  const changed = it.checks.some(
    ({ reference, tolerance: own }) => reference !== newest.reference || own !== newest.tolerance,
  );
  const certificate = `certified ${formatNumber(newest.reference)} +- ${formatNumber(newest.tolerance)}${options.unit === undefined ? "" : ` ${options.unit}`}`;
  const notes = [
    changed
      ? `Its certificate changed in this time: each reading is held against the value of its day, the tolerance is the newest (${certificate}).`
      : `The certificate says ${certificate.slice("certified ".length)}.`,
  ];
  try {
    return { ...it, notes, why: null, report: stabilityReport(it.checks, { ...options, of, tolerance }) };
  } catch (error) {
    if (!(error instanceof NoStudy)) throw error;
    return { ...it, notes, why: error.message, report: null };
  }
}

/** The station only where there are several. */
function nameOf({ piece, station }: Pick<Series, "piece" | "station">, series: readonly Series[]): string {
  return isOneStation(series) ? piece : `${piece} at ${station}`;
}

function isOneStation(series: readonly Series[]): boolean {
  return new Set(series.map(({ station }) => station)).size === 1;
}

type Told = Omit<Series, "report"> & { readonly report: StudyReport };

/** One sentence: the worst one's own, or what holds for all. */
function conclusionOf(told: readonly Told[], silent: readonly Series[], series: readonly Series[]): string {
  const [worst] = told;
  if (!worst) return "";
  const { answer, conclusion } = worst.report;
  const total = told.length + silent.length;
  if (answer === "no" || answer === "marginal") {
    const same = told.filter(({ report }) => report.answer === answer).length;
    const others = same > 1 ? `; so or alike ${same} of ${total}` : "";
    return `By ${nameOf(worst, series)}: ${conclusion.replace(/\.$/, "")}${others}.`;
  }
  if (answer === "yes" && silent.length === 0) {
    return `The station stands still on all ${total}: no signal, and no drift.`;
  }
  const sure = told.filter(({ report }) => report.answer === "yes").length;
  return `No sign of a change on ${told.length} of ${total}, ${sure === 0 ? "none" : `only ${sure}`} with checks enough to say that it stands still: go on to 20 or more of each.`;
}

const WORDS: Readonly<Record<StudyAnswer, string>> = {
  yes: "stands still",
  marginal: "changes, within tolerance",
  no: "not stable",
  none: "too few to say",
};

function summaryTable(told: readonly Told[], series: readonly Series[], unit: string | undefined) {
  const number = (value: unknown) =>
    typeof value === "number" ? formatNumber(value, { significant: 3 }) : "";
  return {
    caption: `Deviation from the certified value${unit === undefined ? "" : `, ${unit}`}`,
    columns: [
      { heading: "piece", kind: "text" as const },
      ...["checks", "certified", "tolerance", "mean", "std dev", "per day", "signals"].map((heading) => ({
        heading,
        kind: "number" as const,
      })),
      { heading: "answer", kind: "text" as const },
    ],
    rows: told.map((it) => {
      const { figures, answer } = it.report;
      return [
        nameOf(it, series),
        String(it.checks.length),
        number(it.checks.at(-1)?.reference),
        number(figures.tolerance),
        number(figures.bias),
        number(figures.sigma),
        number(figures.drift),
        String(signalsOf(it.report)),
        WORDS[answer],
      ];
    }),
  };
}

function signalTables(told: readonly Told[], series: readonly Series[]) {
  return told.flatMap((it) =>
    it.report.tables
      .filter(({ caption }) => caption === "Signals")
      .map((table) => ({ ...table, caption: `Signals, ${nameOf(it, series)}` })),
  );
}
