import { Box, Text } from "ink";
import { Armed, partsText } from "./armed.tsx";
import { Beside, GAP_COLUMNS } from "./beside.tsx";
import { Block } from "./block.tsx";
import { blockColumns, scalesFor } from "./block-size.ts";
import { Fault } from "./fault.tsx";
import type { Look } from "./look.ts";
import { Outcome } from "./outcome.tsx";
import { ReferenceSteps } from "./reference-steps.tsx";
import { Running } from "./running.tsx";
import type { Refusal, ScreenState } from "./screen-state.ts";
import { shownSerial } from "./sentences.ts";
import { Words } from "./words.tsx";
import { wrapWords } from "./wrap-words.ts";

interface PanelProps {
  /** Of the panel: its own columns and rows. */
  readonly look: Look;
  readonly state: ScreenState;
}

/** The middle of the screen: the running test, the verdict, the fault, or what is going to be judged. */
export function Panel({ look, state }: PanelProps) {
  const { machine, unit, result, observed } = state;
  if (machine === "faulted") return <Fault look={look} state={state} />;
  if (machine === "testing" && unit && observed.progress) {
    return <Running look={look} state={state} unit={unit} progress={observed.progress} />;
  }
  if (unit) return <Armed look={look} unit={unit} />;
  if (result?.kind === "verdict") return <Outcome look={look} verdict={result} held={state.held} />;
  if (result?.kind === "refusal") return <Refused look={look} refusal={result} />;
  return <Idle look={look} state={state} />;
}

/** Smaller than any verdict: a mistyped label is less than a unit that failed. */
function Refused({ look, refusal }: { readonly look: Look; readonly refusal: Refusal }) {
  const [, ...more] = refusal.reasons;
  const [, scale = 1] = scalesFor(look, 0);
  return (
    <Beside block={<Block look={look} kind="not_started" word="NOT" caption="NOT STARTED" scale={scale} />}>
      {more.map((reason) => (
        <Words key={reason} text={reason} width={look.columns - blockColumns(scale) - GAP_COLUMNS} />
      ))}
    </Beside>
  );
}

function Idle({ look, state }: PanelProps) {
  const { machine, observed } = state;
  const { reference } = observed;
  const parts = partsText(state.waitingParts);
  const waiting = parts === "" ? [] : wrapWords(`Kept for the next serial: ${parts}`, look.columns, "  ");
  const rows = look.rows - waiting.length;
  const [scale = 1] = scalesFor({ ...look, rows }, 0);
  return (
    <Box flexDirection="column" flexShrink={0}>
      {waiting.length === 0 ? null : <Text bold>{waiting.join("\n")}</Text>}
      {reference.kind === "due" && reference.pieces.length > 0 ? (
        <ReferenceSteps look={{ ...look, rows }} due={reference} />
      ) : machine === "ready" ? (
        <Block look={look} kind="live" word="READY" caption={readyFor(state)} scale={scale} />
      ) : null}
    </Box>
  );
}

function readyFor({ observed: { study } }: ScreenState): string {
  if (!study) return "for the next unit";
  return study.next ? `for ${shownSerial(study.next.part)}` : "study complete";
}
