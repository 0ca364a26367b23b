import { describe, expect, it } from "vitest";
import { openDispositions } from "../../station/records/dispositions.ts";
import { whatToDo } from "../../station/screen/sentences.ts";
import { deskOfDemoStation, hasVerdict, isArmed, prove } from "./desk-bench.ts";

describe("while the station waits", () => {
  it("a gauge that is lost stops it, and the armed unit is named once that is acknowledged", async () => {
    const { press, until } = await prove(await deskOfDemoStation());
    press("POD531811", "enter");
    await until(isArmed);
    press("sim bad-day leak_gauge unplugged", "enter");
    const stopped = await until(({ machine }) => machine === "faulted");
    expect(stopped.faults).toMatchObject([expect.stringContaining("leak_gauge was unplugged")]);
    expect(whatToDo(stopped)).toContain("STOPPED, outputs safe");
    press("sim bad-day leak_gauge none", "enter", "tab");
    const after = await until(({ machine }) => machine === "needsReference");
    expect(whatToDo(after)).toBe(
      "POD531811 was not started. The station stopped before its test began. It must be scanned again first.",
    );
  });

  it("a unit that a command beside it puts on hold does not count as passed any more", async () => {
    const { press, until, folder, simulated, desk } = await prove(await deskOfDemoStation());
    press("POD531811", "enter");
    await until(isArmed);
    press("enter");
    await until(hasVerdict);
    expect(desk.state.observed.counts).toMatchObject({ pass: 1, heldByHand: 0 });
    await simulated.outsideTime(async () => {
      const dispositions = await openDispositions(folder);
      const { newest } = await dispositions.standingOf("POD531811");
      if (!newest) throw new Error("It was tested.");
      await dispositions.dispose({
        kind: "hold",
        by: { name: "S. Ode", sign_in: "stated" },
        units: [{ serial: newest.serial, attempt: newest.attempt, traveller: newest.sha256 }],
        reason: { code: "DECIDED", sentence: "The gasket's lot is doubtful." },
      });
    });
    await until(({ observed }) => observed.counts.heldByHand === 1);
  });
});
