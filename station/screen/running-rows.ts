import type { UnitProgress } from "../cycle/unit-progress.ts";
import { bigText } from "./big-text.ts";
import { blockColumns, blockRows, FRAME_COLUMNS, paddingOf, scalesFor } from "./block-size.ts";
import { judgedAt, liveValues, phaseLength } from "./live-values.ts";
import type { Look } from "./look.ts";
import { phaseList, phaseText } from "./phase-text.ts";
import type { ScreenState, UnitOnFixture } from "./screen-state.ts";
import { traceRows } from "./trace.ts";
import { tracePlot } from "./trace-plot.ts";
import { wrapWords } from "./wrap-words.ts";

/** What is told of a running test, all but what moves. */
export interface RunningTest {
  /** Of the panel: its own columns and rows. */
  readonly look: Look;
  readonly unit: UnitOnFixture;
  readonly readsFlow: boolean;
}

/** What moves. */
export type Moving = Pick<
  ScreenState["observed"],
  "readings" | "trace" | "timeLeft_s" | "isTimeLeftLearned"
> & {
  readonly progress: UnitProgress;
};

const GAP = "  ";
const PHASE_LIST_ROWS = 1;
/** Below this the letters of the reading grow no further. */
const COMFORTABLE_TRACE_ROWS = 10;
const LEAST_TRACE_ROWS = 3;
/** Higher than this a curve tells no more. */
const MOST_TRACE_ROWS = 20;

/**
 * The running test: phases, reading, time, curve. Ten times a second, therefore as plain rows that Ink neither measures nor
 * lays out: it would take four times the processor, and keep every one of these texts for ever.
 * @returns exactly the panel's rows, none wider than it
 */
export function runningRows(test: RunningTest, moving: Moving): readonly string[] {
  const { look } = test;
  const [scale = 1] = scalesFor(look, PHASE_LIST_ROWS + COMFORTABLE_TRACE_ROWS);
  const block = blockLines(test, moving, scale);
  const width = look.columns - (block[0]?.columns ?? 0) - GAP.length;
  const beside = besideLines(test, moving, width);
  const traceHeight = Math.min(MOST_TRACE_ROWS, look.rows - PHASE_LIST_ROWS - block.length);
  const plot =
    traceHeight < LEAST_TRACE_ROWS ? null : tracePlot(test.unit.judgedBy, moving.progress, moving.trace);
  const rows = [
    phasesLine(test, moving),
    ...block.map(({ text }, i) => `${text}${GAP}${beside[i] ?? ""}`.trimEnd()),
    ...(plot ? traceRows(plot, look.columns, traceHeight) : []),
  ];
  return Array.from({ length: look.rows }, (_, row) => rows[row] ?? "");
}

function phasesLine({ look, unit }: RunningTest, { progress }: Moving): string {
  return phaseList(unit.judgedBy.steps, progress, look.columns)
    .map(({ text, isNow }) => (isNow ? bold(inverse(text)) : text))
    .join(" ");
}

interface Line {
  readonly text: string;
  readonly columns: number;
}

/** The reading that tells most, in a frame. */
function blockLines({ look, unit, readsFlow }: RunningTest, moving: Moving, scale: number): readonly Line[] {
  const values = liveValues(unit.judgedBy, moving.progress, moving.readings, readsFlow);
  const main = values.find(({ against }) => against !== "") ?? values[0];
  const word = bigText(main?.value ?? "...", scale) ?? [];
  const inner = Math.max(blockColumns(scale) - FRAME_COLUMNS, (word[0]?.length ?? 0) + 2 * paddingOf(scale));
  const caption = main ? `${main.name}, ${main.unit}` : phaseText(moving.progress);
  const line = (left: string, middle: string, right: string, style = (text: string) => text) => ({
    text: `${cyan(left, look)}${style(middle)}${cyan(right, look)}`,
    columns: inner + FRAME_COLUMNS,
  });
  return [
    line("┌", "─".repeat(inner), "┐", (text) => cyan(text, look)),
    ...word.map((row) => line("│", centred(row, inner), "│", (text) => bold(cyan(text, look)))),
    line("│", centred(caption.slice(0, inner), inner), "│", bold),
    line("└", "─".repeat(inner), "┘", (text) => cyan(text, look)),
  ].slice(0, blockRows(scale));
}

function besideLines(
  { look, unit, readsFlow }: RunningTest,
  moving: Moving,
  width: number,
): readonly string[] {
  const { progress, readings } = moving;
  const values = liveValues(unit.judgedBy, progress, readings, readsFlow);
  const { step, phase } = progress;
  const judged = step?.kind === "airflow" && phase !== "coast" && !unit.isReference ? judgedAt(step) : null;
  const widest = Math.max(0, ...values.map(({ name }) => name.length));
  return [
    bold(cut([phaseText(progress), timeLeftText(moving)].filter((it) => it !== "").join("   "), width)),
    barLine(progress, width, look),
    ...values.map(({ name, value, unit: unitText, against }) => {
      const before = `${name.padEnd(widest)} `;
      const shown = (value ?? "no reading").padStart(8);
      const after = ` ${(value === null ? "" : unitText).padEnd(3)}  ${against}`;
      return `${before}${bold(shown)}${cut(after, Math.max(0, width - before.length - shown.length))}`;
    }),
    ...(judged === null ? [] : wrapWords(judged, width)),
  ];
}

/** Whole seconds: nobody plans by tenths. */
function timeLeftText({ timeLeft_s, isTimeLeftLearned }: Moving): string {
  if (timeLeft_s === null) return "";
  return `${isTimeLeftLearned ? "about" : "at most"} ${Math.ceil(timeLeft_s)} s left`;
}

const LONGEST_BAR = 40;
/** " 12 of at most 30 s" */
const SECONDS_COLUMNS = 20;

function barLine(progress: UnitProgress, width: number, look: Look): string {
  const length = phaseLength(progress);
  if (!length || progress.elapsed_s === null) return "";
  const cells = Math.min(LONGEST_BAR, width - SECONDS_COLUMNS);
  const done = Math.min(cells, Math.floor((cells * progress.elapsed_s) / length.longest_s));
  const of = length.isFixed ? "of" : "of at most";
  const longest = length.longest_s < 1 ? length.longest_s.toFixed(1) : Math.round(length.longest_s);
  const seconds = `${Math.floor(progress.elapsed_s)} ${of} ${longest} s`;
  return `${cyan("█".repeat(done) + "·".repeat(cells - done), look)} ${seconds}`;
}

function centred(text: string, width: number): string {
  const before = Math.floor((width - text.length) / 2);
  return text.padStart(before + text.length).padEnd(width);
}

function cut(text: string, width: number): string {
  return text.length <= width ? text : `${text.slice(0, Math.max(0, width - 1))}…`;
}

// ECMA-48 SGR: 1 bold, 22 neither, 7 and 27 inverse, 36 and 39 cyan and default foreground.
function bold(text: string): string {
  return `\x1b[1m${text}\x1b[22m`;
}

function inverse(text: string): string {
  return `\x1b[7m${text}\x1b[27m`;
}

function cyan(text: string, { isColoured }: Look): string {
  return isColoured ? `\x1b[36m${text}\x1b[39m` : text;
}
