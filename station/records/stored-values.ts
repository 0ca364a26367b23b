import { createHash } from "node:crypto";
import { canonicalText } from "./chain.ts";
import type { Traveller } from "./traveller.ts";

/** A judged quantity as it was recorded, without its number; limits in `unit`. */
export interface StoredCharacteristic {
  readonly name: string;
  readonly step: string;
  readonly point?: string;
  readonly measurand: Traveller["characteristics"][number]["measurand"];
  readonly unit: string;
  readonly lower?: number;
  readonly upper?: number;
  readonly rule: Traveller["characteristics"][number]["rule"];
  readonly verdict: "pass" | "fail" | "void";
  /** Of a leak rate that was measured: how. */
  readonly how?: {
    readonly method: "fitted" | "slope" | "difference";
    readonly meanCurveSubtracted: boolean;
    /** Whether looks were taken at the curve while it was measured, and whether one of them ended it. */
    readonly looks: "none" | "taken" | "early";
  };
}

/** What many attempts have in common: everything of a traveller that a verdict rests on but its numbers. */
export interface StoredForm {
  readonly model: string;
  readonly recordKind: "unit" | "reference";
  readonly kind: "first" | "retest" | "after_rework";
  readonly draft: boolean;
  /** Measured for a study; a draft then, too. */
  readonly study?: true;
  /** Its name, and whether it was a simulated one. */
  readonly station: string;
  readonly simulated: boolean;
  readonly verdict: "pass" | "fail" | "void";
  readonly codes: readonly string[];
  readonly limitFile: { readonly revision: number; readonly sha256: string };
  readonly characteristics: readonly StoredCharacteristic[];
  /** Of airflow steps that came to a point: what their results are stated at, and which orifice each point had. */
  readonly airflow: readonly {
    readonly step: string;
    readonly statedAt: {
      readonly supplyVoltage_V: number;
      readonly speedPerDensity: number;
      readonly speedPerVoltage: number;
      readonly exponentUncertainty: number;
    } | null;
    readonly points: readonly { readonly point: string; readonly orifice: string }[];
  }[];
}

/** An attempt's values as the index keeps them, so that a million can be judged again without opening a million files. */
export interface StoredValues {
  /** Number of the form, from its text. */
  readonly form: number;
  /** `StoredForm` as canonical JSON: the same whether a traveller was just made or read from its file. */
  readonly formText: string;
  /** Names and numbers of tracked parts, canonical JSON. */
  readonly parts: string;
  /** Little-endian doubles, see `numbersOf`. */
  readonly numbers: Buffer;
}

/** Most stations know some hundred; more are not kept at hand. */
const FORMS_AT_HAND = 5000;

type WithUndefined<T> = T extends readonly (infer One)[]
  ? readonly WithUndefined<One>[]
  : T extends object
    ? { readonly [Name in keyof T]: WithUndefined<T[Name]> | (undefined extends T[Name] ? undefined : never) }
    : T;

type FormText = Pick<StoredValues, "form" | "formText">;

interface MetForm {
  readonly as: WithUndefined<StoredForm>;
  readonly text: FormText;
}

/** The forms met so far: a canonical text and its number take longer than all else that is stored of an attempt. */
export class FormTexts {
  /** By the limit file's SHA-256, the newest met first: compared with these a form takes half the time of a text to look it up by. */
  readonly #met = new Map<string, MetForm[]>();
  #count = 0;

  of(traveller: Traveller): FormText {
    const as = formOf(traveller);
    const met = this.#metWith(as.limitFile.sha256);
    const at = met.findIndex((it) => isSame(it.as, as));
    const known = met[at];
    if (known) {
      if (at > 0) met.unshift(...met.splice(at, 1));
      return known.text;
    }
    const formText = canonicalText(as);
    const text = { form: formNumber(formText), formText };
    met.unshift({ as, text });
    this.#count++;
    return text;
  }

  #metWith(limitFile: string): MetForm[] {
    if (this.#count >= FORMS_AT_HAND) {
      this.#met.clear();
      this.#count = 0;
    }
    const met = this.#met.get(limitFile) ?? [];
    this.#met.set(limitFile, met);
    return met;
  }
}

/** @returns whether two values are the same to the last member; of objects that have the same members, as `formOf` makes them */
function isSame(a: unknown, b: unknown): boolean {
  if (Object.is(a, b)) return true;
  if (typeof a !== "object" || typeof b !== "object" || a === null || b === null) return false;
  if (Array.isArray(a)) {
    if (!Array.isArray(b) || a.length !== b.length) return false;
    for (let at = 0; at < a.length; at++) if (!isSame(a[at], b[at])) return false;
    return true;
  }
  for (const name in a) if (!isSame((a as Members)[name], (b as Members)[name])) return false;
  return true;
}

type Members = Readonly<Record<string, unknown>>;

/** @returns what the index keeps of a traveller's values */
export function storedValuesOf(traveller: Traveller, forms = new FormTexts()): StoredValues {
  const { form, formText } = forms.of(traveller);
  return {
    form,
    formText,
    parts: canonicalText(traveller.parts),
    numbers: encoded(numbersOf(traveller)),
  };
}

/** The same for the same text in any index; 48 bits, so that a number holds it exactly. */
export function formNumber(formText: string): number {
  return Number.parseInt(createHash("sha256").update(formText).digest("hex").slice(0, 12), 16);
}

/** @returns a traveller's `StoredForm` as canonical JSON */
export function formTextOf(traveller: Traveller): string {
  return canonicalText(formOf(traveller));
}

/**
 * A `StoredForm`, with what is not there as `undefined`, which no JSON text shows: objects that all have the same members take a
 * third of the time.
 */
function formOf(traveller: Traveller): WithUndefined<StoredForm> {
  const { limit_file, station } = traveller;
  return {
    model: traveller.model,
    recordKind: traveller.kind,
    kind: traveller.attempt.kind,
    draft: traveller.draft,
    study: traveller.study ? (true as const) : undefined,
    station: station.name,
    simulated: station.simulated,
    verdict: traveller.verdict,
    codes: traveller.reasons.map(({ code }) => code),
    limitFile: { revision: limit_file.revision, sha256: limit_file.sha256 },
    characteristics: traveller.characteristics.map(storedCharacteristic),
    airflow: (traveller.airflow ?? []).map(({ step, stated_at, points }) => ({
      step,
      statedAt: stated_at && {
        supplyVoltage_V: stated_at.supply_voltage_V,
        speedPerDensity: stated_at.speed_per_density,
        speedPerVoltage: stated_at.speed_per_voltage,
        exponentUncertainty: stated_at.exponent_uncertainty,
      },
      points: points.map(({ point, orifice }) => ({ point, orifice })),
    })),
  };
}

function storedCharacteristic(it: Traveller["characteristics"][number]): WithUndefined<StoredCharacteristic> {
  const { name, step, point, measurand, unit, lower, upper, rule, verdict, how } = it;
  return { name, step, point, measurand, unit, lower, upper, rule, verdict, how: how && storedHow(how) };
}

function storedHow({
  method,
  mean_curve_subtracted,
  looks,
}: NonNullable<Traveller["characteristics"][number]["how"]>): NonNullable<StoredCharacteristic["how"]> {
  return {
    method,
    meanCurveSubtracted: mean_curve_subtracted ?? false,
    looks: looks === undefined ? "none" : looks.early ? "early" : "taken",
  };
}

/** Numbers of each characteristic: value and standard uncertainty in its unit, NaN where there is none. */
export const PER_CHARACTERISTIC = 2;
/** Then of each leak rate: from when to when it was measured, s since the shut-off, and the gauge pressure at the fill's end, Pa. */
export const PER_LEAK_RATE = 3;

export function numbersOf({ characteristics, phases }: Traveller): number[] {
  const numbers: number[] = [];
  for (const { value, uncertainty } of characteristics)
    numbers.push(value ?? Number.NaN, uncertainty ?? Number.NaN);
  for (const { measurand, how, step } of characteristics) {
    if (measurand !== "leak_rate") continue;
    const fill = phases.find((it) => it.step === step && it.phase === "fill")?.fill;
    numbers.push(how?.from_s ?? Number.NaN, how?.to_s ?? Number.NaN, fill?.pressure_at_end_Pa ?? Number.NaN);
  }
  return numbers;
}

function encoded(numbers: readonly number[]): Buffer {
  const bytes = Buffer.allocUnsafe(8 * numbers.length);
  for (let i = 0; i < numbers.length; i++) bytes.writeDoubleLE(numbers[i] ?? Number.NaN, 8 * i);
  return bytes;
}

/** @returns the numbers that `StoredValues` keeps as bytes */
export function decodedNumbers(bytes: Uint8Array | ArrayBuffer): Float64Array {
  const view = ArrayBuffer.isView(bytes)
    ? new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength)
    : new DataView(bytes);
  const numbers = new Float64Array(view.byteLength >> 3);
  for (let i = 0; i < numbers.length; i++) numbers[i] = view.getFloat64(8 * i, true);
  return numbers;
}
