import type { DispositionDraft } from "../../station/records/disposition.ts";
import type { Recorded, RecordStore } from "../../station/records/store.ts";
import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";
import { facts, outcome } from "./example-attempt.ts";

export const PIECE = { serial: "REF-LEAK-1", model: "demo-body" };
const CERTIFIED = { piece: PIECE.serial, certified_value: 15, tolerance: 2, unit: "mL/min" };

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

/** Somebody's decision about these travellers. */
export function decision(
  kind: "hold" | "accept" | "rework" | "scrap",
  ...tests: readonly Recorded[]
): DispositionDraft {
  return {
    kind,
    by: { name: "S. Ode", sign_in: "pin", role: "supervisor" },
    units: tests.map(({ sha256, traveller }) => ({
      serial: traveller.serial,
      attempt: traveller.attempt.number,
      traveller: sha256,
    })),
    reason: { code: "DECIDED", sentence: "The gasket's lot is doubtful." },
    ...(kind === "rework" ? { rework: { cause: "gasket pinched", action: "new gasket" } } : {}),
  };
}
