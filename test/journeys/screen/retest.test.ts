import { describe, expect, it } from "vitest";
import { drumtight } from "../command-line.ts";
import { SimulatedScreen, withoutReferenceCheck } from "./simulated-screen.ts";

describe("a failed unit, at the screen", { timeout: 300_000 }, () => {
  it("has to cool while another is tested, is tested again for a reason chosen by its number, and passes", async () => {
    // Slow enough that a busy machine's hands scan the unit anew before it has cooled.
    const station = await SimulatedScreen.begin({ station: withoutReferenceCheck, speed: 4 });
    const { screen } = station;
    await station.simulate("bad-day io_block fixture_leak");
    await screen.until("io_block has a bad day: fixture_leak");
    await station.test("POD531811");
    // The word, and what to look at: not a colour alone.
    await screen.until("POD531811 failed", /leak rate .*mL\/min/, "Today: 1 test: 0 pass, 1 fail");
    await screen.scan("POD531811");
    await screen.until("POD531811 was not started", /has to cool: test it again in \d+ s/);

    await station.simulate("bad-day io_block none");
    await screen.until("io_block is well again");
    await station.test("POD531812");
    await station.scanForRetest("POD531811", 1);
    await station.start("POD531811");
    await screen.until("POD531811 is good", "Today: 3 tests: 2 pass, 1 fail");
    await screen.until(/Last: POD531811 PASS.* POD531812 PASS/);

    expect((await station.leave()).code).toBe(0);
    expect(await station.travellers()).toMatchObject([
      { serial: "POD531811", verdict: "fail", attempt: { number: 1, kind: "first" } },
      { serial: "POD531812", verdict: "pass" },
      {
        serial: "POD531811",
        verdict: "pass",
        attempt: { number: 2, kind: "retest" },
        retest_reason: "seal or hose of the fixture was not seated on the unit",
      },
    ]);
  });

  it("that fails twice goes to rework, is refused until that is recorded, and then has the full test", async () => {
    const station = await SimulatedScreen.begin({ station: withoutReferenceCheck });
    const { screen } = station;
    await station.test("POD531813");
    await screen.until("POD531813 failed", "Look for: weak motor");
    await station.scanForRetest("POD531813", 4);
    await station.start("POD531813");
    await screen.until("POD531813 failed", "Attempt 2");

    await screen.scan("POD531813");
    await screen.until("POD531813 was not started", /rework/);
    const { code, stdout, stderr } = await drumtight([
      "rework",
      "POD531813",
      "--cause",
      "wrong motor",
      "--action",
      "motor exchanged",
      "--as",
      "C. Holm",
      "--station",
      station.stationFile,
      "--records",
      station.records,
    ]);
    expect({ code, stderr }).toEqual({ code: 0, stderr: "" });
    expect(stdout).toContain("Its next test is the full test.");

    await station.test("POD531813");
    await screen.until("Attempt 3");
    await station.leave();
    expect((await station.travellers()).map(({ attempt, verdict }) => [attempt.kind, verdict])).toEqual([
      ["first", "fail"],
      ["retest", "fail"],
      ["after_rework", "fail"],
    ]);
    expect(station.log("dispositions")).toMatchObject([
      {
        kind: "rework",
        by: { name: "C. Holm" },
        units: [{ serial: "POD531813", attempt: 2 }],
        rework: { cause: "wrong motor", action: "motor exchanged" },
      },
    ]);
  });
});
