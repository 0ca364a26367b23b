import { Box, Text } from "ink";
import { Cautions } from "./cautions.tsx";
import { frameRows, type Look, SMALLEST, tint } from "./look.ts";
import { Panel } from "./panel.tsx";
import { mayAbort } from "./press.ts";
import type { DayCount, ReferenceOnScreen, ScreenState } from "./screen-state.ts";
import { keysNow, shownSerial, whatToDo } from "./sentences.ts";
import { wrapWords } from "./wrap-words.ts";

export interface StationViewProps {
  readonly look: Look;
  readonly state: ScreenState;
}

/** Blank columns left and right. */
const MARGINS = 2;
/** Those, and the sentence's frame and padding. */
const AROUND_SENTENCE = MARGINS + 4;
/** What stands above and below the panel. */
const HEADER_ROWS = 2;
const FRAME_ROWS = 2;
const LEAST_SENTENCE_ROWS = 2;
const SUBJECT_ROWS = 1;
/** Counts, keys, typed line. */
const FOOTER_ROWS = 3;

/** The inspector's screen, from nothing but its state. */
export function StationView({ look, state }: StationViewProps) {
  if (look.columns < SMALLEST.columns || look.rows < SMALLEST.rows)
    return <TooSmall look={look} state={state} />;
  const sentence = wrapWords(whatToDo(state), look.columns - AROUND_SENTENCE);
  const sentenceRows = FRAME_ROWS + Math.max(LEAST_SENTENCE_ROWS, sentence.length);
  const remarkRows = state.remark === null ? 0 : 1;
  const panelRows = frameRows(look) - HEADER_ROWS - sentenceRows - SUBJECT_ROWS - remarkRows - FOOTER_ROWS;
  return (
    <Box flexDirection="column" width={look.columns} height={frameRows(look)} paddingX={1}>
      <Header look={look} state={state} />
      <Box borderStyle="single" paddingX={1} height={sentenceRows} flexShrink={0}>
        <Text bold>{sentence.join("\n")}</Text>
      </Box>
      <Box flexDirection="column" flexGrow={1} flexShrink={1} overflow="hidden">
        {state.page === "cautions" || state.page === "sign_in" ? (
          <Cautions handsAreSimulated={state.facts.handsAreSimulated} width={look.columns - MARGINS} />
        ) : (
          <>
            <Text bold wrap="truncate">
              {subject(state)}
            </Text>
            <Panel look={{ ...look, columns: look.columns - MARGINS, rows: panelRows }} state={state} />
          </>
        )}
      </Box>
      {state.remark === null ? null : (
        <Text wrap="truncate" {...tint(look, "yellow")}>
          {state.remark}
        </Text>
      )}
      <Text wrap="truncate">{countsText(state.observed.counts)}</Text>
      <Keys state={state} />
      <Text wrap="truncate-start">
        {"> "}
        <Text bold>{state.typed}</Text>
        <Text inverse> </Text>
      </Text>
    </Box>
  );
}

function Header({ look, state }: StationViewProps) {
  const { facts, observed } = state;
  const name = state.who.name;
  const who = facts.signIn === "off" ? (name ?? "no sign-in") : `Inspector ${name ?? "not signed in"}`;
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Box justifyContent="space-between">
        <Text wrap="truncate">
          <Text bold>{facts.name}</Text>
          {`   ${who}`}
        </Text>
        <Box gap={1} flexShrink={0}>
          {facts.isSimulated ? <Mark text="SIMULATED" /> : null}
          {facts.draftModels.length > 0 ? (
            <Mark text={`DRAFT LIMITS ${facts.draftModels.join(", ")}`} />
          ) : null}
        </Box>
      </Box>
      <Text wrap="truncate" {...(observed.reference.kind === "due" ? tint(look, "yellow") : {})}>
        {referenceText(observed.reference, observed.now_ms)}
      </Text>
    </Box>
  );
}

function Mark({ text }: { readonly text: string }) {
  return <Text bold inverse>{`[${text}]`}</Text>;
}

function Keys({ state }: { readonly state: ScreenState }) {
  return (
    <Text wrap="truncate">
      {keysNow(state).map(([key, does], i) => (
        <Text key={key}>
          {i > 0 ? "   " : "Keys: "}
          <Text bold inverse>{` ${key} `}</Text>
          {` ${does}`}
        </Text>
      ))}
    </Text>
  );
}

function TooSmall({ look, state }: StationViewProps) {
  const abort = mayAbort(state) ? " The test goes on; Esc aborts it." : "";
  return (
    <Text>{`This window has ${look.columns} x ${look.rows} characters and the screen needs ${SMALLEST.columns} x ${SMALLEST.rows}: make it larger.${abort}`}</Text>
  );
}

function subject({ unit, result }: ScreenState): string {
  const shown = unit ?? (result?.kind === "verdict" ? result : null);
  if (!shown) return " ";
  const kind = shown.isReference ? "Reference piece" : "Serial";
  const draft = shown.isDraft ? "   DRAFT LIMITS" : "";
  return `${kind} ${shownSerial(shown.serial)}   Model ${shown.model}   Attempt ${shown.attempt}${draft}`;
}

function countsText(counts: DayCount): string {
  const { tested, pass, fail, inspected, firstPassed, firstPassYield } = counts;
  const share = firstPassYield === null ? "-" : `${(100 * firstPassYield).toFixed(1)} %`;
  return `Tested ${tested}: ${pass} pass, ${fail} fail, ${counts.void} void   First pass yield ${share} (${firstPassed} of ${inspected})`;
}

function referenceText(reference: ReferenceOnScreen, now_ms: number): string {
  switch (reference.kind) {
    case "off":
      return "Reference check: off";
    case "due":
      return `Reference check: DUE, ${reference.pieces.map(({ serial }) => serial).join(", ")}`;
    case "in_force":
      return `Reference check: passed ${timeOfDay(reference.at_ms)}, ${span(now_ms - reference.at_ms)} ago; due again ${timeOfDay(reference.until_ms)}`;
  }
}

function timeOfDay(wall_ms: number): string {
  const date = new Date(wall_ms);
  return `${String(date.getHours()).padStart(2, "0")}:${String(date.getMinutes()).padStart(2, "0")}`;
}

function span(milliseconds: number): string {
  const minutes = Math.max(0, Math.floor(milliseconds / 60_000));
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
