import { Box, Text } from "ink";
import type { ReactNode } from "react";
import type { UnitProgress } from "../cycle/unit-progress.ts";
import { BLOCK_COLUMNS, Block } from "./block.tsx";
import { Characteristics, limitRows, measuredRows } from "./characteristics.tsx";
import { judgedAt, liveValues, phaseLength } from "./live-values.ts";
import { type Look, tint } from "./look.ts";
import { layOutcome } from "./outcome-layout.ts";
import type { ScreenState, UnitOnFixture, Verdict } from "./screen-state.ts";
import { Words } from "./words.tsx";

const GAP_COLUMNS = 2;

interface PanelProps {
  /** Of the panel: its own columns and rows. */
  readonly look: Look;
  readonly state: ScreenState;
}

/** The middle of the screen: the running test, the verdict, the fault, or what is going to be judged. */
export function Panel({ look, state }: PanelProps) {
  const { machine, faults, unit, result, observed } = state;
  const width = look.columns - BLOCK_COLUMNS - GAP_COLUMNS;
  if (machine === "faulted") {
    return (
      <Beside block={<Block look={look} kind="stop" word="STOP" caption="the station is stopped" />}>
        {faults.map((fault) => (
          <Words key={fault} bold text={fault} width={width} />
        ))}
        {result?.kind === "verdict" ? (
          <Text>{`${result.serial} is ${result.verdict.toUpperCase()}.`}</Text>
        ) : null}
      </Beside>
    );
  }
  if (machine === "testing" && unit && observed.progress) {
    return (
      <Running
        look={look}
        unit={unit}
        progress={observed.progress}
        readings={observed.readings}
        readsFlow={state.facts.readsFlow}
        width={width}
      />
    );
  }
  if (unit) {
    return (
      <Box flexDirection="column">
        <Text bold>{unit.isReference ? "Judged by its certificate." : "Judged by:"}</Text>
        {unit.isReference ? null : <JudgedBy look={look} unit={unit} rows={look.rows - 1} />}
      </Box>
    );
  }
  if (result?.kind === "verdict") return <Outcome look={look} verdict={result} width={width} />;
  if (result?.kind === "refusal") {
    const [, ...more] = result.reasons;
    return (
      <Beside block={<Block look={look} kind="not_started" word="NOT STARTED" caption={result.serial} />}>
        {more.map((reason) => (
          <Words key={reason} text={reason} width={width} />
        ))}
      </Beside>
    );
  }
  return <Text>No unit has been tested yet.</Text>;
}

function Outcome({
  look,
  verdict,
  width,
}: {
  readonly look: Look;
  readonly verdict: Verdict;
  readonly width: number;
}) {
  const caption = verdict.isDraft ? "DRAFT, does not count" : verdict.serial;
  const { rows, notes, below, suspects } = layOutcome(
    { ...verdict, rows: measuredRows(verdict.characteristics) },
    { rows: look.rows, columns: look.columns, beside: width },
  );
  return (
    <Box flexDirection="column">
      <Beside
        block={
          <Block look={look} kind={verdict.verdict} word={verdict.verdict.toUpperCase()} caption={caption} />
        }
      >
        <Characteristics look={look} rows={rows} width={width} />
        <Text>{notes.join("\n")}</Text>
      </Beside>
      {below.length > 0 ? <Text>{below.join("\n")}</Text> : null}
      <Text bold wrap="truncate">
        {suspects.join("\n")}
      </Text>
    </Box>
  );
}

function JudgedBy({
  look,
  unit,
  rows,
}: {
  readonly look: Look;
  readonly unit: UnitOnFixture;
  readonly rows: number;
}) {
  const limits = limitRows(unit.limits);
  const shown = limits.length <= rows ? limits : limits.slice(0, rows - 1);
  const more = limits.length - shown.length;
  return (
    <>
      <Characteristics look={look} rows={shown} width={look.columns} />
      {more > 0 ? <Text>{`and ${more} more in the limit file`}</Text> : null}
    </>
  );
}

function Running({
  look,
  unit,
  progress,
  readings,
  readsFlow,
  width,
}: {
  readonly look: Look;
  readonly unit: UnitOnFixture;
  readonly progress: UnitProgress;
  readonly readings: ScreenState["observed"]["readings"];
  readonly readsFlow: boolean;
  readonly width: number;
}) {
  const values = liveValues(unit.limits, progress, readings, readsFlow);
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
        />
      }
    >
      <Text bold>{phaseText(progress)}</Text>
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

const PHASES: Readonly<Record<UnitProgress["phase"], string>> = {
  opening: "opening the record",
  ambient: "reading the room",
  rest: "reading the source",
  fill: "fill",
  settle: "settle",
  measure: "measure",
  gross: "gross leak",
  vent: "vent",
  run_up: "run-up",
  hold: "hold",
  coast: "coast",
  safing: "making safe",
  recording: "recording",
};

/** @example "airflow: hold, working" */
function phaseText({ phase, step, point }: UnitProgress): string {
  const name = PHASES[phase];
  if (!step) return name;
  return `${step.name}: ${name}${point ? `, ${point.name}` : ""}`;
}

function Beside({ block, children }: { readonly block: ReactNode; readonly children: ReactNode }) {
  return (
    <Box gap={GAP_COLUMNS}>
      {block}
      <Box flexDirection="column" flexGrow={1} flexShrink={1}>
        {children}
      </Box>
    </Box>
  );
}
