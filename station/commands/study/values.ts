import { escaped } from "../../../limits/escaped-text.ts";
import { recordedValues } from "../../study-data/from-records.ts";
import { type RecordsArguments, recordsQueryOf } from "./records-options.ts";

/** @throws UsageError, RecordError with what to do */
export async function printValues(args: RecordsArguments): Promise<void> {
  const { values, serials, started_ms, groups, unit, lower, upper, subject, source, notes } =
    await recordedValues(await recordsQueryOf(args));
  const limits = [
    ...(lower === undefined ? [] : [`lower limit ${lower} ${unit}`]),
    ...(upper === undefined ? [] : [`upper limit ${upper} ${unit}`]),
  ];
  const told = `${values.length} values, ${subject} in ${unit}, ${[...limits, source].join(", ")}.`;
  process.stderr.write([told, ...notes].map((line) => `${escaped(line)}\n`).join(""));
  process.stdout.write("group,value,serial,at\n");
  for (const [i, value] of values.entries()) {
    const at = new Date(started_ms[i] ?? 0).toISOString();
    process.stdout.write(
      `${[groups[i] ?? "", String(value), serials[i] ?? "", at].map(csvCell).join(",")}\n`,
    );
  }
}

/** RFC 4180. */
function csvCell(text: string): string {
  return /[",\r\n]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}
