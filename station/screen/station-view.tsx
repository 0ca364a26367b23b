import { Box, Text } from "ink";
import { blockRows } from "./block-size.ts";
import { Cautions, cautionRows } from "./cautions.tsx";
import { Conversations } from "./conversation.tsx";
import { Keys, keyRows, TODAY_ROWS, Today, TypedLine } from "./footer.tsx";
import { Header, headerRows } from "./header.tsx";
import { Help } from "./help.tsx";
import { type Look, SMALLEST, tint } from "./look.ts";
import { Panel } from "./panel.tsx";
import type { ScreenState } from "./screen-state.ts";
import { shownSerial, whatToDo } from "./sentences.ts";
import { SignInQuestion, signInRows } from "./sign-in.tsx";
import { mayAbort } from "./station-states.ts";
import { Summary } from "./summary.tsx";
import { cut, wrapWords } from "./wrap-words.ts";

export interface StationViewProps {
  readonly look: Look;
  readonly state: ScreenState;
}

/** Blank columns left and right. */
const MARGINS = 2;
/** Those, and the sentence's frame and padding. */
const AROUND_SENTENCE = MARGINS + 4;
const FRAME_ROWS = 2;
/** The frame doesn't move when one sentence is longer than the other; on a small terminal the curve needs the row more. */
const LEAST_SENTENCE_ROWS = 2;
const SMALL_ROWS = 28;
const TYPED_ROWS = 1;
const MOST_REMARK_ROWS = 4;
/** The subject and a block beneath it: no sentence is so long that it may take their room. */
const LEAST_BODY_ROWS = 1 + blockRows(1);

/** The inspector's screen, from nothing but its state. */
export function StationView({ look, state }: StationViewProps) {
  if (look.columns < SMALLEST.columns || look.rows < SMALLEST.rows)
    return <TooSmall look={look} state={state} />;
  const inner = { ...look, columns: look.columns - MARGINS };
  const countsToday = state.overlay === null && state.page !== "summary";
  const footerRows = (countsToday ? TODAY_ROWS : 0) + keyRows(state, inner.columns).length + TYPED_ROWS;
  const rows = look.rows - headerRows(state, inner.columns) - FRAME_ROWS - footerRows;
  const mostRemark = Math.min(MOST_REMARK_ROWS, rows - LEAST_SENTENCE_ROWS - LEAST_BODY_ROWS);
  const remark = state.remark === null ? [] : cut(wrapWords(state.remark, inner.columns), mostRemark);
  const rowsLeft = rows - remark.length;
  const sentence = wrapWords(whatToDo(state), look.columns - AROUND_SENTENCE);
  const sentenceRows = Math.min(
    Math.max(leastSentenceRows(look, state), sentence.length),
    rowsLeft - LEAST_BODY_ROWS,
  );
  const bodyRows = rowsLeft - sentenceRows;
  return (
    <Box flexDirection="column" width={look.columns} height={look.rows} paddingX={1}>
      <Header look={inner} state={state} />
      <Box borderStyle="single" paddingX={1} height={FRAME_ROWS + sentenceRows} flexShrink={0}>
        <Text bold>{cut(sentence, sentenceRows).join("\n")}</Text>
      </Box>
      <Box flexDirection="column" height={bodyRows} flexShrink={0} overflow="hidden">
        <Body look={{ ...inner, rows: bodyRows }} state={state} />
      </Box>
      {remark.length === 0 ? null : <Text {...tint(look, "yellow")}>{remark.join("\n")}</Text>}
      {countsToday ? <Today look={inner} state={state} /> : null}
      <Keys look={inner} state={state} />
      <TypedLine look={inner} state={state} />
    </Box>
  );
}

function leastSentenceRows({ rows }: Look, { machine, overlay }: ScreenState): number {
  return rows < SMALL_ROWS && (machine === "testing" || overlay !== null) ? 1 : LEAST_SENTENCE_ROWS;
}

function Body({ look, state }: StationViewProps) {
  const { page, overlay, facts, observed } = state;
  if (overlay === "help") return <Help look={look} state={state} />;
  if (page === "cautions" || page === "sign_in") {
    // Read before anybody could sign in: whole, or not at all.
    const questionRows = page === "sign_in" ? signInRows(state, look.columns) : 0;
    return (
      <>
        {page === "sign_in" ? <SignInQuestion look={look} state={state} /> : null}
        {questionRows + cautionRows(facts.handsAreSimulated, look.columns) > look.rows ? null : (
          <Cautions handsAreSimulated={facts.handsAreSimulated} width={look.columns} />
        )}
      </>
    );
  }
  if (page === "summary" || overlay === "summary") return <Summary look={look} state={state} />;
  if (overlay === "conversation") return <Conversations look={look} conversations={observed.conversations} />;
  return (
    <>
      <Box flexShrink={0}>
        <Text bold wrap="truncate">
          {subject(state)}
        </Text>
      </Box>
      <Panel look={{ ...look, rows: look.rows - 1 }} state={state} />
    </>
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
  const draft = shown.study ? "   STUDY" : shown.isDraft ? "   DRAFT LIMITS" : "";
  return `${kind} ${shownSerial(shown.serial)}   Model ${shown.model}   Attempt ${shown.attempt}${draft}`;
}
