import type { Disposition } from "./disposition.ts";

const FORMAT: Disposition["format"] = "drumtight/disposition/1";
const KINDS: ReadonlySet<unknown> = new Set<Disposition["kind"]>(["hold", "accept", "rework", "scrap"]);

/**
 * A recorded disposition, by hand and not by its schema, whose library takes longer to load than `drumtight find` may take: for records
 * that were held against the schema when the station put them into its index, and are the same to the byte.
 * @returns null for what no version of the program wrote that this one knows
 */
export function recordedDisposition(content: unknown): Disposition | null {
  if (!isObject(content)) return null;
  const { format, at, kind, by, units, reason, rework, reference, lifts, chain } = content;
  const isOne =
    format === FORMAT &&
    isText(at) &&
    KINDS.has(kind) &&
    isObject(by) &&
    (by.name === null || isText(by.name)) &&
    isText(by.sign_in) &&
    isObject(reason) &&
    isText(reason.code) &&
    isText(reason.sentence) &&
    isListOf(units, isUnit) &&
    isObject(chain) &&
    isCount(chain.sequence) &&
    (kind === "rework" ? isRework(rework) : rework === undefined) &&
    (reference === undefined || (kind === "hold" && isText(reference))) &&
    (lifts === undefined || (kind === "accept" && isListOf(lifts, isCount)));
  return isOne ? (content as Disposition) : null;
}

function isUnit(unit: unknown): boolean {
  return isObject(unit) && isText(unit.serial) && isCount(unit.attempt) && isText(unit.traveller);
}

function isRework(rework: unknown): boolean {
  return isObject(rework) && isText(rework.cause) && isText(rework.action);
}

function isListOf(value: unknown, is: (one: unknown) => boolean): boolean {
  return Array.isArray(value) && value.length > 0 && value.every(is);
}

function isObject(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}

function isText(value: unknown): boolean {
  return typeof value === "string" && value !== "";
}

function isCount(value: unknown): boolean {
  return Number.isSafeInteger(value) && Number(value) > 0;
}
