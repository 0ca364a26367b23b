import { Box, Text } from "ink";
import { Characteristics, limitRows } from "./characteristics.tsx";
import { type Look, tint } from "./look.ts";
import type { UnitOnFixture } from "./screen-state.ts";
import { wrapWords } from "./wrap-words.ts";

/** What is missing before the start, else what the unit is going to be judged by. */
export function Armed({ look, unit }: { readonly look: Look; readonly unit: UnitOnFixture }) {
  const asked = retestLines(unit, look.columns);
  const missing = missingLines(unit, look.columns);
  const parts = partsLines(unit, look.columns);
  const rowsLeft = look.rows - asked.length - missing.length - parts.length;
  return (
    <Box flexDirection="column" flexShrink={0}>
      {asked.length > 0 ? (
        <Text bold {...tint(look, "yellow")}>
          {asked.join("\n")}
        </Text>
      ) : null}
      {missing.length > 0 ? (
        <Text bold {...tint(look, "yellow")}>
          {missing.join("\n")}
        </Text>
      ) : null}
      {parts.length > 0 ? <Text>{parts.join("\n")}</Text> : null}
      {unit.isReference ? <Text bold>Judged by its certificate.</Text> : null}
      {unit.isReference || rowsLeft < 2 ? null : <JudgedBy look={{ ...look, rows: rowsLeft }} unit={unit} />}
    </Box>
  );
}

function JudgedBy({ look, unit }: { readonly look: Look; readonly unit: UnitOnFixture }) {
  const rows = look.rows - 1;
  const limits = limitRows(unit.limits);
  const shown = limits.length <= rows ? limits : limits.slice(0, rows - 1);
  const more = limits.length - shown.length;
  return (
    <>
      <Text bold>Judged by:</Text>
      <Characteristics look={look} rows={shown} width={look.columns} />
      {more > 0 ? <Text>{`and ${more} more in the limit file`}</Text> : null}
    </>
  );
}

const AFTER_HOLD =
  "It was held: a reference check failed after its last test, which proves nothing. This one counts instead.";

function retestLines(unit: UnitOnFixture, width: number): readonly string[] {
  const { retestReasons, retestReason, isAfterHold } = unit;
  if (isAfterHold) return wrapWords(AFTER_HOLD, width, "  ");
  if (retestReason !== null) return wrapWords(`Tested again because: ${retestReason}`, width, "  ");
  if (retestReasons.length === 0) return [];
  return [
    "Why is it tested again? Type the number, then Enter:",
    ...retestReasons.flatMap((reason, i) => wrapWords(`  ${i + 1}  ${reason}`, width, "     ")),
  ].map((line) => (/^\d /.test(line) ? `  ${line}` : line));
}

function missingLines({ missingParts }: UnitOnFixture, width: number): readonly string[] {
  if (missingParts.length === 0) return [];
  return wrapWords(`Still to be scanned: ${missingParts.map(partText).join(", ")}.`, width, "  ");
}

function partsLines({ parts }: UnitOnFixture, width: number): readonly string[] {
  const scanned = Object.entries(parts);
  return scanned.length === 0 ? [] : wrapWords(`Parts: ${partsText(parts)}`, width, "  ");
}

/** @example partsText({ tub_cavity: "P2" }) // "tub cavity P2" */
export function partsText(parts: Readonly<Record<string, string>>): string {
  return Object.entries(parts)
    .map(([name, label]) => `${partText(name)} ${label}`)
    .join(", ");
}

function partText(name: string): string {
  return name.replaceAll("_", " ");
}
