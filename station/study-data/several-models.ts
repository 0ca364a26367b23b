import { UsageError } from "../explain.ts";
import { type RecordedValues, recordedValues } from "./from-records.ts";
import type { RecordsQuery } from "./record-asked.ts";

/**
 * Recorded values of one model; of several, with commas between, where they are to be grouped by model: one after the other.
 * Limits are told where all have the same.
 * @throws UsageError, as `recordedValues`, and where the models' units differ
 */
export async function valuesOfModels(query: RecordsQuery): Promise<RecordedValues> {
  const models = query.model.split(",").map((model) => model.trim());
  const isByModel = query.by?.toLowerCase() === "model";
  if (models.length > 1 && !isByModel)
    throw new UsageError("Several models need --by model: else their values would be one heap.");
  const [first, ...rest] = models;
  if (first === undefined || rest.length === 0) return recordedValues(query);
  let all = await recordedValues({ ...query, model: first });
  for (const model of rest) {
    const next = await recordedValues({ ...query, model });
    if (next.unit !== all.unit)
      throw new UsageError(
        `${model} has its ${next.name} in ${next.unit}, the others in ${all.unit}: study it alone.`,
      );
    all = together(all, next, model);
  }
  return { ...all, subject: `${all.name} of ${models.join(", ")}` };
}

function together(one: RecordedValues, other: RecordedValues, model: string): RecordedValues {
  const isAlike = one.lower === other.lower && one.upper === other.upper;
  return {
    ...one,
    values: [...one.values, ...other.values],
    serials: [...one.serials, ...other.serials],
    started_ms: [...one.started_ms, ...other.started_ms],
    groups: [...one.groups, ...other.groups],
    periods: [...one.periods, ...other.periods],
    failed: one.failed + other.failed,
    lower: isAlike ? one.lower : undefined,
    upper: isAlike ? one.upper : undefined,
    source: `${one.source}; ${model}: ${other.source}`,
    notes: [
      ...one.notes,
      ...other.notes.map((note) => `${model}: ${note}`),
      ...(isAlike ? [] : [`The limits of ${model} are others: none is used, unless you give one.`]),
    ],
  };
}
