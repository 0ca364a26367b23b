import { readFileSync } from "node:fs";
import { quoted } from "../../limits/quantity.ts";
import { UsageError } from "../explain.ts";
import { storedAttempts } from "../records/read-stored-values.ts";
import { PartAsked } from "../study-data/part-asked.ts";

/** Which units a decision is about, as the command line says it. */
export interface UnitsOptions {
  readonly fromFile?: string;
  readonly part?: readonly string[];
  readonly model?: string;
}

export interface SerialsAsked {
  /** Each once, in the order in which they were named or tested. */
  readonly serials: readonly string[];
  /** What whoever asked must know. */
  readonly notes: readonly string[];
  /** Travellers that are not as recorded, and may have been of a unit that was meant. */
  readonly broken: readonly { readonly path: string; readonly problem: string }[];
}

/**
 * Serials as given, or from a file, or of every unit with a tracked part.
 * @throws UsageError where it is not said which, or none is found; RecordError where the records can't be read
 */
export async function serialsAsked(
  given: readonly string[],
  { fromFile, part, model }: UnitsOptions,
  folder: string,
): Promise<SerialsAsked> {
  const ways = [given.length > 0, fromFile !== undefined, part !== undefined].filter(Boolean).length;
  if (ways !== 1) {
    throw new UsageError("Say which units: serials, or --from-file, or --part with --model; one of them.");
  }
  if (part !== undefined) return unitsWithPart(part, model, folder);
  if (model !== undefined) throw new UsageError("--model belongs to --part: leave it out.");
  const named = fromFile === undefined ? given : serialsIn(fromFile);
  const serials = [...new Set(named)];
  const twice = serials.filter((serial) => named.indexOf(serial) !== named.lastIndexOf(serial));
  const notes = twice.length > 0 ? [`Named more than once, and taken once: ${twice.join(", ")}.`] : [];
  return { serials, notes, broken: [] };
}

/** A serial a line; empty lines and lines that begin with # are passed over. */
function serialsIn(path: string): string[] {
  let text: string;
  try {
    text = readFileSync(path === "-" ? 0 : path, "utf8");
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    throw new UsageError(`${path} can't be read: ${why}. Nothing was recorded.`);
  }
  const lines = text.split(/\r?\n/).map((line) => line.replace(/^\uFEFF/, "").trim());
  const serials = lines.filter((line) => line !== "" && !line.startsWith("#"));
  if (serials.length === 0) {
    throw new UsageError(`There is no serial in ${path}: give one a line. Nothing was recorded.`);
  }
  return serials;
}

/** Every unit that was ever tested with the part. */
async function unitsWithPart(
  wanted: readonly string[],
  model: string | undefined,
  folder: string,
): Promise<SerialsAsked> {
  if (model === undefined) throw new UsageError("--part needs --model: say of which model the units are.");
  const asked = wanted.map((text) => {
    const at = text.indexOf("=");
    if (at < 1 || at === text.length - 1) {
      throw new UsageError(`--part: expected NAME=VALUE like gasket_lot=G2411, not ${quoted(text)}.`);
    }
    return [new PartAsked(text.slice(0, at)), text.slice(at + 1)] as const;
  });
  const serials = new Set<string>();
  const broken: { path: string; problem: string }[] = [];
  for await (const found of storedAttempts(folder, { model })) {
    if (found.kind === "broken") {
      broken.push({ path: found.path, problem: found.problem });
      continue;
    }
    const { form, serial, parts } = found.attempt;
    if (form.recordKind !== "unit" || form.draft) continue;
    const own = JSON.parse(parts) as Record<string, string>;
    // Whatever was put in later: stopping one unit too many costs a look.
    if (asked.every(([part, value]) => part.of(own) === value)) serials.add(serial);
  }
  if (serials.size === 0) {
    const known = [...new Set(asked.flatMap(([part]) => part.known))].sort();
    throw new UsageError(
      `No unit of ${quoted(model)} with ${wanted.join(" and ")} is recorded in ${folder}: check model, part and value.${known.length > 0 ? ` Tracked are ${known.join(", ")}.` : ""} Nothing was recorded.`,
    );
  }
  return { serials: [...serials], notes: [], broken };
}
