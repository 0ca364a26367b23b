import { type Contradiction, entriesOf, keyOf, listOf, numberOf, textOf } from "../limits/faulty-file.ts";
import type { AirflowPoint, ModelLimits } from "../limits/model.ts";
import { nearest } from "../limits/nearest.ts";
import { flowFromKind } from "./station-flow-checks.ts";

/** Local time of day. */
export const CLOCK_TIME = /^([01]\d|2[0-3]):[0-5]\d$/;

type Path = readonly (string | number)[];

/** What reference check and shifts say against one another, and against the rest of the file. It is given the file with its faults. */
export function referenceContradictions(file: unknown): Contradiction[] {
  return [
    ...shiftContradictions(file),
    ...repeatedPieces(file),
    ...pieces(file).flatMap((piece, i) => pieceContradictions(file, piece, placeOf(i))),
  ];
}

/**
 * What a station file's reference pieces say against the limit files.
 * @param faulty models of limit files with mistakes of their own, of which nothing more is known; null when one doesn't even
 * say its model
 */
export function referenceMismatches(
  file: unknown,
  models: readonly ModelLimits[],
  faulty: readonly string[] | null,
): Contradiction[] {
  if (keyOf(keyOf(file, "reference_check"), "pieces") === undefined) return [];
  return [
    ...(faulty === null
      ? []
      : pieces(file).flatMap((piece, i) => pieceMismatches(file, piece, placeOf(i), { models, faulty }))),
    ...models.flatMap((limits) => unproven(file, limits)),
  ];
}

function shiftContradictions(file: unknown): Contradiction[] {
  const shifts = listOf(file, "shifts");
  const isTime = (begin: unknown) => typeof begin === "string" && CLOCK_TIME.test(begin);
  const late = shifts.findIndex((begin, i) => {
    const before = shifts[i - 1];
    return isTime(begin) && isTime(before) && `${begin}` <= `${before}`;
  });
  const found: Contradiction[] = [];
  if (late > 0) {
    const expected = `a time after ${shifts[late - 1]}: shifts stand in the order of the day, each once`;
    found.push({ path: ["shifts", late], expected });
  }
  if (keyOf(keyOf(file, "reference_check"), "at_shift_start") === true && shifts.length === 0) {
    const expected =
      'false, or the key shifts with the times they begin, such as ["06:00", "14:00", "22:00"]';
    found.push({ path: ["reference_check", "at_shift_start"], expected });
  }
  return found;
}

function repeatedPieces(file: unknown): Contradiction[] {
  const serials = pieces(file).map((piece) => textOf(piece, "serial"));
  return serials.flatMap((serial, i) =>
    serial === undefined || serials.indexOf(serial) === i
      ? []
      : [{ path: [...placeOf(i), "serial"], expected: "a serial no other piece has" }],
  );
}

function pieceContradictions(file: unknown, piece: unknown, place: Path): Contradiction[] {
  const found: Contradiction[] = [];
  const kind = textOf(piece, "kind");
  if (kind === "orifice" && flowFromKind(file) === "plenum_orifices") {
    const why =
      "tight or leak: with flow_from: plenum_orifices the flow is calculated from the station's own orifices, and an orifice piece would prove nothing";
    found.push({ path: [...place, "kind"], expected: why });
  }
  const certified = numberOf(keyOf(piece, "certified"), "value_m3_s");
  const tolerance = numberOf(piece, "tolerance");
  const mustRead = kind === "leak" || kind === "orifice";
  if (mustRead && certified !== undefined && tolerance !== undefined && tolerance >= certified) {
    const expected = "less than the certified value: with this one a reading of nothing would do";
    found.push({ path: [...place, "tolerance"], expected });
  }
  return found;
}

interface Known {
  readonly models: readonly ModelLimits[];
  readonly faulty: readonly string[];
}

function pieceMismatches(
  file: unknown,
  piece: unknown,
  place: Path,
  { models, faulty }: Known,
): Contradiction[] {
  const model = textOf(piece, "model");
  if (model === undefined || faulty.includes(model)) return [];
  const isOrifice = textOf(piece, "kind") === "orifice";
  const fitting = models.filter((it) => (isOrifice ? pointsOf(it).length > 0 : hasLeakRate(it)));
  const limits = fitting.find((it) => it.model === model);
  if (!limits) {
    const known = fitting.map((it) => it.model);
    const what = isOrifice ? "an airflow step" : "a leak rate";
    const expected = `a model whose limit file has ${what}: ${known.join(", ") || "there is none"}`;
    return [{ path: [...place, "model"], expected, ...meant(model, known) }];
  }
  const name = textOf(piece, "point");
  if (!isOrifice || name === undefined) return [];
  const open = pointsOf(limits).filter(({ orifice }) => !isClosed(file, orifice));
  if (open.some((point) => point.name === name)) return [];
  const names = open.map((point) => point.name);
  const expected = `a point of ${model}'s airflow step whose orifice lets air in: ${names.join(", ") || "there is none"}`;
  return [{ path: [...place, "point"], expected, ...meant(name, names) }];
}

function unproven(file: unknown, limits: ModelLimits): Contradiction[] {
  const { model, source } = limits;
  const own = pieces(file).filter((piece) => textOf(piece, "model") === model);
  // An orifice proves nothing of a leak rate. A kind that is none has its own complaint.
  const isProven = own.some((piece) => textOf(piece, "kind") !== "orifice" || !hasLeakRate(limits));
  if (isProven) return [];
  const kind = hasLeakRate(limits) ? "tight or leak" : "orifice";
  return [
    {
      path: ["reference_check", "pieces"],
      found: `none of kind ${kind} for ${model}, which has the limit file ${source.path}`,
      expected: "reference pieces for every model, to prove the station for it",
    },
  ];
}

function pieces(file: unknown): readonly unknown[] {
  return listOf(keyOf(file, "reference_check"), "pieces");
}

function placeOf(index: number): Path {
  return ["reference_check", "pieces", index];
}

function hasLeakRate({ characteristics }: ModelLimits): boolean {
  return characteristics.some(({ measurand }) => measurand === "leak_rate");
}

function pointsOf({ steps }: ModelLimits): readonly AirflowPoint[] {
  return steps.flatMap((step) => (step.kind === "airflow" ? step.points : []));
}

function isClosed(file: unknown, orifice: string): boolean {
  const settings = entriesOf(file, "orifices").find(([name]) => name === orifice)?.[1];
  return keyOf(settings, "output") === null;
}

function meant(word: string, candidates: readonly string[]): Pick<Contradiction, "hint"> {
  const near = nearest(word, candidates);
  return near === undefined ? {} : { hint: `did you mean ${near}?` };
}
