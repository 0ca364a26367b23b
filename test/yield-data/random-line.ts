import { randomStream } from "../../sim/random.ts";
import { nextAttempt } from "../../station/records/retest.ts";
import type { Recorded } from "../../station/records/store.ts";
import type { AttemptOutcome } from "../../station/records/traveller.ts";
import { facts, outcome } from "../records/example-attempt.ts";
import { checked, checkFacts, decision, PIECE } from "../records/held-units.ts";
import type { open } from "../records/running-store.ts";

type Store = Awaited<ReturnType<typeof open>>["store"];
type Characteristic = AttemptOutcome["characteristics"][number];

const RULE = { afterFail: 2, afterVoid: 3 };
const LEAK = outcome().characteristics[0] as Characteristic;

/**
 * Some days of an invented line, through the real store: first tests, retests, voids, drafts, reference checks, reworks, holds by
 * hand and by the station, releases, scrap.
 * @param begin ISO 8601
 */
export async function randomLine(store: Store, seed: number, begin: string, actions: number): Promise<void> {
  const random = randomStream(seed, "random line");
  const pick = <T>(of: readonly T[]): T => of[Math.floor(random.uniform() * of.length)] as T;
  let at_ms = Date.parse(begin);
  const newest = new Map<string, Recorded>();
  const recorded: Recorded[] = [];
  let units = 0;
  for (let k = 0; k < actions; k++) {
    at_ms += Math.round(random.uniform() * 5_400_000);
    const dice = random.uniform();
    if (dice < 0.72 || recorded.length === 0) {
      const isNew = newest.size === 0 || random.uniform() < 0.6;
      const serial = isNew ? `U${++units}` : pick([...newest.keys()]);
      const draft = random.uniform() < 0.06;
      const history = await store.history(serial);
      const dispositions = await store.dispositionsOf(serial);
      const next = nextAttempt(serial, history, RULE, { dispositions, draft });
      if (!next.allowed) continue;
      const isSecond = Number(serial.slice(1)) % 3 === 0;
      const model = isSecond ? "POD-4" : "TUB-12";
      const made = facts(serial, next.attempt, {
        model,
        draft,
        parts: isSecond
          ? { gasket_lot: `G${1 + (k % 2)}`, tub_cavity: `P${1 + (units % 3)}` }
          : { lid_cavity: `Q${1 + (units % 2)}`, tub_cavity: `T${1 + (units % 12)}` },
        attempt: { number: next.attempt, kind: next.kind },
        started_at: new Date(at_ms - 20_000).toISOString(),
        station: { name: `line ${1 + (k % 2)}`, software: "drumtight 0.1.0", simulated: true },
        limit_file: { ...facts("A").limit_file, model, revision: k > actions / 2 ? 4 : 3 },
      });
      const done = await store.commit(
        await store.begin(made),
        outcomeOf(random.uniform(), random.uniform(), at_ms),
      );
      recorded.push(done);
      if (!draft) newest.set(serial, done);
    } else if (dice < 0.76) {
      const number = (await store.history(PIECE.serial)).length + 1;
      const started_at = new Date(at_ms - 20_000).toISOString();
      await store.commit(await store.begin(checkFacts(number, { started_at })), {
        ...checked("pass"),
        ended_at: new Date(at_ms).toISOString(),
      });
    } else {
      const it = random.uniform() < 0.4 ? pick(recorded) : (pick([...newest.values()]) ?? pick(recorded));
      if (it.traveller.draft || it.traveller.kind !== "unit") continue;
      const kinds = ["hold", "doubt", "doubt", "accept", "accept", "rework", "rework", "scrap"] as const;
      await store.dispose(decision(pick(kinds), it));
    }
  }
}

function outcomeOf(verdict: number, which: number, at_ms: number): AttemptOutcome {
  const ended = { ended_at: new Date(at_ms).toISOString(), duration_s: 20 };
  const leak = (is: Characteristic["verdict"]) => ({ ...LEAK, verdict: is });
  const flow = (is: Characteristic["verdict"], name = "open flow"): Characteristic => ({
    ...LEAK,
    name,
    step: "airflow",
    measurand: name === "input power" ? "power" : "flow",
    verdict: is,
  });
  if (verdict < 0.12) {
    const code = which < 0.5 ? "ABORTED" : "GAUGE_SILENT";
    if (which < 0.2) {
      const reasons = [{ code: "INTERRUPTED", sentence: "It stopped." }];
      return outcome({ verdict: "void", reasons, ended_at: null, duration_s: null, characteristics: [] });
    }
    return outcome({
      ...ended,
      verdict: "void",
      reasons: [{ code, sentence: "It was so." }],
      characteristics: [],
    });
  }
  if (verdict > 0.4) return outcome({ ...ended, characteristics: [leak("pass"), flow("pass")] });
  const failed = (codes: readonly string[], characteristics: readonly Characteristic[]) =>
    outcome({
      ...ended,
      verdict: "fail",
      reasons: codes.map((code) => ({ code, sentence: "It is so." })),
      characteristics: [...characteristics],
      ...(which < 0.7 ? { suspects: [suspected(which < 0.3 ? "porous tub" : "hose seal loose")] } : {}),
    });
  if (which < 0.4) return failed(["GROSS_LEAK"], [leak("fail"), flow("void")]);
  if (which < 0.8)
    return failed(
      ["OUT_OF_LIMITS", "OUT_OF_LIMITS"],
      [leak("pass"), flow("fail"), flow("fail", "input power")],
    );
  return failed(["MOTOR_DID_NOT_START"], [leak("pass"), flow("void")]);
}

function suspected(cause: string) {
  return { cause, look_at: "the seals", evidence: ["it leaks"] };
}
