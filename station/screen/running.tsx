import { Box, Text } from "ink";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import { Beside, GAP_COLUMNS } from "./beside.tsx";
import { Block, blockColumns, blockRows, scalesFor } from "./block.tsx";
import { judgedAt, liveValues, phaseLength } from "./live-values.ts";
import { type Look, tint } from "./look.ts";
import { phaseList, phaseText } from "./phase-text.ts";
import type { ScreenState, UnitOnFixture } from "./screen-state.ts";
import { traceRows } from "./trace.ts";
import { tracePlot } from "./trace-plot.ts";
import { Words } from "./words.tsx";

interface RunningProps {
  /** Of the panel: its own columns and rows. */
  readonly look: Look;
  readonly state: ScreenState;
  readonly unit: UnitOnFixture;
  readonly progress: UnitProgress;
}

const PHASE_LIST_ROWS = 1;
/** Below this the letters of the reading grow no further. */
const COMFORTABLE_TRACE_ROWS = 10;
const LEAST_TRACE_ROWS = 3;
/** Higher than this a curve tells no more. */
const MOST_TRACE_ROWS = 20;

/** The running test: phase, time, readings, curve. */
export function Running({ look, state, unit, progress }: RunningProps) {
  const [scale = 1] = scalesFor(look, PHASE_LIST_ROWS + COMFORTABLE_TRACE_ROWS);
  const width = look.columns - blockColumns(scale) - GAP_COLUMNS;
  const traceHeight = look.rows - PHASE_LIST_ROWS - blockRows(scale);
  return (
    <Box flexDirection="column">
      <Phases look={look} unit={unit} progress={progress} />
      <Readings look={look} state={state} unit={unit} progress={progress} scale={scale} width={width} />
      <Trace look={{ ...look, rows: traceHeight }} state={state} unit={unit} progress={progress} />
    </Box>
  );
}

function Phases({ look, unit, progress }: Omit<RunningProps, "state">) {
  const words = phaseList(unit.limits.steps, progress, look.columns);
  if (words.length === 0) return <Text> </Text>;
  return (
    <Text wrap="truncate">
      {words.map(({ text, isNow }, i) => (
        <Text key={text} bold={isNow} inverse={isNow}>{`${i > 0 ? " " : ""}${text}`}</Text>
      ))}
    </Text>
  );
}

function Readings({
  look,
  state,
  unit,
  progress,
  scale,
  width,
}: RunningProps & { readonly scale: number; readonly width: number }) {
  const values = liveValues(unit.limits, progress, state.observed.readings, state.facts.readsFlow);
  const { step, phase } = progress;
  const judged = step?.kind === "airflow" && phase !== "coast" ? judgedAt(step) : null;
  const main = values.find(({ against }) => against !== "") ?? values[0];
  const widest = Math.max(0, ...values.map(({ name }) => name.length));
  return (
    <Beside
      block={
        <Block
          look={look}
          kind="live"
          word={main?.value ?? "..."}
          caption={main ? `${main.name}, ${main.unit}` : phaseText(progress)}
          scale={scale}
        />
      }
    >
      <Text bold wrap="truncate">
        {[phaseText(progress), timeLeftText(state.observed.timeLeft_s)].join("   ")}
      </Text>
      <Bar look={look} progress={progress} width={width} />
      {values.map((value) => (
        <Text key={value.name} wrap="truncate">
          {`${value.name.padEnd(widest)} `}
          <Text bold>{(value.value ?? "no reading").padStart(8)}</Text>
          {` ${(value.value === null ? "" : value.unit).padEnd(3)}  ${value.against}`}
        </Text>
      ))}
      {judged === null ? null : <Words text={judged} width={width} />}
    </Beside>
  );
}

function Trace({ look, state, unit, progress }: RunningProps) {
  const plot = tracePlot(unit.limits, progress, state.observed.trace);
  if (!plot || look.rows < LEAST_TRACE_ROWS) return null;
  const rows = traceRows(plot, look.columns, Math.min(MOST_TRACE_ROWS, look.rows));
  return <Text wrap="truncate">{rows.join("\n")}</Text>;
}

/** Whole seconds: nobody plans by tenths. */
function timeLeftText(timeLeft_s: number | null): string {
  return timeLeft_s === null ? "" : `about ${Math.ceil(timeLeft_s)} s left`;
}

const LONGEST_BAR = 40;
/** " 12 of at most 30 s" */
const SECONDS_COLUMNS = 20;

function Bar({
  look,
  progress,
  width,
}: {
  readonly look: Look;
  readonly progress: UnitProgress;
  readonly width: number;
}) {
  const length = phaseLength(progress);
  if (!length || progress.elapsed_s === null) return <Text> </Text>;
  const cells = Math.min(LONGEST_BAR, width - SECONDS_COLUMNS);
  const done = Math.min(cells, Math.floor((cells * progress.elapsed_s) / length.longest_s));
  const of = length.isFixed ? "of" : "of at most";
  const longest = length.longest_s < 1 ? length.longest_s.toFixed(1) : Math.round(length.longest_s);
  const seconds = `${Math.floor(progress.elapsed_s)} ${of} ${longest} s`;
  return (
    <Text wrap="truncate">
      <Text {...tint(look, "cyan")}>{`${"█".repeat(done)}${"·".repeat(cells - done)}`}</Text>
      {` ${seconds}`}
    </Text>
  );
}
