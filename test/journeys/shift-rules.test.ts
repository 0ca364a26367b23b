import { describe, expect, it } from "vitest";
import { stationWithFlowFrom } from "./flow-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const codes = (reasons: readonly { readonly code: string }[]) => reasons.map((it) => it.code);

describe("the retest rule of the limit file (one retest after a fail, for a reason and after a pause; two repeats after a void)", () => {
  it("lets a failed unit be tested once more, with the reason in its traveller, and then sends it to rework", async () => {
    const shift = await SimulatedShift.proven();
    const unit = shift.unitWith("pinched_gasket");
    const first = await shift.tryUnit(unit);
    const second = await shift.retest(unit);
    await shift.pass(30);
    const third = await shift.retest(unit);
    expect(first.traveller).toMatchObject({ verdict: "fail", attempt: { number: 1, kind: "first" } });
    expect(first.traveller?.retest_reason ?? null).toBeNull();
    expect(second.traveller).toMatchObject({
      verdict: "fail",
      attempt: { number: 2, kind: "retest" },
      retest_reason: "seal or hose of the fixture was not seated on the unit",
    });
    expect(third.traveller).toBeNull();
    expect(codes(third.refused)).toEqual(["ATTEMPTS_USED_UP"]);
    expect(third.refused[0]?.sentence).toMatch(/rework/);
  });

  it("starts no retest before motor and air have cooled, and says how long that takes", async () => {
    const shift = await SimulatedShift.proven();
    const { serial } = shift.unitWith("pinched_gasket");
    await shift.tryBody(serial);
    await shift.pass(10);
    const early = await shift.tryBody(serial, { retestReason: 1 });
    expect(early.traveller).toBeNull();
    expect(early.refused).toMatchObject([
      { code: "RETEST_TOO_SOON", sentence: expect.stringMatching(/in (19|20) s/) },
    ]);
    await shift.pass(20);
    expect((await shift.tryBody(serial, { retestReason: 1 })).traveller?.attempt).toMatchObject({
      number: 2,
    });
  });

  it("starts no retest before the whole pause is over where the computer's clock was put back since the fail", async () => {
    const shift = await SimulatedShift.proven({ startsAt_ms: Date.UTC(2026, 0, 5, 10) });
    const { serial } = shift.unitWith("pinched_gasket");
    await shift.tryBody(serial);
    const { recordsFolder, startsAt_ms } = await shift.close();
    const earlier = await SimulatedShift.proven({ recordsFolder, startsAt_ms: startsAt_ms - 3600_000 });
    const retest = () => earlier.tryBody(serial, { retestReason: 1 });
    expect((await retest()).refused).toMatchObject([
      {
        code: "RETEST_TOO_SOON",
        sentence: expect.stringMatching(/clock was put back.*test it again in 30 s/),
      },
    ]);
    await earlier.pass(20);
    expect(codes((await retest()).refused)).toEqual(["RETEST_TOO_SOON"]);
    // Past the pause's end by more than the millisecond that the clock of the day counts in.
    await earlier.pass(10.01);
    expect((await retest()).traveller?.attempt).toMatchObject({ number: 2, kind: "retest" });
  });

  it.each([[undefined], [5]])(
    "starts no retest with %s as its reason, and names those there are",
    async (number) => {
      const shift = await SimulatedShift.proven();
      const { serial } = shift.unitWith("pinched_gasket");
      await shift.tryBody(serial);
      await shift.pass(30);
      const refused = await shift.tryBody(serial, number === undefined ? {} : { retestReason: number });
      expect(refused.traveller).toBeNull();
      expect(refused.refused).toMatchObject([
        {
          code: "RETEST_REASON_MISSING",
          sentence: expect.stringMatching(/1 seal or hose.*4 unit was bumped/),
        },
      ]);
      expect((await shift.tryBody(serial, { retestReason: 4 })).traveller).toMatchObject({
        retest_reason: "unit was bumped or moved during the test",
      });
    },
  );

  it("asks no reason and no pause of a unit whose test was void", async () => {
    const shift = await SimulatedShift.proven();
    const { serial } = shift.unitWith();
    shift.simulated.plant.instruments.get("io_block")?.misbehave("source_weak");
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("void");
    shift.heal("io_block");
    await shift.prove();
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("pass");
  });

  it("refuses a unit that has passed", async () => {
    const shift = await SimulatedShift.proven();
    const { serial } = shift.unitWith();
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("pass");
    expect(codes((await shift.tryBody(serial)).refused)).toEqual(["ALREADY_PASSED"]);
  });

  it("counts voids apart from fails, and stops after two repeats", async () => {
    const shift = await SimulatedShift.proven();
    const { serial } = shift.unitWith();
    const verdicts = [];
    for (let i = 0; i < 3; i++) {
      shift.simulated.plant.instruments.get("io_block")?.misbehave("source_weak");
      verdicts.push((await shift.tryBody(serial)).traveller?.verdict);
      shift.heal("io_block");
      await shift.prove();
    }
    expect(verdicts).toEqual(["void", "void", "void"]);
    expect(codes((await shift.tryBody(serial)).refused)).toEqual(["VOIDS_USED_UP"]);
  });
});

describe("the reference check", () => {
  it("is asked for before the first unit, and production is refused until every piece has passed", async () => {
    const shift = await SimulatedShift.begin();
    const { serial } = shift.unitWith();
    const before = await shift.tryBody(serial);
    expect(codes(before.refused)).toEqual(["REFERENCE_CHECK_DUE"]);
    expect(before.refused[0]?.sentence).toContain("REF-TIGHT-POD-4");
    await shift.tryBody("REF-TIGHT-POD-4");
    expect(codes((await shift.tryBody(serial)).refused)).toEqual(["REFERENCE_CHECK_DUE"]);
    await shift.tryBody("REF-LEAK-POD-4");
    const nearly = await shift.tryBody(serial);
    expect(nearly.refused[0]?.sentence).toBe(
      "The reference check is due (not tested here yet). Put on and scan REF-ORIFICE-POD-4 (orifice).",
    );
    await shift.tryBody("REF-ORIFICE-POD-4");
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("pass");
  });

  it("stands in the traveller of every unit that relies on it", async () => {
    const shift = await SimulatedShift.proven();
    const { traveller } = await shift.tryBody(shift.unitWith().serial);
    expect(traveller?.reference_check?.travellers).toHaveLength(3);
  });

  it("is due again when its interval is over, and says so", async () => {
    const stationPath = stationWithFlowFrom("a flow gauge", (text) =>
      text.replace("every: 8 h", "every: 10 min"),
    );
    const shift = await SimulatedShift.proven({ stationPath });
    await shift.pass(8 * 60);
    expect(shift.simulated.station.dueReferences()).toEqual([]);
    // The piece tested last is in force up to the very end of its interval, too.
    await shift.pass(2 * 60 + 1);
    expect(shift.simulated.station.dueReferences()).toMatchObject([
      { serial: "REF-TIGHT-POD-4", why: "interval" },
      { serial: "REF-LEAK-POD-4", why: "interval" },
      { serial: "REF-ORIFICE-POD-4", why: "interval" },
    ]);
    const { refused } = await shift.tryBody(shift.unitWith().serial);
    expect(refused[0]?.sentence).toMatch(
      /^The reference check is due \(10 min are over\)\. Put on and scan /,
    );
  });

  it("that is aborted before it reads wrong leaves the check before it in force no longer", async () => {
    const shift = await SimulatedShift.proven();
    const { station } = shift.simulated;
    let isCalledOff = false;
    station.listen({
      phase: (_, phase) => {
        if (phase !== "measure" || isCalledOff) return;
        isCalledOff = true;
        station.abort();
      },
    });
    expect((await shift.tryBody("REF-LEAK-POD-4")).traveller?.verdict).toBe("void");
    const { refused } = await shift.tryBody(shift.unitWith().serial);
    expect(refused[0]?.sentence).toBe(
      "The reference check is due (the last one is void). Put on and scan REF-LEAK-POD-4 (leak).",
    );
    await shift.prove();
    expect((await shift.tryBody(shift.unitWith().serial)).traveller?.verdict).toBe("pass");
  });

  it("fails on a leaking fixture, and then nothing may be produced", async () => {
    const shift = await SimulatedShift.begin();
    shift.simulated.plant.instruments.get("io_block")?.misbehave("fixture_leak");
    const tight = await shift.tryBody("REF-TIGHT-POD-4");
    expect(tight.traveller).toMatchObject({
      kind: "reference",
      verdict: "fail",
      reference: { conforms: false },
    });
    await shift.tryBody("REF-LEAK-POD-4");
    expect(codes((await shift.tryBody(shift.unitWith().serial)).refused)).toEqual(["REFERENCE_CHECK_DUE"]);
  });
});

describe("before the start", () => {
  it("an open guard is refused in a sentence, and closing it is enough", async () => {
    const shift = await SimulatedShift.proven();
    const { serial } = shift.unitWith();
    shift.simulated.plant.guard(false);
    await shift.pass(0.2);
    const refused = await shift.tryBody(serial);
    expect(codes(refused.refused)).toEqual(["GUARD_OPEN"]);
    shift.simulated.plant.guard(true);
    await shift.pass(0.2);
    expect((await shift.tryBody(serial)).traveller?.verdict).toBe("pass");
  });

  it.each([
    ["the inspector aborts", "ABORTED", (shift: SimulatedShift) => shift.simulated.station.abort()],
    ["the guard is opened", "GUARD_OPEN", (shift: SimulatedShift) => shift.simulated.plant.guard(false)],
  ])("while it is being checked whether the test may start, and %s, nothing starts", async (_, code, act) => {
    const shift = await SimulatedShift.proven();
    const { station, clock } = shift.simulated;
    // A fixture that is still emptying keeps the check waiting: long enough for somebody to act.
    shift.simulated.plant.instruments.get("leak_gauge")?.misbehave("stuck");
    const look = () => {
      if (station.state() === "checking") act(shift);
      else clock.setTimeout(look, 1);
    };
    look();
    const { traveller, refused } = await shift.tryBody(shift.unitWith().serial);
    expect(traveller).toBeNull();
    expect(codes(refused)).toEqual([code]);
    expect(shift.simulated.plant.isSafe).toBe(true);
  });

  it("a guard opened in mid-test makes the unit void and the fixture safe", async () => {
    const shift = await SimulatedShift.proven();
    shift.simulated.station.listen({
      phase: (_, phase) => {
        if (phase === "hold") shift.simulated.plant.guard(false);
      },
    });
    const { traveller } = await shift.tryBody(shift.unitWith().serial);
    expect(traveller).toMatchObject({ verdict: "void", reasons: [{ code: "GUARD_OPENED" }] });
    expect(shift.simulated.plant.isSafe).toBe(true);
  });

  it.each(["NOPE", "POD1", "pod531811", "POD531811x", "../../etc/passwd", "POD53181１"])(
    "the serial %s is refused, and nothing is recorded",
    async (serial) => {
      const shift = await SimulatedShift.proven();
      const { refused, traveller } = await shift.tryBody(serial);
      expect(traveller).toBeNull();
      expect(codes(refused)).toEqual(["UNKNOWN_SERIAL"]);
      expect(refused[0]?.sentence).toContain("POD000123");
    },
  );

  it("a part that is not the model's, or no valid label, is refused by name", async () => {
    const shift = await SimulatedShift.proven();
    const { refused } = await shift.tryBody(shift.unitWith().serial, {
      parts: { tub_cavity: "Z9", wheel: "1" },
    });
    expect(codes(refused)).toEqual(["BAD_PART", "BAD_PART"]);
    expect(refused.map((it) => it.sentence).join(" ")).toMatch(/Z9.*wheel/);
  });
});
