import { z } from "zod";
import { canonicalText } from "../records/chain.ts";
import type { AttemptOutcome } from "../records/traveller.ts";
import type { Replayed } from "./replay.ts";

/** One thing as the traveller has it and as it was found again. */
export interface Compared {
  readonly what: string;
  /** JSON text, every digit; null where it is not there. */
  readonly recorded: string | null;
  readonly replayed: string | null;
}

export interface TapeComparison {
  /** Values of the characteristics, one after the other. */
  readonly characteristics: readonly Compared[];
  /** All else that differs, by the traveller's own names. */
  readonly differing: readonly Compared[];
  readonly isSame: boolean;
}

/** Judged anew; what an attempt is about, its facts, is not. */
const JUDGED = [
  "verdict",
  "reasons",
  "ended_at",
  "duration_s",
  "ambient",
  "characteristics",
  "phases",
  "curves",
  "airflow",
  "suspects",
] as const satisfies readonly (keyof AttemptOutcome)[];

const Characteristics = z.array(
  z.looseObject({ name: z.string(), value: z.number().nullable(), unit: z.string() }),
);
const Reference = z.looseObject({ measured: z.number().nullable(), conforms: z.boolean() });
const Gauges = z.array(z.looseObject({ name: z.string(), identity: z.string() }));

/** Everything that was judged, to the last digit: whatever a JSON text of it shows. */
export function compareTape(
  traveller: Readonly<Record<string, unknown>>,
  { outcome, identities }: Extract<Replayed, { kind: "judged" }>,
): TapeComparison {
  const replayed: Readonly<Record<string, unknown>> = { ...outcome };
  const recordedValues = valuesOf(traveller.characteristics);
  const replayedValues = valuesOf(replayed.characteristics);
  const names = [...new Set([...recordedValues.keys(), ...replayedValues.keys()])];
  const characteristics = names.map((what) => ({
    what,
    recorded: recordedValues.get(what) ?? null,
    replayed: replayedValues.get(what) ?? null,
  }));
  const all = [
    ...JUDGED.map((what) => compared(what, traveller[what], replayed[what])),
    compared("reference", judgedPiece(traveller.reference), judgedPiece(replayed.reference)),
    ...identitiesOf(traveller.gauges).map(({ name, identity }) =>
      compared(`identity of ${name}`, identity, identities.get(name)),
    ),
  ];
  const differing = all.filter(({ recorded, replayed }) => recorded !== replayed);
  return { characteristics, differing, isSame: differing.length === 0 };
}

function compared(what: string, recorded: unknown, replayed: unknown): Compared {
  return { what, recorded: textOf(recorded), replayed: textOf(replayed) };
}

/** The same text for the same value, in whatever order its keys come. */
function textOf(value: unknown): string | null {
  return value === undefined ? null : canonicalText(JSON.parse(JSON.stringify(value)));
}

function valuesOf(characteristics: unknown): ReadonlyMap<string, string> {
  const parsed = Characteristics.safeParse(characteristics);
  return new Map(
    (parsed.data ?? []).map(({ name, value, unit }) => [
      name,
      value === null ? "no value" : `${value} ${unit}`,
    ]),
  );
}

function judgedPiece(reference: unknown): unknown {
  const { data } = Reference.safeParse(reference);
  return data && { measured: data.measured, conforms: data.conforms };
}

function identitiesOf(gauges: unknown): readonly { readonly name: string; readonly identity: string }[] {
  return Gauges.safeParse(gauges).data ?? [];
}
