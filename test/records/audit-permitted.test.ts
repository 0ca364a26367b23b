import { describe, expect, it } from "vitest";
import type { DispositionDraft } from "../../station/records/disposition.ts";
import type { Recorded } from "../../station/records/store.ts";
import { AuditedFolder, JUDGED_BY } from "./audited-folder.ts";
import { facts, outcome } from "./example-attempt.ts";
import { endedAs } from "./held-units.ts";
import { scratchFolder } from "./scratch-folder.ts";

const STATED = { name: "B. Imani", sign_in: "stated" } as const;
const SUPERVISOR = { name: "B. Imani", sign_in: "pin", role: "supervisor" } as const;
const INSPECTOR = { name: "A. Marsh", sign_in: "pin", role: "inspector" } as const;
const BADGE = { inspector: "A. Marsh", sign_in: "badge", role: "inspector" } as const;

class Decided extends AuditedFolder {
  static async opened(): Promise<Decided> {
    const it = new Decided(scratchFolder());
    await it.open();
    return it;
  }

  /** @param who proven, where somebody signed in by badge */
  async testedBy(serial: string, how: "stated" | "badge", verdict: "pass" | "fail" = "pass") {
    const limit_file = { ...facts(serial).limit_file, sha256: JUDGED_BY };
    const who = how === "badge" ? { who: BADGE } : {};
    const begun = await this.store.begin(facts(serial, 1, { limit_file, reference_check: null, ...who }));
    return this.store.commit(begun, { ...outcome({ curves: [] }), ...endedAs(verdict), curves: [] });
  }

  async decide(
    kind: DispositionDraft["kind"],
    test: Recorded,
    more: Partial<DispositionDraft> = {},
  ): Promise<number> {
    const { serial, attempt } = test.traveller;
    const { chain } = await this.store.dispose({
      kind,
      by: STATED,
      units: [{ serial, attempt: attempt.number, traveller: test.sha256 }],
      reason: { code: "DECIDED", sentence: "Somebody decided so." },
      ...(kind === "rework" ? { rework: { cause: "gasket pinched", action: "new gasket" } } : {}),
      ...more,
    });
    return chain.sequence;
  }

  async found() {
    await this.close();
    const { findings, notes } = await this.audit();
    return { findings: findings.map(({ kind, path, what }) => `${kind} ${path}: ${what}`), notes };
  }
}

describe("an audit of decisions", () => {
  it("finds nothing in holds, releases, reworks and scrap as the program records them", async () => {
    const it = await Decided.opened();
    const [one, two] = [await it.testedBy("A1", "stated"), await it.testedBy("A2", "badge", "fail")];
    const first = await it.decide("hold", one);
    await it.decide("hold", one, { by: { name: null, sign_in: "off" } });
    await it.decide("accept", one, { lifts: [first] });
    // Two people at the same moment.
    await it.decide("accept", one, { lifts: [first] });
    await it.decide("hold", two, { by: INSPECTOR });
    await it.decide("rework", two, { by: INSPECTOR });
    await it.decide("scrap", two, { by: SUPERVISOR });
    await it.decide("scrap", one);
    expect(await it.found()).toEqual({ findings: [], notes: [] });
  });

  it("names a release of what was not held, and one that lifts no hold", async () => {
    const it = await Decided.opened();
    const [one, two] = [await it.testedBy("A1", "stated", "fail"), await it.testedBy("A2", "stated")];
    const hold = await it.decide("hold", two);
    const rework = await it.decide("rework", one);
    await it.decide("accept", one, { lifts: [hold] });
    await it.decide("accept", one, { lifts: [rework] });
    expect((await it.found()).findings).toEqual([
      "not_allowed dispositions/00000003.json: none of the holds that it lifts is on attempt 1 of A1",
      "not_allowed dispositions/00000004.json: it lifts number 2, which is no hold",
    ]);
  });

  it("names releases, reworks and scrap by somebody who may not, or who has proven nothing where people sign in", async () => {
    const it = await Decided.opened();
    const one = await it.testedBy("A1", "badge", "fail");
    const hold = await it.decide("hold", one);
    await it.decide("accept", one, { lifts: [hold], by: INSPECTOR });
    await it.decide("rework", one);
    await it.decide("scrap", one, { by: { ...INSPECTOR, role: "engineer" } });
    expect((await it.found()).findings).toEqual([
      "not_allowed dispositions/00000002.json: A. Marsh decided it as inspector, and only a supervisor may",
      "not_allowed dispositions/00000004.json: A. Marsh decided it as engineer, and only a supervisor may",
      "not_allowed dispositions/00000003.json: attempt 1 of A1 was made where people sign in, and whoever decided on it has proven nothing",
    ]);
  });

  it("notes the scrap of a unit that had passed and that nothing spoke against", async () => {
    const it = await Decided.opened();
    const [one, two] = [await it.testedBy("A1", "stated"), await it.testedBy("A2", "stated", "fail")];
    await it.decide("scrap", one);
    await it.decide("scrap", two);
    expect(await it.found()).toEqual({
      findings: [],
      notes: [
        "dispositions/00000001.json scraps A1, which had passed and was neither on hold nor in doubt: ask who did.",
      ],
    });
  });
});
