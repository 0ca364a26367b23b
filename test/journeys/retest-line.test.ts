import { expect, it } from "vitest";
import { scratchFolder, travellersIn } from "../records/scratch-folder.ts";
import { drumtight } from "./command-line.ts";

const LEAKING = "POD531836"; // of seed 7, its gasket pinched
const [SOUND, OTHER] = ["POD531811", "POD531815"];

it("scanned lines say with a number why a failed unit is tested again, after its pause, and find tells the reason", async () => {
  const records = scratchFolder();
  const lines = [
    LEAKING,
    `${LEAKING} retest=4`,
    SOUND,
    OTHER,
    LEAKING,
    `${LEAKING} retest=7`,
    `${LEAKING} retest=hose`,
    `${LEAKING} retest=4`,
    `${LEAKING} retest=1`,
  ];
  const args = ["--simulate", "--model", "POD-4", "--records", records];
  const { code, stdout } = await drumtight(["run", ...args], `${lines.join("\n")}\n`);
  expect(code).toBe(1);
  const refused = stdout.split("\n").filter((line) => line.startsWith(`${LEAKING}: not started.`));
  expect(refused).toEqual([
    expect.stringMatching(/failed 0 s ago and has to cool: test it again in 30 s/),
    expect.stringMatching(/1 seal or hose.*4 unit was bumped/),
    expect.stringMatching(/no such reason/),
    expect.stringMatching(/a number from 1 to 9, and not "hose"/),
    expect.stringMatching(/has failed twice and may not be tested again: send it to rework/),
  ]);
  const tested = (await travellersIn(records)).filter(({ serial }) => serial === LEAKING);
  expect(tested.map(({ attempt, retest_reason }) => [attempt.kind, retest_reason ?? null])).toEqual([
    ["first", null],
    ["retest", "unit was bumped or moved during the test"],
  ]);
  const found = await drumtight(["find", LEAKING, "--records", records]);
  expect(found.stdout).toContain("tested again because: unit was bumped or moved during the test");
});
