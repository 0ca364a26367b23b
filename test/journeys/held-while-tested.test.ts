import { readFileSync } from "node:fs";
import { expect, it } from "vitest";
import type { FinishedAttempt } from "../../station/recording.ts";
import { decider } from "../../station/records/disposition.ts";
import { openDispositions } from "../../station/records/dispositions.ts";
import { LineReporter } from "../../station/report.ts";
import { SimulatedShift } from "./simulated-shift.ts";

it("a unit that somebody holds while it is tested passes, and is told as one not to be sent on, in the count too", async () => {
  const shift = await SimulatedShift.proven();
  const { station, plant, recordsFolder } = shift.simulated;
  const unit = shift.unitWith();
  await shift.tryUnit(unit);
  plant.instruments.get("io_block")?.misbehave("fixture_leak");
  await shift.tryBody("REF-TIGHT-POD-4");
  shift.heal("io_block");
  await shift.prove();
  const finished: FinishedAttempt[] = [];
  const armed: (true | undefined)[] = [];
  station.listen({ finished: (it) => finished.push(it), armed: (it) => armed.push(it.isAfterHold) });
  plant.mount(unit);
  station.scan({ serial: unit.serial, parts: {} });
  await shift.pass(0.3);
  // A failed check has put its last test in doubt: whoever scans it is told so.
  expect(armed).toEqual([true]);
  station.start();
  await shift.pass(6);
  expect(station.state()).toBe("testing");
  const dispositions = await openDispositions(recordsFolder);
  const { newest } = await dispositions.standingOf(unit.serial).catch(() => ({ newest: null }));
  if (!newest) throw new Error("The unit was tested before.");
  await dispositions.dispose({
    kind: "hold",
    by: decider({ name: "A. Marsh", role: "inspector", how: "pin" }),
    units: [{ serial: unit.serial, attempt: newest.attempt, traveller: newest.sha256 }],
    reason: { code: "ON_HOLD", sentence: "dented at the latch" },
  });
  await shift.pass(60);
  const told = finished.find(({ traveller }) => traveller.serial === unit.serial);
  expect(told?.traveller.verdict).toBe("pass");
  expect(told?.against).toBe(
    `Unit ${unit.serial} was put on hold by A. Marsh (dented at the latch): put it aside until a supervisor has released it.`,
  );
  const lines: string[] = [];
  if (told) new LineReporter((text) => lines.push(text)).unit(told);
  expect(lines.join("")).toMatch(
    /PASS .*\(attempt 2, was held\).*\nDO NOT SEND ON: Unit .* was put on hold by A\. Marsh/,
  );
  // What was measured stays what it is.
  expect(JSON.parse(readFileSync(told?.path ?? "", "utf8"))).toMatchObject({ verdict: "pass" });
  expect(station.dayCount()).toMatchObject({ heldByHand: 1, heldInDoubt: 0 });
  expect(station.dayCount().lastUnits[0]).toMatchObject({ serial: unit.serial, verdict: "held" });
  // And it is refused at its next scan.
  const refused: string[] = [];
  station.listen({ refused: (_, reasons) => refused.push(...reasons.map(({ code }) => code)) });
  station.scan({ serial: unit.serial, parts: {} });
  await shift.pass(1);
  expect(refused).toEqual(["HELD"]);
});
