import { appendFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, it } from "vitest";
import { listRecords } from "../../station/records/record-name.ts";
import { scratchFolder } from "../records/scratch-folder.ts";
import { drumtight } from "./command-line.ts";

describe("a supervisor asks what a day came to", () => {
  it("and is told the same as the run itself said, also when a traveller is broken since: without it, exit code 1", async () => {
    const records = join(scratchFolder(), "records");
    const run = await drumtight(
      ["run", "--simulate", "--units", "12", "--seed", "3", "--records", records],
      "",
      { TZ: "UTC" },
    );
    const [, good, inspected] = /First pass yield .*\((\d+) of (\d+) units\)/.exec(run.stdout) ?? [];
    const ask = [
      "yield",
      "--day",
      "2026-01-05",
      "--records",
      records,
      "--format",
      "json",
      "--time-zone",
      "UTC",
    ];
    const whole = await drumtight(ask);
    expect(whole).toMatchObject({ code: 0, stderr: "" });
    const { total, asked } = JSON.parse(whole.stdout);
    expect(total.firstPass).toMatchObject({ count: Number(good), of: Number(inspected) });
    expect(asked).toMatchObject({ from: "2026-01-05", timeZone: "UTC" });
    const unit = (await listRecords(records)).findLast(({ path }) => /-(POD|TUB)\d+-1\.json$/.test(path));
    appendFileSync(join(records, unit?.path ?? ""), " ");
    const without = await drumtight(ask);
    expect(without.code).toBe(1);
    expect(without.stderr).toContain(unit?.path);
    expect(without.stderr).toContain("Tell the quality engineer");
    expect(JSON.parse(without.stdout).total.inspected).toBe(Number(inspected) - 1);
  });

  it.each([
    { args: ["--day", "2026-02-30"], says: '"2026-02-30" is no day of the calendar' },
    { args: ["--from", "2026-01-06", "--to", "2026-01-05"], says: "give the earlier one first" },
    { args: ["--by", "colour"], says: 'Nothing can be counted by "colour"' },
    { args: ["--by", "day,day"], says: "--by names day twice" },
    { args: ["--by", "shift"], says: "--station FILE" },
    { args: ["--time-zone", "Mars/Olympus"], says: 'The time zone "Mars/Olympus" is not known' },
    { args: ["--records", "no-such-folder"], says: "There is no records folder no-such-folder" },
  ])("and is refused in one sentence, exit code 2: $says", async ({ args, says }) => {
    const found = args.includes("--records") ? [] : ["--records", scratchFolder()];
    const { code, stdout, stderr } = await drumtight(["yield", ...args, ...found]);
    expect({ code, stdout }).toEqual({ code: 2, stdout: "" });
    expect(stderr).toContain(says);
    expect(stderr.trim().split("\n")).toHaveLength(1);
  });
});
