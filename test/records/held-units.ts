import { type DispositionDraft, REFERENCE_FAILED } from "../../station/records/disposition.ts";
import type { Recorded, RecordStore } from "../../station/records/store.ts";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";
import { facts, outcome } from "./example-attempt.ts";

export const PIECE = { serial: "REF-LEAK-1", model: "demo-body" };
const CERTIFIED = { piece: PIECE.serial, certified_value: 15, tolerance: 2, unit: "mL/min" };

const FAILED_CHECK = "c".repeat(64);

type Verdict = AttemptOutcome["verdict"];

export function endedAs(verdict: Verdict): AttemptOutcome {
  if (verdict === "pass") return outcome();
  const code = verdict === "fail" ? "GROSS_LEAK" : "ABORTED";
  return outcome({ verdict, reasons: [{ code, sentence: "It was so." }] });
}

/** The facts of the next attempt of a serial. */
async function nextFacts(store: RecordStore, serial: string, more: Partial<AttemptFacts>) {
  return facts(serial, (await store.history(serial)).length + 1, more);
}

/** One unit more, tested with this end. */
export async function test(
  store: RecordStore,
  serial: string,
  verdict: Verdict = "pass",
  more: Partial<AttemptFacts> = {},
): Promise<Recorded> {
  return store.commit(await store.begin(await nextFacts(store, serial, more)), endedAs(verdict));
}

export function checkFacts(number: number, more: Partial<AttemptFacts> = {}): AttemptFacts {
  return facts(PIECE.serial, number, { kind: "reference", reference: CERTIFIED, ...more });
}

export function checked(verdict: Verdict): AttemptOutcome {
  const measured = verdict === "void" ? null : verdict === "pass" ? 15.2 : 18.1;
  return { ...endedAs(verdict), reference: { measured, conforms: verdict === "pass" } };
}

/** The reference piece, checked with this end. */
export async function check(
  store: RecordStore,
  verdict: Verdict,
  more: Partial<AttemptFacts> = {},
): Promise<Recorded> {
  const number = (await store.history(PIECE.serial)).length + 1;
  return store.commit(await store.begin(checkFacts(number, more)), checked(verdict));
}

/** Somebody's decision about these travellers; a "doubt" is the station's hold after a failed check. */
export function decision(
  kind: "doubt" | "hold" | "accept" | "rework" | "scrap",
  ...tests: readonly Recorded[]
): DispositionDraft {
  const isStations = kind === "doubt";
  return {
    kind: isStations ? "hold" : kind,
    by: isStations
      ? { name: null, sign_in: "station" }
      : { name: "S. Ode", sign_in: "pin", role: "supervisor" },
    units: tests.map(({ sha256, traveller }) => ({
      serial: traveller.serial,
      attempt: traveller.attempt.number,
      traveller: sha256,
    })),
    reason: {
      code: isStations ? REFERENCE_FAILED : "DECIDED",
      sentence: "The gasket's lot is doubtful.",
    },
    ...(isStations ? { reference: FAILED_CHECK } : {}),
    ...(kind === "rework" ? { rework: { cause: "gasket pinched", action: "new gasket" } } : {}),
  };
}
