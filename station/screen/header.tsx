import { Box, Text } from "ink";
import type { DueReason } from "../cycle/reference-due.ts";
import type { StudyNow } from "../guided-study/study-guide.ts";
import { type Look, tint } from "./look.ts";
import type { Observed, ReferenceOnScreen, ScreenState } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

/** Station, who is at it, marks and clock; how the reference check stands; what warns. */
export function Header({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const { facts, observed } = state;
  const warning = warningLines(observed, look.columns);
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Box justifyContent="space-between">
        <Text wrap="truncate">
          <Text bold>{facts.name}</Text>
          {`   ${whoText(state)}`}
        </Text>
        <Box gap={1} flexShrink={0}>
          {facts.isSimulated ? <Mark text="SIMULATED" /> : null}
          {observed.study ? <Mark text="STUDY" /> : null}
          {facts.draftModels.length > 0 ? <Mark text={draftText(facts.draftModels, look)} /> : null}
          <Text>{timeOfDay(observed.now_ms)}</Text>
        </Box>
      </Box>
      <Text wrap="truncate" {...(observed.reference.kind === "due" ? tint(look, "yellow") : {})}>
        {observed.study ? studyText(observed.study) : referenceText(observed.reference, observed.now_ms)}
      </Text>
      {warning.length === 0 ? null : <Text {...tint(look, "yellow")}>{warning.join("\n")}</Text>}
    </Box>
  );
}

/** @returns rows that the header takes */
export function headerRows({ observed }: ScreenState, columns: number): number {
  return 2 + warningLines(observed, columns).length;
}

export const WHY_DUE: Readonly<Record<DueReason, string>> = {
  never: "not yet tested",
  failed: "it failed",
  void: "its last test is void",
  fault: "a stop since",
  shift: "the shift has begun",
  units: "its units are over",
  interval: "its time is over",
  clock: "the clock was put back",
};

function Mark({ text }: { readonly text: string }) {
  return <Text bold inverse>{`[${text}]`}</Text>;
}

const MOST_WARNING_ROWS = 2;
const MOST_DRAFT_COLUMNS = 30;

function draftText(models: readonly string[], { columns }: Look): string {
  const text = `DRAFT LIMITS ${models.join(", ")}`;
  return text.length <= Math.max(MOST_DRAFT_COLUMNS, columns / 3)
    ? text
    : `DRAFT LIMITS, ${models.length} models`;
}

function whoText({ facts, who }: ScreenState): string {
  if (facts.signIn === "off") return who.name ?? "no sign-in";
  if (who.name === null) return "nobody signed in";
  return who.role === null ? who.name : `${who.name}, ${who.role}`;
}

/** @example "Study RR-1: 7 of 90, trial 1, B. Reyes. Nothing tested now counts." */
function studyText({ name, of, next }: StudyNow): string {
  const where = next ? `${next.run} of ${of}, trial ${next.trial}, ${next.appraiser}` : `all ${of} recorded`;
  return `Study ${name}: ${where}. Nothing tested now counts.`;
}

function referenceText(reference: ReferenceOnScreen, now_ms: number): string {
  switch (reference.kind) {
    case "off":
      return "Reference check: off";
    case "due": {
      const [next] = reference.pieces;
      if (!next) return "Reference check: DUE";
      const step = reference.of > 1 ? ` step ${reference.step} of ${reference.of},` : "";
      return `Reference check: DUE,${step} ${next.serial} (${WHY_DUE[next.why]})`;
    }
    case "in_force": {
      const left = span(reference.until_ms - now_ms);
      const units = reference.unitsLeft === null ? "" : ` or ${unitsText(reference.unitsLeft)}`;
      return `Reference check: passed ${timeOfDay(reference.at_ms)}; next in ${left}${units}`;
    }
  }
}

/** A reference piece that drifts is first: by it the station can't be trusted for much longer. */
function warningLines(
  { reference, earlyWarnings = [] }: Pick<Observed, "reference" | "earlyWarnings">,
  columns: number,
): readonly string[] {
  const [first, ...more] = [...(reference.kind === "off" ? [] : reference.warnings), ...earlyWarnings];
  if (first === undefined) return [];
  const text = more.length === 0 ? `Warning: ${first}` : `Warning, the first of ${more.length + 1}: ${first}`;
  return wrapWords(text, columns, "  ").slice(0, MOST_WARNING_ROWS);
}

function unitsText(units: number): string {
  return units === 1 ? "1 unit" : `${units} units`;
}

function timeOfDay(wall_ms: number): string {
  const date = new Date(wall_ms);
  return `${String(date.getHours()).padStart(2, "0")}:${String(date.getMinutes()).padStart(2, "0")}`;
}

/** Rounded up: a check due in 20 s is not due in 0 min. */
function span(milliseconds: number): string {
  const minutes = Math.max(0, Math.ceil(milliseconds / 60_000));
  return minutes < 60 ? `${minutes} min` : `${Math.floor(minutes / 60)} h ${minutes % 60} min`;
}
