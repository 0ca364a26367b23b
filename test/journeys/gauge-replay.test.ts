import { copyFileSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { expect, it } from "vitest";
import { tapesIn } from "../flight/tapes.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight } from "./command-line.ts";
import { changedStation, plain } from "./plain-station.ts";
import { SimulatedShift } from "./simulated-shift.ts";

it("plays a tape back, shows its conversation, and refuses one that was changed", {
  timeout: 120_000,
}, async () => {
  const shift = await SimulatedShift.begin({ tapes: true, stationPath: changedStation(plain) });
  const { serial } = shift.unitWith("motor_dead");
  await shift.tryBody(serial);
  const { recordsFolder } = await shift.close();
  const [tape = ""] = tapesIn(recordsFolder);

  const same = await drumtight(["gauge", "replay", tape, "--json"]);
  expect(same.stderr).toBe("");
  expect(JSON.parse(same.stdout)).toMatchObject({ serial, same: true, record: "same", differing: [] });
  expect(same.code).toBe(0);

  const alone = join(scratchFolder(), "alone.tape");
  copyFileSync(tape, alone);
  const unproven = await drumtight(["gauge", "replay", alone]);
  expect(unproven.stdout).toMatch(/No record lies beside the tape/);
  expect(unproven.code).toBe(0);

  const said = await drumtight(["gauge", "replay", tape, "--conversation", "io_block"]);
  expect(said.stdout).toMatch(/io_block +-- commanded: .*motor on/);
  expect(said.stdout).toMatch(/io_block +> {2}SET .*motor=1\\r\\n/);
  expect(said.stdout).not.toMatch(/leak_gauge/);

  const found = await drumtight(["find", serial, "--records", recordsFolder]);
  expect(found.stdout).toContain(tape);

  const copy = join(scratchFolder(), "copy.tape");
  copyFileSync(tape, copy);
  const bytes = readFileSync(copy);
  const middle = Math.floor(bytes.length / 2);
  bytes[middle] = (bytes[middle] ?? 0) ^ 0x10;
  writeFileSync(copy, bytes);
  const changed = await drumtight(["gauge", "replay", copy]);
  expect(changed.stderr).toMatch(
    /copy\.tape is damaged: it was changed after it was written\. It is not replayed\./,
  );
  expect(changed.stdout).toBe("");
  expect(changed.code).toBe(2);
});

it("says what is wrong with a file that is no tape, and with an instrument that is not on one", async () => {
  const none = await drumtight(["gauge", "replay", "package.json"]);
  expect(none.stderr).toMatch(/^package\.json can't be read as a tape: .*\.\n$/);
  expect(none.code).toBe(2);
  const missing = await drumtight(["gauge", "replay", "nowhere.tape"]);
  expect(missing.stderr).toMatch(/^The tape nowhere\.tape can't be read.*below flight\/\.\n$/);
  expect(missing.code).toBe(2);
});
