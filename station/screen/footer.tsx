import { Box, Text } from "ink";
import { countsText, LAST_UNITS_GAP, LAST_UNITS_LABEL, lastUnitTexts } from "./counts-text.ts";
import { type Look, tint } from "./look.ts";
import type { ScreenState } from "./screen-state.ts";
import { keysNow } from "./sentences.ts";

/** Today's count and the last units. */
export function Today({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const { counts } = state.observed;
  const units = lastUnitTexts(counts, look.columns);
  return (
    <Box flexDirection="column" flexShrink={0}>
      <Text wrap="truncate">{countsText(counts, look.columns)}</Text>
      <Text wrap="truncate">
        {LAST_UNITS_LABEL}
        {units.length === 0 ? "none yet" : null}
        {units.map(({ serial, word }, i) => (
          // biome-ignore lint/suspicious/noArrayIndexKey: one serial may be there twice, and nothing is moved
          <Text key={i}>
            {`${i > 0 ? LAST_UNITS_GAP : ""}${serial} `}
            <Text bold {...tint(look, COLOURS[word])}>
              {word}
            </Text>
          </Text>
        ))}
      </Text>
    </Box>
  );
}

export const TODAY_ROWS = 2;

/** The keys that work now, in as many rows as they need. */
export function Keys({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  return (
    <Box flexDirection="column" flexShrink={0}>
      {keyRows(state, look.columns).map((row) => (
        <Text key={row[0]?.key} wrap="truncate">
          {row.map(({ key, does }, i) => (
            <Text key={key}>
              {i > 0 ? GAP : ""}
              <Text bold inverse>
                {key}
              </Text>
              {does}
            </Text>
          ))}
        </Text>
      ))}
    </Box>
  );
}

/** As they are written, blanks included. */
interface KeyText {
  readonly key: string;
  readonly does: string;
}

/** @returns the keys that work now, row by row; nearer to each other where that saves a row */
export function keyRows(state: ScreenState, columns: number): readonly (readonly KeyText[])[] {
  const keys = keysNow(state);
  const wide = inRows(
    keys.map(([key, does]) => ({ key: ` ${key} `, does: ` ${does}` })),
    columns,
  );
  if (wide.length === 1) return wide;
  return inRows(
    keys.map(([key, does]) => ({ key, does: ` ${does}` })),
    columns,
  );
}

function inRows(keys: readonly KeyText[], columns: number): readonly (readonly KeyText[])[] {
  const rows: KeyText[][] = [[]];
  let left = columns;
  for (const text of keys) {
    const row = rows.at(-1) ?? [];
    const width = text.key.length + text.does.length;
    const gap = row.length > 0 ? GAP.length : 0;
    if (row.length > 0 && gap + width > left) {
      rows.push([text]);
      left = columns - width;
    } else {
      row.push(text);
      left -= gap + width;
    }
  }
  return rows;
}

/** What is typed or scanned, with the place of the next character. */
export function TypedLine({ look, state }: { readonly look: Look; readonly state: ScreenState }) {
  const { before, at, after } = typedParts(state, look.columns - PROMPT.length);
  return (
    <Text wrap="truncate">
      {PROMPT}
      <Text bold>{before}</Text>
      <Text inverse>{at}</Text>
      <Text bold>{after}</Text>
    </Text>
  );
}

const GAP = "  ";
const PROMPT = "> ";
const COLOURS = { PASS: "green", FAIL: "red", VOID: "yellow", HELD: "yellow", SCRAP: "red" } as const;

/** The part of the line around the cursor that there is room for; its end stays to be seen. */
function typedParts({ typed, cursor }: Pick<ScreenState, "typed" | "cursor">, columns: number) {
  const characters = [...typed];
  const place = Math.min(cursor, characters.length);
  const from = Math.max(0, Math.min(place, characters.length + 1 - columns));
  const shown = characters.slice(from, from + columns);
  const at = place - from;
  return {
    before: shown.slice(0, at).join(""),
    at: shown[at] ?? " ",
    after: shown.slice(at + 1).join(""),
  };
}
