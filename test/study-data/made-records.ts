import type { AttemptFacts, AttemptOutcome } from "../../station/records/traveller.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { checked, checkFacts, PIECE } from "../records/held-units.ts";
import type { open } from "../records/running-store.ts";

export type Store = Awaited<ReturnType<typeof open>>["store"];
type Characteristic = AttemptOutcome["characteristics"][number];

/** A unit with this leak rate, passed or failed by its limit of 60 mL/min. */
export async function leaking(
  store: Store,
  serial: string,
  value: number,
  { characteristic = {}, ...more }: Partial<AttemptFacts> & { characteristic?: Partial<Characteristic> } = {},
) {
  const number = (await store.history(serial)).length + 1;
  const [leak] = outcome().characteristics;
  if (!leak) throw new Error("the example has no characteristic");
  const verdict = value <= 60 ? "pass" : "fail";
  const judged = { ...leak, value, verdict, ...characteristic } as Characteristic;
  const reasons = verdict === "pass" ? [] : [{ code: "LEAK", sentence: "It leaks." }];
  return store.commit(
    await store.begin(facts(serial, number, more)),
    outcome({ verdict, reasons, characteristics: [judged] }),
  );
}

/** The reference piece, certified 15 +- 2 mL/min, read as this. */
export async function reading(store: Store, value: number, more: Partial<AttemptFacts> = {}) {
  const serial = more.reference?.piece ?? PIECE.serial;
  const number = (await store.history(serial)).length + 1;
  const { certified_value = 15, tolerance = 2 } = more.reference ?? {};
  const conforms = Math.abs(value - certified_value) <= tolerance;
  return store.commit(await store.begin(checkFacts(number, { serial, ...more })), {
    ...checked(conforms ? "pass" : "fail"),
    reference: { measured: value, conforms },
  });
}
