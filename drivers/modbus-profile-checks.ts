import { type Contradiction, keyOf, listOf, numberOf, textOf } from "../limits/faulty-file.ts";
import { canHold, liesIn, plannedReads, REGISTERS_MOST, registersOf } from "./modbus-numbers.ts";
import { NUMBER_TYPES, type NumberPlace, type NumberType, type RegisterTable } from "./modbus-profile.ts";

/** What the keys of a Modbus profile say against one another. All are given the file with its faults. */

type Path = readonly (string | number)[];
type Where = Pick<NumberPlace, "table" | "address" | "type">;

const LAST_ADDRESS = 65_535;

/** A number must lie within the table, and what it is compared with must be a number it can be. */
export function numberProblems(given: unknown): Contradiction[] {
  const place = placeIn(given);
  if (!place) return [];
  const problems: Contradiction[] = [];
  if (place.address + registersOf(place.type) - 1 > LAST_ADDRESS)
    problems.push({ path: ["address"], expected: `an address up to ${LAST_ADDRESS - 1} for two registers` });
  const marks = ["over_range", "invalid"].flatMap((meaning) =>
    listOf(keyOf(given, "special_values"), meaning).map((value, i) => ({
      value,
      path: ["special_values", meaning, i] as Path,
    })),
  );
  const seen = new Set<unknown>();
  for (const { value, path } of [...marks, { value: keyOf(given, "expect"), path: ["expect"] }]) {
    if (typeof value !== "number") continue;
    if (!canHold(place.type, value))
      problems.push({ path, expected: `a number that ${place.type} can hold` });
    if (seen.has(value)) problems.push({ path, expected: "each of them once" });
    seen.add(value);
  }
  return problems;
}

/** There is one way to ask who it is. */
export function identityProblems(given: unknown): Contradiction[] {
  const ways = ["device_identification", "text", "number"].filter((key) => keyOf(given, key) !== undefined);
  const problems: Contradiction[] =
    ways.length === 1
      ? []
      : [{ path: [], expected: "one of device_identification, text and number, and only one" }];
  const own = numberProblems(keyOf(given, "number"));
  return [...problems, ...own.map((problem) => ({ ...problem, path: ["number", ...problem.path] }))];
}

/** A status is codes or bits, each with one meaning. */
export function statusProblems(given: unknown): Contradiction[] {
  const problems: Contradiction[] = [];
  if ((keyOf(given, "codes") === undefined) === (keyOf(given, "bits") === undefined))
    problems.push({ path: [], expected: "either codes or bits, and not both" });
  const seen = new Set<unknown>();
  let bits = 0;
  for (const kind of ["codes", "bits"]) {
    for (const meaning of ["good", "over_range", "invalid"]) {
      listOf(keyOf(given, kind), meaning).forEach((mark, i) => {
        if (seen.has(mark)) problems.push({ path: [kind, meaning, i], expected: "each of them once" });
        seen.add(mark);
        if (kind === "bits") bits++;
      });
    }
  }
  if (keyOf(given, "bits") !== undefined && bits === 0)
    problems.push({ path: ["bits"], expected: "at least one bit and what it means" });
  return problems;
}

/**
 * A value and what is said of it come in one answer: out of two they may belong to two measurements, and a bad
 * value would be called good.
 */
export function gaugeReadProblems(given: unknown): Contradiction[] {
  const entries = listOf(given, "channels").map((entry, i) => ({
    place: placeIn(entry),
    status: statusIn(keyOf(entry, "status")),
    name: textOf(entry, "name"),
    at: i,
  }));
  const status = statusIn(keyOf(given, "status"));
  const counter = placeIn(keyOf(given, "counter"));
  const all = [...entries.flatMap(({ place, status }) => [place, status]), status, counter].filter(
    (place) => place !== undefined,
  );
  const together = keyOf(given, "read_together") === true;
  const reads = plannedReads(all, together);
  const problems = repeatedNames(entries.map(({ name }) => name));
  if (together && reads.length > 1)
    problems.push({
      path: ["read_together"],
      expected: `registers of one table, no more than ${REGISTERS_MOST} from the first to the last`,
    });
  const areApart = (a: Where | undefined, b: Where | undefined) =>
    a && b && !reads.some((range) => liesIn(a, range) && liesIn(b, range));
  const apart = (path: Path, name: string) =>
    problems.push({
      path,
      expected: `registers that come in one answer with channel ${name}: next to it in its table, or with read_together`,
    });
  for (const own of entries) {
    if (areApart(own.place, own.status)) apart(["channels", own.at, "status"], own.name ?? String(own.at));
  }
  for (const [key, place] of [
    ["status", status],
    ["counter", counter],
  ] as const) {
    const far = entries.find((own) => areApart(own.place, place));
    if (far) apart([key], far.name ?? String(far.at));
  }
  const every_s = numberOf(keyOf(given, "poll"), "every");
  const staleAfter_s = numberOf(keyOf(given, "counter"), "stale_after");
  const replyWithin_s = numberOf(given, "reply_within");
  if (every_s === undefined || staleAfter_s === undefined || replyWithin_s === undefined) return problems;
  // Between two answers further apart than that the count may have stood still or gone round, and nobody could tell.
  if (staleAfter_s < 2 * every_s || staleAfter_s <= every_s + replyWithin_s)
    problems.push({
      path: ["counter", "stale_after"],
      expected: "at least twice as long as poll every, and longer than poll every and reply_within together",
    });
  return problems;
}

function repeatedNames(names: readonly (string | undefined)[]): Contradiction[] {
  return names.flatMap((name, i) =>
    name !== undefined && names.indexOf(name) < i
      ? [{ path: ["channels", i, "name"], expected: "a name not used before" }]
      : [],
  );
}

function placeIn(given: unknown): Where | undefined {
  const address = numberOf(given, "address");
  const table = tableIn(given);
  const type = textOf(given, "type");
  if (address === undefined || !table || !isNumberType(type)) return undefined;
  return { table, address, type };
}

function statusIn(given: unknown): Where | undefined {
  const address = numberOf(given, "address");
  const table = tableIn(given);
  return address === undefined || !table ? undefined : { table, address, type: "uint16" };
}

function tableIn(given: unknown): RegisterTable | undefined {
  const table = textOf(given, "table");
  return table === "input_register" || table === "holding_register" ? table : undefined;
}

function isNumberType(type: string | undefined): type is NumberType {
  return NUMBER_TYPES.some((known) => known === type);
}
