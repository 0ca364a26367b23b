import { describe, expect, it } from "vitest";
import type { Levels } from "../../drivers/ports.ts";
import type { UnitEvent } from "../../station/cycle/unit-context.ts";
import { ABORTED, isKnown, outputFault, PROGRAM_STOPPED } from "../../station/cycle/unit-reasons.ts";
import type { Outcome } from "../../station/cycle/watchers.ts";
import { attemptOn, pod, type UnitBench, unitBench } from "./unit-bench.ts";

const PHASES = [
  "leak.rest.sourceShut",
  "leak.rest.isolateShut",
  "leak.fill",
  "leak.settle",
  "leak.measure",
  "leak.vent",
  "airflow.runUp",
  "airflow.hold",
  "airflow.coast",
];

const leak = pod.steps[0];
const airflow = pod.steps[1];
if (leak?.kind !== "leak" || airflow?.kind !== "airflow")
  throw new Error("the demo model has a leak and an airflow step");

/** The levels that result from all commands so far. */
function levelsAfter(commands: readonly Levels[]): Levels {
  return Object.assign({}, ...commands);
}

function expectSafe(bench: UnitBench): void {
  expect(levelsAfter(bench.commands)).toMatchObject({ source: false, vent: true, motor: false });
}

async function voidCodes(bench: UnitBench): Promise<string[]> {
  const output = await bench.end();
  expect(output.kind).toBe("recorded");
  expect(bench.recorded).toHaveLength(1);
  return output.evidence.voids.map((reason) => reason.code);
}

describe("a unit's test in order", () => {
  it("goes through every phase of the limit file and is recorded once, with outputs safe", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.coast.relieving");
    await bench.fulfil();
    const output = await bench.end();
    expect(output.kind).toBe("recorded");
    expect(bench.recorded).toHaveLength(1);
    expect(output.evidence.phases.map((it) => [it.phase, it.point].filter(Boolean).join(" "))).toEqual([
      "rest",
      "fill",
      "settle",
      "measure",
      "vent",
      "run_up",
      "hold closed",
      "hold working",
      "hold open",
      "coast",
    ]);
    expect(output.evidence.voids).toEqual([]);
    expectSafe(bench);
  });

  it.each([
    ["leak.rest.sourceShut", { source: false, isolate: true, vent: false, motor: false }],
    ["leak.rest.isolateShut", { source: true, isolate: false, vent: false, motor: false }],
    ["leak.fill", { source: true, isolate: true, vent: false, motor: false }],
    ["leak.settle", { source: false, isolate: false, vent: false }],
    ["leak.measure", { source: false, isolate: false, vent: false }],
    ["leak.vent", { source: false, isolate: false, vent: true }],
    ["airflow.runUp", { motor: true, vent: true, orifice_1: false, orifice_2: false }],
    ["airflow.coast", { motor: false, vent: true, orifice_1: false, orifice_2: false }],
  ])("commands in %s what the phase table says", async (phase, levels) => {
    const bench = await unitBench();
    await bench.reach(phase);
    expect(levelsAfter(bench.commands)).toMatchObject(levels);
  });

  it("opens one orifice at a time, in the order of the points", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.hold");
    const opened = [levelsAfter(bench.commands)];
    await bench.fulfil();
    opened.push(levelsAfter(bench.commands));
    await bench.fulfil();
    opened.push(levelsAfter(bench.commands));
    expect(opened.map(({ orifice_1, orifice_2 }) => [orifice_1, orifice_2])).toEqual([
      [false, false],
      [true, false],
      [false, true],
    ]);
  });

  it("moves nothing before the open attempt is on disk, and nothing at all if that fails", async () => {
    const bench = await unitBench({ begin: new Error("disk full") });
    const output = await bench.end();
    expect(output.kind).toBe("not_recorded");
    expect(bench.commands).toEqual([]);
  });

  it("ends as not recorded when the traveller can't be written, with outputs safe", async () => {
    const bench = await unitBench({ record: new Error("disk full") });
    await bench.reach("airflow.coast");
    await bench.fulfil();
    expect((await bench.end()).kind).toBe("not_recorded");
    expectSafe(bench);
  });
});

describe("every way out of every phase", () => {
  const ways: readonly (readonly [string, UnitEvent, string])[] = [
    ["the inspector aborts", { type: "ABORT", reason: ABORTED }, "ABORTED"],
    ["the program is stopped", { type: "ABORT", reason: PROGRAM_STOPPED }, "PROGRAM_STOPPED"],
    ["the guard opens", { type: "GUARD_OPENED" }, "GUARD_OPENED"],
    [
      "an instrument fails",
      { type: "FAULT", reason: { code: "INSTRUMENT_FAULT", sentence: "gone" } },
      "INSTRUMENT_FAULT",
    ],
  ];
  it.each(PHASES.flatMap((phase) => ways.map((way) => [phase, ...way] as const)))(
    "in %s, when %s, the unit is void and the outputs are safe",
    async (phase, _, event, code) => {
      const bench = await unitBench();
      await bench.reach(phase);
      bench.send(event);
      await bench.clock.advance_s(0.001);
      expectSafe(bench);
      expect(await voidCodes(bench)).toContain(code);
    },
  );

  it.each(PHASES)("in %s, an I/O block that stops confirming makes the unit void", async (phase) => {
    let isBroken = false;
    const bench = await unitBench({ command: () => (isBroken ? new Error("no answer") : undefined) });
    await bench.reach(phase);
    isBroken = true;
    bench.send({ type: "ABORT", reason: ABORTED });
    expect(await voidCodes(bench)).toContain("OUTPUT_FAULT");
  });

  it("what a broken I/O block says of itself is told once", async () => {
    const said = "io_block: its watchdog tripped; check its cable.";
    let isBroken = false;
    const bench = await unitBench({ command: () => (isBroken ? new Error(said) : undefined) });
    await bench.reach("leak.measure");
    isBroken = true;
    const itself = { code: "INSTRUMENT_FAULT", sentence: said } as const;
    bench.send({ type: "FAULT", reason: itself });
    const { evidence } = await bench.end();
    const told = evidence.voids.map(({ sentence }) => sentence).join(" ");
    expect(told.split(said)).toHaveLength(2);
    expect(told).toMatch(/did not confirm its outputs.*Treat the fixture as live/);
    // The other way round: it says so after the outputs were not confirmed for that.
    expect(isKnown(itself, [outputFault(new Error(said))])).toBe(true);
    expect(
      isKnown({ ...itself, sentence: "leak_gauge was unplugged." }, [outputFault(new Error(said))]),
    ).toBe(false);
  });

  it.each(["leak.measure", "airflow.hold"])(
    "in %s, a program that is to end waits no longer than it may for vent and motor, and records what it has not seen",
    async (phase) => {
      const bench = await unitBench();
      await bench.reach(phase);
      bench.send({ type: "ABORT", reason: PROGRAM_STOPPED });
      const stopped_s = bench.clock.now_s();
      await bench.clock.advance_s(0.7);
      await bench.fulfil();
      expect(bench.observed().watch).toBe("stopped");
      expect(await voidCodes(bench)).toEqual(["PROGRAM_STOPPED", "SAFE_NOT_SEEN"]);
      expect(bench.clock.now_s() - stopped_s).toBeLessThan(1.5);
    },
  );

  it("waits no more once the program is to end, whatever it was waiting for", async () => {
    const bench = await unitBench();
    await bench.reach("leak.measure");
    bench.send({ type: "ABORT", reason: ABORTED });
    await bench.clock.advance_s(3);
    expect(bench.observed().watch).toBe("vented");
    bench.send({ type: "ABORT", reason: PROGRAM_STOPPED });
    const stopped_s = bench.clock.now_s();
    expect(await voidCodes(bench)).toEqual(["ABORTED", "PROGRAM_STOPPED", "SAFE_NOT_SEEN"]);
    expect(bench.clock.now_s()).toBe(stopped_s);
  });

  it("looks on the way out whether the motor has stopped, and says so when it has not", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.hold");
    bench.send({ type: "ABORT", reason: ABORTED });
    await bench.clock.advance_s(0);
    expect(bench.observed().watch).toBe("vented");
    await bench.fulfil();
    expect(bench.observed()).toEqual({ watch: "stopped", below_W: airflow.stoppedBelow_W });
    expect(await voidCodes(bench)).toEqual(["ABORTED", "MOTOR_STILL_RUNNING"]);
  });

  it("does not wait for a motor that the limit file has no step for", async () => {
    const bench = await unitBench({}, { attempt: attemptOn({ ...pod, steps: [leak] }) });
    await bench.reach("leak.measure");
    bench.send({ type: "ABORT", reason: ABORTED });
    await bench.clock.advance_s(0);
    await bench.fulfil();
    expect(await voidCodes(bench)).toEqual(["ABORTED"]);
  });

  it("takes an abort that comes before the attempt is open on disk", async () => {
    const bench = await unitBench();
    bench.send({ type: "ABORT", reason: ABORTED });
    expect(await voidCodes(bench)).toContain("ABORTED");
  });
});

describe("phases that time out", () => {
  it.each([
    ["leak.rest.sourceShut", 3, "PHASE_SILENT"],
    ["leak.rest.isolateShut", 3, "PHASE_SILENT"],
    ["leak.fill", leak.fillLongest_s + 3, "PHASE_SILENT"],
    ["leak.settle", leak.settle_s + 3, "PHASE_SILENT"],
    ["leak.measure", leak.measureLongest_s + 3, "PHASE_SILENT"],
    ["leak.vent", leak.ventLongest_s + 0.001, "VENT_NOT_COMPLETED"],
    ["airflow.runUp", airflow.runUpLongest_s + 3, "PHASE_SILENT"],
    ["airflow.hold", (airflow.points[0]?.holdLongest_s ?? 0) + 3, "PHASE_SILENT"],
    ["airflow.coast", airflow.coastLongest_s + 0.001, "MOTOR_STILL_RUNNING"],
    ["airflow.coast.relieving", airflow.coastLongest_s + 0.001, "VENT_NOT_COMPLETED"],
  ])("%s without an end after %d s is void: %s", async (phase, after_s, code) => {
    const bench = await unitBench();
    await bench.reach(phase);
    await bench.clock.advance_s(after_s);
    expectSafe(bench);
    expect(await voidCodes(bench)).toContain(code);
  });
});

describe("an airflow phase whose command is not confirmed yet", () => {
  /** The bench in this phase, whose command stays without an answer until `confirm`, or for good. */
  async function unconfirmed(phase: string) {
    let isSlow = false;
    let confirm = () => {};
    const bench = await unitBench({
      confirmed: () =>
        isSlow ? new Promise((resolve) => (confirm = () => resolve(undefined))) : Promise.resolve(),
    });
    await bench.reach(phase === "airflow.runUp" ? "leak.vent" : "airflow.runUp");
    if (phase === "airflow.coast") await bench.reach("airflow.hold");
    isSlow = true;
    if (phase === "airflow.coast") {
      const reason = { code: "MOTOR_DRAWS_TOO_MUCH", sentence: "too much" } as const;
      await bench.fulfil({ kind: "finding", finding: { against: "unit", reason } });
    } else await bench.fulfil();
    return { bench, confirm: () => confirm() };
  }

  it.each(["airflow.runUp", "airflow.hold", "airflow.coast"])(
    "watches nothing in %s, so that no reading of before can end it",
    async (phase) => {
      const { bench, confirm } = await unconfirmed(phase);
      expect(bench.phase()).toBe(`${phase}.commanding`);
      expect(() => bench.observed()).toThrow("Nothing is observed");
      confirm();
      await bench.clock.advance_s(0);
      expect(bench.phase()).toBe(phase);
      expect(bench.observed()).toBeDefined();
    },
  );

  it.each([
    ["airflow.runUp", airflow.runUpLongest_s + 3, "PHASE_SILENT"],
    ["airflow.hold", (airflow.points[0]?.holdLongest_s ?? 0) + 3, "PHASE_SILENT"],
    ["airflow.coast", airflow.coastLongest_s + 0.001, "MOTOR_STILL_RUNNING"],
  ])("is void in %s when %d s are over: its time runs while it waits", async (phase, after_s, code) => {
    const { bench, confirm } = await unconfirmed(phase);
    await bench.clock.advance_s(after_s);
    expect(bench.phase()).toMatch(/^safing/);
    confirm();
    expect(await voidCodes(bench)).toContain(code);
  });
});

describe("what an airflow phase finds", () => {
  const against = (who: "unit" | "station"): Outcome => ({
    kind: "finding",
    finding: { against: who, reason: { code: "MOTOR_DRAWS_TOO_MUCH", sentence: "too much" } },
  });

  it.each(["airflow.runUp", "airflow.hold"])(
    "in %s against the unit switches the motor off, waits until it has stopped, and fails the unit",
    async (phase) => {
      const bench = await unitBench();
      await bench.reach(phase);
      await bench.fulfil(against("unit"));
      expect(bench.phase()).toBe("airflow.coast");
      expectSafe(bench);
      await bench.reach("airflow.coast.relieving");
      await bench.fulfil();
      const { evidence } = await bench.end();
      expect(evidence.fails.map((it) => it.code)).toEqual(["MOTOR_DRAWS_TOO_MUCH"]);
      expect(evidence.voids).toEqual([]);
    },
  );

  it.each(["airflow.runUp", "airflow.hold"])(
    "in %s against the measurement voids the unit and goes the safe way out",
    async (phase) => {
      const bench = await unitBench();
      await bench.reach(phase);
      await bench.fulfil(against("station"));
      expect(bench.phase()).toMatch(/^safing/);
      expectSafe(bench);
      expect(await voidCodes(bench)).toEqual(expect.arrayContaining(["MOTOR_DRAWS_TOO_MUCH"]));
    },
  );

  it.each(["MOTOR_DID_NOT_START", "MOTOR_STAYS_SLOW", "MOTOR_DRAWS_TOO_MUCH"] as const)(
    "against the motor, %s, keeps it off for good, whatever steps are left",
    async (code) => {
      const again = { ...airflow, name: "airflow again" };
      const bench = await unitBench({}, { attempt: attemptOn({ ...pod, steps: [...pod.steps, again] }) });
      await bench.reach("airflow.runUp");
      const reason = { code, sentence: "found" };
      await bench.fulfil({ kind: "finding", finding: { against: "unit", reason } });
      const switchedOn = bench.commands.filter(({ motor }) => motor).length;
      await bench.fulfil();
      const { evidence } = await bench.end();
      expect(bench.commands.filter(({ motor }) => motor)).toHaveLength(switchedOn);
      expect(evidence.fails.map((it) => it.code)).toEqual([code]);
    },
  );

  it("nowhere keeps a sound motor from a second airflow step", async () => {
    const again = { ...airflow, name: "airflow again" };
    const bench = await unitBench({}, { attempt: attemptOn({ ...pod, steps: [...pod.steps, again] }) });
    await bench.reach("airflow.coast.relieving");
    await bench.fulfil();
    expect(bench.phase()).toBe("airflow.runUp");
  });

  it("hands the run-up's readings to the first point only, whose orifice it had", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.runUp");
    const readings = [{ channel: "suction", t_s: 1, value: 9_000, quality: "good" as const }];
    await bench.fulfil({ kind: "run_up", readings });
    expect(bench.observed()).toMatchObject({ watch: "point", point: "closed", earlier: readings });
    await bench.fulfil();
    expect(bench.observed()).toMatchObject({ watch: "point", point: "working", earlier: [] });
  });

  it("waits after the last point until the motor draws no more than a stopped one, not merely less than a running one", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.coast");
    expect(bench.observed()).toEqual({ watch: "stopped", below_W: airflow.stoppedBelow_W });
  });

  it("waits after the motor has stopped until the body is vented as after a leak step", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.coast.relieving");
    expect(bench.observed()).toEqual({ watch: "vented", within_Pa: leak.ventedWithin_Pa });
  });

  it("tells the closed inlet from the open ones, and hands on where flow is read and what gauges are certified to", async () => {
    const bench = await unitBench();
    await bench.reach("airflow.hold");
    expect(bench.observed()).toMatchObject({ isInletClosed: true, flowChannel: "flow" });
    await bench.fulfil();
    expect(bench.observed()).toMatchObject({ isInletClosed: false, knownWithin: 0.003, samplesLeast: 8 });
  });
});
