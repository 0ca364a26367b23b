import { cpSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import type { Reason } from "../../station/cycle/reason.ts";
import type { SignedIn } from "../../station/people/person.ts";
import type { Disposition } from "../../station/records/disposition.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { stationWithFlowFrom } from "./flow-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

const codes = (reasons: readonly Reason[]) => reasons.map(({ code }) => code);
const marsh: SignedIn = { name: "A. Marsh", role: "inspector", how: "badge" };
const okoro: SignedIn = { name: "E. Okoro", role: "engineer", how: "pin" };
const PEOPLE = 'sign_in: { people: people.json, badge: "^B[0-9]{6}$" }';

/** The demo's station file with these lines in it. */
const stationWith = (...changes: readonly (readonly [from: string, to: string])[]) =>
  stationWithFlowFrom("a flow gauge", (text) =>
    changes.reduce((before, [from, to]) => {
      if (!before.includes(from)) throw new Error(`There is no ${from}.`);
      return before.replace(from, to);
    }, text),
  );

const threeFails = ["stop_after_same_fails: 6", "stop_after_same_fails: 3"] as const;

/** Different units of the seed that leak for the same cause. */
function leakers(shift: SimulatedShift, count: number) {
  const { population } = shift.simulated;
  const units = Array.from({ length: 2000 }, (_, k) => population.unitAt(k));
  return units.filter(({ defects }) => defects.join() === "pinched_gasket").slice(0, count);
}

function eventsIn(folder: string): { event: string; who?: { name: string | null } }[] {
  return readdirSync(join(folder, "events"))
    .sort()
    .map((name) => JSON.parse(readFileSync(join(folder, "events", name), "utf8")));
}

describe("units in a row that fail alike", () => {
  it("stop the station after the last one's verdict; the row is named, and it is for an engineer to acknowledge", async () => {
    const stationPath = stationWith(threeFails, ['sign_in: "off"', PEOPLE]);
    const shift = await SimulatedShift.begin({ stationPath });
    const { station } = shift.simulated;
    station.signIn(marsh);
    await shift.prove();
    const units = leakers(shift, 4);
    const order: string[] = [];
    station.listen({ finished: () => order.push("finished"), faulted: () => order.push("faulted") });
    const tried = [];
    for (const unit of units.slice(0, 3)) tried.push(await shift.tryUnit(unit));
    expect(tried.map(({ traveller }) => traveller?.verdict)).toEqual(["fail", "fail", "fail"]);
    expect(order).toEqual(["finished", "finished", "finished", "faulted"]);
    const [stop] = tried[2]?.faults ?? [];
    expect(stop).toMatchObject({ code: "SAME_FAIL_IN_A_ROW" });
    for (const { serial } of units.slice(0, 3)) expect(stop?.sentence).toContain(serial);

    const refused = await shift.tryUnit(units[3] as (typeof units)[number]);
    expect(codes(refused.refused)).toEqual(["NOT_ALLOWED"]);
    expect(station.state()).toBe("faulted");
    station.signIn(okoro);
    await shift.prove();
    // Counting has begun anew.
    const next = await shift.tryUnit(units[3] as (typeof units)[number]);
    expect(next).toMatchObject({ traveller: { verdict: "fail" }, faults: [] });
  });

  it("stop it again after a restart, until somebody has acknowledged", async () => {
    const stationPath = stationWith(threeFails);
    const shift = await SimulatedShift.proven({ stationPath });
    for (const unit of leakers(shift, 3)) await shift.tryUnit(unit);
    const left = await shift.close();

    const again = await SimulatedShift.begin({ stationPath, ...left });
    expect(again.simulated.station.state()).toBe("faulted");
    await again.prove();
    const [passing] = [again.unitWith()];
    expect((await again.tryUnit(passing)).traveller?.verdict).toBe("pass");
    const third = await SimulatedShift.begin({ stationPath, ...(await again.close()) });
    expect(third.simulated.station.state()).toBe("ready");
  });

  it("are forgotten once acknowledged, also by the next start of the program", async () => {
    const stationPath = stationWith(threeFails);
    const shift = await SimulatedShift.proven({ stationPath });
    for (const unit of leakers(shift, 3)) await shift.tryUnit(unit);
    await shift.prove();
    const left = await shift.close();
    const again = await SimulatedShift.begin({ stationPath, ...left });
    expect(again.simulated.station.state()).toBe("ready");
  });
});

describe("a reference check", () => {
  it("that fails puts the units since the last good one on hold before its verdict is told, and says so", async () => {
    const shift = await SimulatedShift.proven();
    const { station, plant } = shift.simulated;
    const good = shift.unitWith();
    await shift.tryUnit(good);
    expect(station.dayCount()).toMatchObject({ pass: 1, heldInDoubt: 0 });
    const held: Disposition[] = [];
    station.listen({ held: (disposition) => held.push(disposition) });
    plant.instruments.get("io_block")?.misbehave("fixture_leak");
    const { traveller } = await shift.tryBody("REF-TIGHT-POD-4");
    expect(traveller?.verdict).toBe("fail");
    expect(held).toMatchObject([{ kind: "hold", units: [{ serial: good.serial }] }]);
    expect(station.dayCount()).toMatchObject({ pass: 0, heldInDoubt: 1 });

    shift.heal("io_block");
    await shift.prove();
    // In doubt, it may be tested anew: no reason is asked for, and no pause.
    const anew = await shift.tryUnit(good);
    expect(anew.traveller).toMatchObject({ verdict: "pass", attempt: { number: 2, kind: "retest" } });
    expect(station.dayCount()).toMatchObject({ heldInDoubt: 0 });
  });

  it("whose units can't be put on hold stops the station, and its verdict waits until they are", async () => {
    const shift = await SimulatedShift.proven();
    const { station, plant, recordsFolder } = shift.simulated;
    const good = shift.unitWith();
    await shift.tryUnit(good);
    const told: string[] = [];
    station.listen({
      finished: ({ traveller }) => told.push(`finished ${traveller.serial} ${traveller.verdict}`),
      held: ({ units }) => told.push(`held ${units.map(({ serial }) => serial)}`),
      faulted: (reasons) => told.push(`faulted ${codes(reasons)}`),
      recovered: () => told.push("recovered"),
    });
    const dispositions = join(recordsFolder, "dispositions");
    rmSync(dispositions, { recursive: true, force: true });
    writeFileSync(dispositions, "no folder");
    plant.instruments.get("io_block")?.misbehave("fixture_leak");
    const { faults } = await shift.tryBody("REF-TIGHT-POD-4");
    expect(told).toEqual(["faulted HOLD_NOT_WRITTEN"]);
    expect(faults[0]?.sentence).toMatch(/REF-TIGHT-POD-4 is recorded.*Send no unit on/);
    shift.heal("io_block");
    station.acknowledge();
    await shift.pass(5);
    expect(station.state()).toBe("faulted");

    rmSync(dispositions);
    told.length = 0;
    station.acknowledge();
    await shift.pass(5);
    expect(told).toEqual(["recovered", "finished REF-TIGHT-POD-4 fail", `held ${good.serial}`]);
  });

  it("is due after a fault, also after a restart, and the refusal says why", async () => {
    const shift = await SimulatedShift.proven();
    shift.strikeIn("measure", "leak_gauge", "silent");
    const { serial } = shift.unitWith();
    expect((await shift.tryBody(serial)).faults).toHaveLength(1);
    const left = await shift.close();
    const again = await SimulatedShift.begin(left);
    const { refused } = await again.tryBody(serial);
    expect(refused).toMatchObject([
      {
        code: "REFERENCE_CHECK_DUE",
        sentence: expect.stringMatching(
          /due \(a fault since\)\. Put on and scan REF-TIGHT-POD-4 \(tight\), then/,
        ),
      },
    ]);
  });

  it("is due after a fault for which the program was killed before the fixture was safe", async () => {
    const shift = await SimulatedShift.proven();
    const { station, recordsFolder, clock } = shift.simulated;
    const asKilled = scratchFolder();
    shift.strikeIn("measure", "leak_gauge", "silent");
    let killed_ms = 0;
    station.listen({
      phase: (_, phase) => {
        if (phase !== "safing" || killed_ms > 0) return;
        killed_ms = clock.wall_ms();
        cpSync(recordsFolder, asKilled, { recursive: true });
      },
    });
    const unit = shift.unitWith();
    await shift.tryUnit(unit);
    const again = await SimulatedShift.begin({ recordsFolder: asKilled, startsAt_ms: killed_ms + 60_000 });
    expect(codes((await again.tryUnit(unit)).refused)).toEqual(["REFERENCE_CHECK_DUE"]);
  });

  it("that runs out between scan and start keeps the unit from starting", async () => {
    const stationPath = stationWith(["every: 8 h", "every: 10 min"]);
    const shift = await SimulatedShift.proven({ stationPath });
    const { station } = shift.simulated;
    const { serial } = shift.unitWith();
    let armed = 0;
    const refused: Reason[] = [];
    station.listen({ armed: () => armed++, refused: (_, reasons) => refused.push(...reasons) });
    station.scan({ serial, parts: {} });
    await shift.pass(1);
    expect(armed).toBe(1);
    await shift.pass(600);
    station.start();
    await shift.pass(1);
    expect(codes(refused)).toEqual(["REFERENCE_CHECK_DUE"]);
    expect(station.state()).toBe("needsReference");
  });
});

describe("a shift", () => {
  it("notes who came and went, what stopped the station and who answered for it", async () => {
    const stationPath = stationWith(['sign_in: "off"', PEOPLE]);
    const shift = await SimulatedShift.begin({ stationPath });
    const { station } = shift.simulated;
    station.signIn(marsh);
    await shift.prove();
    shift.strikeIn("measure", "leak_gauge", "silent");
    await shift.tryBody(shift.unitWith().serial);
    shift.heal("leak_gauge");
    station.signIn(okoro);
    await shift.prove();
    station.signInRefused("This badge is not known here.");
    const left = await shift.close();
    const noted = eventsIn(left.recordsFolder).map(({ event, who }) => `${event} ${who?.name ?? ""}`.trim());
    expect(noted).toEqual([
      "opened",
      "signed_in A. Marsh",
      "fault A. Marsh",
      "signed_out A. Marsh",
      "signed_in E. Okoro",
      "acknowledged E. Okoro",
      "sign_in_refused",
      "signed_out E. Okoro",
      "closed",
    ]);
  });

  it("is summed up from its beginning, with the reference checks and the faults", async () => {
    const shift = await SimulatedShift.proven();
    const { station } = shift.simulated;
    await shift.tryUnit(shift.unitWith());
    await shift.tryUnit(shift.unitWith("pinched_gasket"));
    shift.strikeIn("measure", "leak_gauge", "silent");
    const struck = await shift.tryUnit(shift.unitWith("weak_motor"));
    expect(struck).toMatchObject({ traveller: { verdict: "void" } });
    const summary = await shift.simulated.runUntil(station.shiftSummary());
    expect(summary.count).toMatchObject({ pass: 1, fail: 1, void: 1 });
    expect(summary.count).toEqual(station.dayCount());
    expect(summary.faults).toMatchObject([{ code: "INSTRUMENT_FAULT", count: 1 }]);
    const pieces = summary.references.filter(({ model }) => model === "POD-4");
    expect(pieces.map(({ passed, failed }) => [passed, failed])).toEqual([
      [1, 0],
      [1, 0],
      [1, 0],
    ]);
  });

  it("at a station without sign-in says so on each traveller, and notes nobody", async () => {
    const shift = await SimulatedShift.proven();
    const { traveller } = await shift.tryUnit(shift.unitWith());
    expect(traveller?.who).toEqual({ inspector: null, sign_in: "off" });
    expect(eventsIn((await shift.close()).recordsFolder).map(({ event }) => event)).toEqual([
      "opened",
      "closed",
    ]);
  });
});
