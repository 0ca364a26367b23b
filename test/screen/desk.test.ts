import { existsSync } from "node:fs";
import { describe, expect, it } from "vitest";
import { whatToDo } from "../../station/screen/sentences.ts";
import { travellersIn } from "../records/scratch-folder.ts";
import { deskOfDemoStation, hasVerdict, isArmed, prove } from "./desk-bench.ts";

describe("the desk of a simulated station", () => {
  it("takes the inspector through the reference check, a pass, an abort and a retest, to the summary", async () => {
    const bench = await deskOfDemoStation();
    const { desk, press, until } = bench;
    const { reference } = desk.state.observed;
    const pieces = reference.kind === "due" ? reference.pieces.map(({ serial }) => serial) : [];
    expect(pieces.slice(0, 2)).toEqual(["REF-TIGHT-POD-4", "REF-LEAK-POD-4"]);
    await prove(bench);
    expect(desk.state.observed.reference.kind).toBe("in_force");
    expect(desk.state.observed.counts.tested).toBe(0);

    press("enter");
    await until(isArmed);
    expect(desk.state.unit?.serial).toBe("POD531811");
    press("enter");
    await until(({ observed }) => observed.progress?.phase === "measure");
    expect(desk.state.observed.readings.leak_pressure).toBeGreaterThan(4000);
    expect(desk.state.result).toBeNull();
    const passed = await until(hasVerdict);
    expect(passed.result).toMatchObject({ verdict: "pass", serial: "POD531811" });
    expect(passed.observed.counts).toMatchObject({
      tested: 1,
      pass: 1,
      firstPassYield: 1,
      lastUnits: [{ serial: "POD531811", verdict: "pass" }],
    });

    press("enter");
    const second = await until(isArmed);
    const serial = second.unit?.serial ?? "";
    expect(serial).not.toBe("POD531811");
    press("enter");
    await until(({ observed }) => observed.progress?.phase === "settle");
    press("escape");
    const aborted = await until(hasVerdict);
    expect(aborted.result).toMatchObject({
      verdict: "void",
      serial,
      reasons: ["The test was aborted by the inspector."],
    });

    press(serial, "enter");
    expect((await until(isArmed)).unit).toMatchObject({ serial, attempt: 2 });

    press("interrupt");
    await bench.simulated.runUntil(desk.left);
    const verdicts = (await travellersIn(bench.folder)).map(({ serial: of, verdict }) => [of, verdict]);
    expect(verdicts).toEqual([
      ...pieces.map((piece) => [piece, "pass"]),
      ["POD531811", "pass"],
      [serial, "void"],
    ]);
  });

  it("does not offer a unit again that was scanned by hand before its turn", async () => {
    const bench = await prove(await deskOfDemoStation());
    const next = () => bench.desk.state.observed.next?.serial ?? "";
    const first = next();
    const offered = [first];
    bench.press("enter");
    await bench.until(isArmed);
    offered.push(next());
    bench.press(next(), "enter");
    await bench.until(({ unit, machine }) => machine === "armed" && unit?.serial === offered[1]);
    offered.push(next());
    expect(new Set(offered).size).toBe(3);
    bench.press(first, "enter");
    await bench.until(({ unit, machine }) => machine === "armed" && unit?.serial === first);
    expect(next()).toBe(offered[2]);
  });

  it("counts the day's units also after the program was started again", async () => {
    const before = await prove(await deskOfDemoStation());
    before.press("enter");
    await before.until(isArmed);
    before.press("enter");
    await before.until(hasVerdict);
    before.desk.close();
    await before.simulated.close();
    const { desk } = await deskOfDemoStation({ records: before.folder });
    expect(desk.state.observed.counts).toMatchObject({ tested: 1, lastUnits: [{ serial: "POD531811" }] });
  });

  it("leads through the reference check step by step, by number, with why", async () => {
    const bench = await deskOfDemoStation();
    const start = bench.desk.state.observed.reference;
    if (start.kind !== "due") throw new Error("It is due.");
    expect(start).toMatchObject({ step: 1, of: start.pieces.length, warnings: [] });
    expect(start.pieces[0]?.why).toBe("never");
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    const second = await bench.until(hasVerdict);
    expect(second.observed.reference).toMatchObject({ kind: "due", step: 2, of: start.of });
    expect(whatToDo(second)).toContain(`step 2 of ${start.of}`);
  });

  it("records the running phase's curve and says how long the test still takes", async () => {
    const bench = await prove(await deskOfDemoStation());
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    const filling = await bench.until(({ observed }) => (observed.trace?.samples.length ?? 0) > 3);
    expect(filling.observed.trace?.channel).toBe("leak_pressure");
    const first_s = filling.observed.timeLeft_s ?? 0;
    expect(first_s).toBeGreaterThan(1);
    const measuring = await bench.until(
      ({ observed }) => observed.progress?.phase === "measure" && (observed.trace?.samples.length ?? 0) > 5,
    );
    const { trace, progress } = measuring.observed;
    expect(trace?.phaseStart_s).toBeCloseTo(bench.simulated.clock.now_s() - (progress?.elapsed_s ?? 0), 6);
    for (const { t_s } of trace?.samples ?? []) expect(t_s).toBeGreaterThanOrEqual(trace?.phaseStart_s ?? 0);
    expect(measuring.observed.timeLeft_s).toBeLessThan(first_s);
    const done = await bench.until(hasVerdict);
    expect(done.observed).toMatchObject({ trace: null, timeLeft_s: null });
  });

  it("aborts, makes safe and records before it lets anybody leave", async () => {
    const bench = await deskOfDemoStation();
    const { desk, simulated, folder } = bench;
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    await bench.until(({ observed }) => observed.progress?.phase === "settle");
    bench.press("interrupt");
    await simulated.runUntil(desk.left);
    expect(simulated.plant.isSafe).toBe(true);
    expect(Math.abs(simulated.plant.gas.pressure_Pa)).toBeLessThan(200);
    expect(await travellersIn(folder)).toMatchObject([
      { serial: "REF-TIGHT-POD-4", verdict: "void", reasons: [{ code: "PROGRAM_STOPPED" }] },
    ]);
  });

  it("calls a test off that is only just starting, on Esc and on leaving: nothing runs", async () => {
    for (const key of ["escape", "interrupt"] as const) {
      const bench = await deskOfDemoStation();
      bench.press("enter");
      await bench.until(isArmed);
      bench.press("enter");
      expect(bench.simulated.station.state()).toBe("checking");
      expect(bench.desk.isEscUrgent).toBe(true);
      bench.press(key);
      expect(bench.simulated.station.state()).toBe("needsReference");
    }
  });

  it("stops on a fault, refuses scans, shows what was said on the gauge's cable, and goes on after Tab", async () => {
    const bench = await deskOfDemoStation();
    const { desk, press } = bench;
    press("enter");
    await bench.until(isArmed);
    press("sim bad-day leak_gauge silent", "enter");
    expect(desk.state.remark).toBe("leak_gauge has a bad day: silent.");
    press("enter");
    const stopped = await bench.until(({ machine }) => machine === "faulted");
    expect(stopped.faults.join(" ")).toContain("leak_gauge");
    expect(stopped.faultCodes.length).toBe(stopped.faults.length);
    expect(stopped.observed.conversations).toEqual([]);
    press("POD531811", "enter");
    expect(desk.state.remark).toContain("POD531811 was not taken. The station is stopped");
    press("f3");
    const shown = await bench.until(({ observed }) => observed.conversations.length > 0);
    const gauge = shown.observed.conversations.find(({ instrument }) => instrument === "leak_gauge");
    expect(gauge?.lines.map(({ direction }) => direction)).toContain("sent");
    press("sim bad-day leak_gauge none", "enter", "tab");
    const again = await bench.until(({ machine }) => machine === "needsReference");
    expect(again).toMatchObject({ faults: [], overlay: null });
    // It streams again; what it said before it stopped is what the technician wants.
    await bench.pass_s(10);
    press("f3");
    const after = await bench.until(({ observed }) => observed.conversations.length > 0);
    const [first, ...others] = after.observed.conversations;
    expect(first).toMatchObject({ instrument: "leak_gauge", isFaulty: true });
    expect(first?.lines.at(-1)?.t_s).toBeLessThan(bench.simulated.clock.now_s() - 10);
    expect(others.every(({ isFaulty }) => !isFaulty)).toBe(true);
    press("f3", "enter");
    await bench.until(isArmed);
    press("enter");
    await bench.until(({ machine }) => machine === "testing");
    press("f3");
    const next = await bench.until(({ observed }) => observed.conversations.length > 0);
    expect(next.observed.conversations.some(({ isFaulty }) => isFaulty)).toBe(false);
  });

  it("says that the guard is open and keeps the unit armed until it is closed", async () => {
    const bench = await deskOfDemoStation();
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("sim guard open", "enter");
    await bench.pass_s(1);
    bench.press("enter");
    const refused = await bench.until((state) => state.result?.kind === "refusal" && isArmed(state));
    expect(refused).toMatchObject({ machine: "armed", unit: { serial: "REF-TIGHT-POD-4" } });
    expect(whatToDo(refused)).toMatch(/guard.*is armed still/);
    bench.press("sim guard close", "enter");
    await bench.pass_s(1);
    bench.press("enter");
    expect((await bench.until(hasVerdict)).result).toMatchObject({ verdict: "pass" });
  });

  it("shows the station's refusal of a unit before the reference check", async () => {
    const bench = await deskOfDemoStation();
    bench.press("POD531811", "enter");
    const refused = await bench.until(({ result }) => result?.kind === "refusal");
    expect(refused.result).toMatchObject({
      serial: "POD531811",
      reasons: [expect.stringContaining("The reference check is due")],
    });
    expect(refused.observed.next).toEqual({ serial: "REF-TIGHT-POD-4", isReference: true });
  });

  it("drops scanned parts with a refused unit, says so, and keeps them from the unit after", async () => {
    const bench = await deskOfDemoStation();
    bench.press("P2", "enter", "POD531811", "enter");
    const refused = await bench.until(({ result }) => result?.kind === "refusal");
    expect(refused.waitingParts).toEqual({});
    expect(refused.result).toMatchObject({
      reasons: [
        expect.stringContaining("The reference check is due"),
        expect.stringContaining("parts scanned before it are dropped"),
      ],
    });
  });

  it("records parts scanned before the serial and after it with the unit they belong to", async () => {
    const bench = await prove(await deskOfDemoStation());
    bench.press("P2", "enter");
    expect(bench.desk.state.waitingParts).toEqual({ tub_cavity: "P2" });
    bench.press("POD531811", "enter");
    const armed = await bench.until(isArmed);
    expect(armed).toMatchObject({ waitingParts: {}, unit: { parts: { tub_cavity: "P2" } } });
    bench.press("G0815", "enter");
    expect((await bench.until(({ unit }) => unit?.parts.gasket_lot !== undefined)).machine).toBe("armed");
    bench.press("enter");
    await bench.until(hasVerdict);
    expect((await travellersIn(bench.folder)).at(-1)?.parts).toEqual({
      tub_cavity: "P2",
      gasket_lot: "G0815",
    });
  });

  it("says so when the simulated line has no such unit, and leaves unknown labels to the station", async () => {
    const bench = await deskOfDemoStation();
    bench.press("POD999999", "enter");
    const none = await bench.until(({ result }) => result?.kind === "refusal");
    expect(none.result).toMatchObject({
      reasons: [expect.stringContaining("The simulated line has no unit")],
    });
    bench.press("bread", "enter");
    const refused = await bench.until(
      ({ result }) => result?.kind === "refusal" && result.serial === "bread",
    );
    expect(refused.result).toMatchObject({
      reasons: [expect.stringContaining("a serial looks like POD000123")],
    });
  });

  it("gives up the armed unit when a label nobody can read is scanned: it may be another unit's", async () => {
    const bench = await deskOfDemoStation();
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("bread", "enter");
    const given = await bench.until(({ result }) => result?.kind === "refusal");
    expect(given).toMatchObject({ unit: null });
    bench.press("enter");
    expect((await bench.until(isArmed)).unit?.serial).toBe("REF-TIGHT-POD-4");
  });

  it("shows no reading that is older than two seconds", async () => {
    const bench = await deskOfDemoStation();
    const { station } = bench.simulated;
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    await bench.until(hasVerdict);
    await bench.pass_s(1);
    expect(station.newest("leak_pressure")).toBeTypeOf("number");
    await bench.pass_s(2);
    expect(station.newest("leak_pressure")).toBeNull();
  });

  it("has the traveller on disk whenever a verdict is on the screen", async () => {
    const bench = await deskOfDemoStation();
    const paths: string[] = [];
    bench.simulated.station.listen({ finished: ({ path }) => paths.push(path) });
    let checked = 0;
    bench.desk.watch(() => {
      if (bench.desk.state.result?.kind !== "verdict" || checked > 0) return;
      checked++;
      expect(paths.length === 0 || paths.every((path) => existsSync(path))).toBe(true);
    });
    bench.press("enter");
    await bench.until(isArmed);
    bench.press("enter");
    await bench.until(hasVerdict);
    expect(checked).toBe(1);
    expect(await travellersIn(bench.folder)).toHaveLength(1);
  });

  it("asks a failed unit's retest for its reason, and records the one that was chosen", async () => {
    const bench = await prove(await deskOfDemoStation());
    const { desk, press, until } = bench;
    let serial = "";
    while (serial === "") {
      press("enter");
      await until(isArmed);
      press("enter");
      const { result } = await until(hasVerdict);
      if (result?.kind === "verdict" && result.verdict === "fail") serial = result.serial;
    }
    expect(whatToDo(desk.state)).toMatch(/may be tested once more, in \d+ s, for one of 4 reasons/);
    await bench.pass_s(40);
    expect(whatToDo(desk.state)).toMatch(/may be tested once more, now, for one of 4 reasons/);
    press(serial, "enter");
    const asked = await until(isArmed);
    expect(asked.unit?.retestReasons.length).toBeGreaterThan(1);
    expect(whatToDo(asked)).toContain("tested again?");
    press("enter");
    expect((await until(({ result }) => result?.kind === "refusal")).machine).toBe("armed");
    press("2", "enter");
    const chosen = await until(({ unit }) => unit?.retestReason !== null && unit !== null);
    expect(chosen.unit?.retestReason).toBe(asked.unit?.retestReasons[1]);
    press("enter");
    await until(hasVerdict);
    expect((await travellersIn(bench.folder)).at(-1)).toMatchObject({
      serial,
      retest_reason: asked.unit?.retestReasons[1],
    });
    expect(desk.state.observed.counts.inspected).toBeGreaterThan(0);
  });

  it("sums the shift up when it is asked to", async () => {
    const bench = await deskOfDemoStation();
    bench.press("s", "enter");
    const shown = await bench.until(({ summaryLines }) => summaryLines !== null);
    expect(shown.overlay).toBe("summary");
    expect(shown.summaryLines?.length).toBeGreaterThan(2);
    expect(Math.max(...(shown.summaryLines ?? []).map((line) => line.length))).toBeLessThanOrEqual(78);
  });
});
