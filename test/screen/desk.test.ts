import { existsSync } from "node:fs";
import { afterEach, describe, expect, it } from "vitest";
import { Tally } from "../../station/report.ts";
import { Desk } from "../../station/screen/desk.ts";
import type { Key } from "../../station/screen/keys.ts";
import type { ScreenState } from "../../station/screen/screen-state.ts";
import { SimulatedLine } from "../../station/screen/simulated-line.ts";
import { openSimulatedStation, type SimulatedStation } from "../../station/wiring.ts";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";

const ENTER: Key = { kind: "enter" };
const open: { desk: Desk; simulated: SimulatedStation }[] = [];

/** The demo station with its screen's desk, on virtual time, with the cautions read. */
async function deskOfDemoStation() {
  const folder = scratchFolder();
  const simulated = await openSimulatedStation({
    seed: 7,
    pace: "virtual",
    recordsFolder: folder,
    allowDrafts: false,
    onlyModel: "POD-4",
  });
  const { station, clock, file, models } = simulated;
  const tally = new Tally();
  const line = new SimulatedLine(simulated);
  const desk = new Desk({ station, clock, file, models, allowDrafts: false, tally, line });
  open.push({ desk, simulated });
  desk.key(ENTER);
  return {
    folder,
    desk,
    simulated,
    type: (text: string) => desk.key({ kind: "text", text }),
    /** Lets time run until the screen shows this. */
    until: (shows: (state: ScreenState) => boolean) =>
      simulated.runUntil(
        new Promise<ScreenState>((resolve) => {
          const look = () => {
            if (shows(desk.state)) resolve(desk.state);
          };
          desk.watch(look);
          look();
        }),
      ),
  };
}

const isArmed = ({ machine }: ScreenState) => machine === "armed";
const hasVerdict = ({ result, machine }: ScreenState) => result?.kind === "verdict" && machine !== "waiting";

/** Both reference pieces of the model on the line. */
async function proven() {
  const bench = await deskOfDemoStation();
  for (const piece of ["REF-TIGHT-POD-4", "REF-LEAK-POD-4"]) {
    bench.desk.key(ENTER);
    await bench.until(isArmed);
    expect(bench.desk.state.unit).toMatchObject({ serial: piece, isReference: true });
    bench.desk.key(ENTER);
    await bench.until(hasVerdict);
  }
  return bench;
}

afterEach(async () => {
  for (const { desk, simulated } of open.splice(0)) {
    desk.close();
    await simulated.close();
  }
});

describe("the desk of a simulated station", () => {
  it("takes the inspector through the reference check, a pass, an abort and a retest, to the summary", async () => {
    const bench = await proven();
    const { desk } = bench;
    expect(desk.state.observed.reference.kind).toBe("in_force");
    expect(desk.state.observed.counts.tested).toBe(0);

    desk.key(ENTER);
    await bench.until(isArmed);
    expect(desk.state.unit?.serial).toBe("POD531811");
    desk.key(ENTER);
    await bench.until(({ observed }) => observed.progress?.phase === "measure");
    expect(desk.state.observed.readings.leak_pressure).toBeGreaterThan(4000);
    expect(desk.state.result).toBeNull();
    const passed = await bench.until(hasVerdict);
    expect(passed.result).toMatchObject({ verdict: "pass", serial: "POD531811" });
    expect(passed.observed.counts).toMatchObject({ tested: 1, pass: 1, firstPassYield: 1 });

    desk.key(ENTER);
    const second = await bench.until(isArmed);
    const serial = second.unit?.serial ?? "";
    expect(serial).not.toBe("POD531811");
    desk.key(ENTER);
    await bench.until(({ observed }) => observed.progress?.phase === "settle");
    desk.key({ kind: "escape" });
    const aborted = await bench.until(hasVerdict);
    expect(aborted.result).toMatchObject({
      verdict: "void",
      serial,
      reasons: ["The test was aborted by the inspector."],
    });

    bench.type(serial);
    desk.key(ENTER);
    expect((await bench.until(isArmed)).unit).toMatchObject({ serial, attempt: 2 });

    desk.key({ kind: "interrupt" });
    await bench.simulated.runUntil(desk.left);
    const verdicts = (await travellersIn(bench.folder)).map(({ serial: of, verdict }) => [of, verdict]);
    expect(verdicts).toEqual([
      ["REF-TIGHT-POD-4", "pass"],
      ["REF-LEAK-POD-4", "pass"],
      ["POD531811", "pass"],
      [serial, "void"],
    ]);
  });

  it("aborts, makes safe and records before it lets anybody leave", async () => {
    const bench = await deskOfDemoStation();
    const { desk, simulated, folder } = bench;
    desk.key(ENTER);
    await bench.until(isArmed);
    desk.key(ENTER);
    await bench.until(({ observed }) => observed.progress?.phase === "settle");
    desk.key({ kind: "interrupt" });
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
      bench.desk.key(ENTER);
      await bench.until(isArmed);
      bench.desk.key(ENTER);
      expect(bench.simulated.station.state()).toBe("checking");
      bench.desk.key({ kind: key });
      expect(bench.simulated.station.state()).toBe("needsReference");
    }
  });

  it("stops on a fault, refuses scans, and goes on after Tab", async () => {
    const bench = await deskOfDemoStation();
    const { desk, simulated } = bench;
    desk.key(ENTER);
    await bench.until(isArmed);
    simulated.plant.instruments.get("leak_gauge")?.misbehave("silent");
    desk.key(ENTER);
    const stopped = await bench.until(({ machine }) => machine === "faulted");
    expect(stopped.faults.join(" ")).toContain("leak_gauge");
    bench.type("POD531811");
    desk.key(ENTER);
    expect(desk.state.remark).toContain("POD531811 was not taken. The station is stopped");
    simulated.plant.instruments.get("leak_gauge")?.misbehave(null);
    desk.key({ kind: "tab" });
    const again = await bench.until(({ machine }) => machine === "needsReference");
    expect(again.faults).toEqual([]);
  });

  it("shows the station's refusal of a unit before the reference check", async () => {
    const bench = await deskOfDemoStation();
    bench.type("POD531811");
    bench.desk.key(ENTER);
    const refused = await bench.until(({ result }) => result?.kind === "refusal");
    expect(refused.result).toMatchObject({
      serial: "POD531811",
      reasons: [expect.stringContaining("The reference check is due")],
    });
    expect(refused.observed.next).toEqual({ serial: "REF-TIGHT-POD-4", isReference: true });
  });

  it("says so when the simulated line has no such unit, and leaves unknown serials to the station", async () => {
    const bench = await deskOfDemoStation();
    bench.type("POD999999");
    bench.desk.key(ENTER);
    expect(bench.desk.state.result).toMatchObject({
      kind: "refusal",
      reasons: [expect.stringContaining("The simulated line has no unit")],
    });
    bench.type("bread");
    bench.desk.key(ENTER);
    const refused = await bench.until(
      ({ result }) => result?.kind === "refusal" && result.serial === "bread",
    );
    expect(refused.result).toMatchObject({
      reasons: [expect.stringContaining("it must look like POD000123")],
    });
  });

  it("shows no reading that is older than two seconds", async () => {
    const bench = await deskOfDemoStation();
    const { station, clock, runUntil } = bench.simulated;
    bench.desk.key(ENTER);
    await bench.until(isArmed);
    bench.desk.key(ENTER);
    await bench.until(hasVerdict);
    const pass_s = (seconds: number) =>
      runUntil(new Promise<void>((resolve) => void clock.setTimeout(() => resolve(), seconds * 1000)));
    await pass_s(1);
    expect(station.newest("leak_pressure")).toBeTypeOf("number");
    await pass_s(2);
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
    bench.desk.key(ENTER);
    await bench.until(isArmed);
    bench.desk.key(ENTER);
    await bench.until(hasVerdict);
    expect(checked).toBe(1);
    expect(await travellersIn(bench.folder)).toHaveLength(1);
  });
});
