import { isDeepStrictEqual } from "node:util";
import { Box, Text } from "ink";
import { Beside, GAP_COLUMNS } from "./beside.tsx";
import { TALL } from "./big-text.ts";
import { Block } from "./block.tsx";
import { blockColumns, blockRows, scalesFor } from "./block-size.ts";
import { Characteristics, measuredRows } from "./characteristics.tsx";
import type { Look } from "./look.ts";
import { layOutcome, layUnder } from "./outcome-layout.ts";
import type { Held, Verdict } from "./screen-state.ts";

/** A verdict, what it rests on, and where to look: its word as large as the rest leaves room for. */
export function Outcome({
  look,
  verdict,
  held,
}: {
  readonly look: Look;
  readonly verdict: Verdict;
  readonly held: Held | null;
}) {
  const all = measuredRows(verdict.characteristics);
  const reasons = [...verdict.reasons.map(onceAcknowledged), ...(held === null ? [] : [heldText(held)])];
  const isStopped = shownVerdict(verdict) === "HELD";
  const { form, layout, beside } = largest({ ...verdict, rows: all, reasons }, look, verdict.isDraft);
  const { above, rows, notes, under, below, suspects } = layout;
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Beside
        block={
          <Block
            look={look}
            kind={isStopped ? "void" : verdict.verdict}
            word={shownVerdict(verdict)}
            caption={form.hasCaption ? captionOf(verdict) : null}
            scale={form.across}
            down={form.down}
          />
        }
      >
        {above.length > 0 ? <Text bold>{above.join("\n")}</Text> : null}
        <Characteristics look={look} rows={rows} width={beside} />
        <Text>{notes.join("\n")}</Text>
      </Beside>
      {under.length > 0 ? <Characteristics look={look} rows={under} width={look.columns} /> : null}
      {below.length > 0 ? <Text bold>{below.join("\n")}</Text> : null}
      <Text bold wrap="truncate">
        {suspects.join("\n")}
      </Text>
    </Box>
  );
}

/** A pass that is not to be sent on is never shown as one: somebody held the unit while it was tested. */
export function shownVerdict({ verdict, against }: Pick<Verdict, "verdict" | "against">): string {
  return verdict === "pass" && against !== null ? "HELD" : verdict.toUpperCase();
}

interface Form {
  /** Times as wide and as high as the smallest letters. */
  readonly across: number;
  readonly down: number;
  readonly hasCaption: boolean;
  /** Values stand at the right of the block, else under it. */
  readonly isBeside: boolean;
}

/** Letters twice as wide as the smallest are as wide as high: still far better to be read. */
const UNDER: readonly Form[] = [
  { across: 2, down: 2, hasCaption: true, isBeside: false },
  { across: 2, down: 2, hasCaption: false, isBeside: false },
  { across: 2, down: 1, hasCaption: true, isBeside: false },
  { across: 2, down: 1, hasCaption: false, isBeside: false },
];

/** @returns the largest form that leaves nothing out; where none does, the smallest with what there is room for */
function largest(outcome: Parameters<typeof layOutcome>[0], look: Look, needsCaption: boolean) {
  const besides = scalesFor(look, 0).map((scale) => ({
    across: scale,
    down: scale,
    hasCaption: true,
    isBeside: true,
  }));
  const forms = [...besides.slice(0, -1), ...UNDER.filter((it) => it.hasCaption || !needsCaption)];
  const roomOf = ({ across, down, hasCaption }: Form) => ({
    columns: look.columns,
    rows: look.rows,
    beside: look.columns - blockColumns(across) - GAP_COLUMNS,
    block: blockRows(down, hasCaption),
  });
  for (const form of forms) {
    const room = roomOf(form);
    const layout = form.isBeside ? layOutcome(outcome, room) : layUnder(outcome, room);
    if (layout?.isWhole) return { form, layout, beside: room.beside };
  }
  const small: Form = { across: 1, down: 1, hasCaption: true, isBeside: true };
  const tall: Form = { ...small, down: TALL };
  const room = roomOf(small);
  const layout = layOutcome(outcome, room);
  // Where nothing has to give way for it.
  const besideTall = layOutcome(outcome, roomOf(tall));
  const form = isDeepStrictEqual(besideTall, layout) ? tall : small;
  return { form, layout, beside: room.beside };
}

function captionOf({ study, isDraft, serial }: Verdict): string {
  if (study) return "STUDY, does not count";
  return isDraft ? "DRAFT, does not count" : serial;
}

/** A verdict is shown again once its stop was acknowledged: that need not be done any more. */
function onceAcknowledged(sentence: string): string {
  return sentence.replace(/,? then acknowledge\.$/, ".").replace(/,? then acknowledge and /, " and ");
}

/** @example "ON HOLD: 14 units. ..." */
export function heldText({ units, sentence }: Held): string {
  return `ON HOLD: ${units === 1 ? "1 unit" : `${units} units`}. ${sentence}`;
}
