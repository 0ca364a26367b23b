import { describe, expect, it } from "vitest";
import { SimulatedScreen, withoutReferenceCheck } from "./simulated-screen.ts";

/** A unit takes three seconds: what is done to the plant meanwhile comes in time on a busy machine, too. */
const speed = 8;

describe("at the screen, when something goes wrong", { timeout: 300_000 }, () => {
  it("Esc aborts at once; a gauge's cable pulled stops the station until it is back, and the check is due again", async () => {
    const station = await SimulatedScreen.begin({ speed });
    const { screen } = station;
    await station.proveStation();

    await screen.press("Enter");
    await station.start("POD531811");
    await screen.press("Escape");
    await screen.until("POD531811 has no valid verdict", "aborted by the inspector");

    await screen.scan("POD531811");
    await station.start("POD531811");
    await station.simulate("bad-day leak_gauge unplugged");
    await screen.until(
      "STOPPED, outputs safe: keep clear, do what is said below, then press Tab.",
      "leak_gauge was unplugged; put its cable back.",
      "Commanded: source off, vent open, motor off.",
    );
    // What the gauge said last, and that its cable went away.
    await screen.press("F3");
    await screen.until(/leak_gauge/, /heard < N=\d{6} P=/, "(cable closed");
    await screen.press("Escape");
    await screen.until("STOPPED, outputs safe");

    // Acknowledged too early: the cable is still out.
    await screen.press("Tab");
    await screen.until("leak_gauge is not there: the simulated cable is unplugged; put it back.");
    await station.simulate("bad-day leak_gauge none");
    await screen.until("leak_gauge is well again");
    await screen.press("Tab");
    await screen.until("Reference check, step 1 of 3", "the station has stopped since its last test");
    await screen.scan("POD531811");
    await screen.until("POD531811 was not started. The reference check is due");

    expect((await station.leave()).code).toBe(0);
    const units = (await station.travellers()).filter(({ kind }) => kind === "unit");
    expect(units).toMatchObject([
      { serial: "POD531811", verdict: "void", reasons: [{ code: "ABORTED" }] },
      { serial: "POD531811", verdict: "void" },
    ]);
    expect(units[1]?.reasons.map(({ code }) => code)).toContain("INSTRUMENT_FAULT");
    const stops = station.log("events").map(({ event }) => event);
    expect(stops).toEqual(["opened", "fault", "fault", "acknowledged", "closed"]);
  });

  it("each fault has a sentence that says what happened and what to do, and the unit is void", async () => {
    const station = await SimulatedScreen.begin({ station: withoutReferenceCheck, speed });
    const { screen } = station;

    await station.simulate("bad-day io_block start_stuck");
    await screen.until("STOPPED", "The start button is stuck or held down. Let go of it");
    await station.simulate("bad-day io_block none");
    await screen.until("io_block is well again");
    await station.acknowledge();

    await screen.scan("POD531811");
    await station.start("POD531811");
    await station.simulate("guard open");
    await screen.until("POD531811 has no valid verdict", "The guard was opened during the test. Close it");
    await screen.scan("POD531812");
    await screen.until("hands clear");
    await screen.press("Enter");
    await screen.until("The guard is open. Close it, then start.");
    await station.simulate("guard close");

    // A gauge that stands still shows no vent either.
    const trapped = "STOPPED, pressure may be trapped in the body: do not open";
    const live = "STOPPED, outputs NOT confirmed: treat the fixture as live";
    for (const [serial, instrument, day, sentence, stopped] of [
      ["POD531812", "leak_gauge", "silent", "leak_gauge sent nothing for", "STOPPED, outputs safe"],
      ["POD531814", "leak_gauge", "stuck", "showed the same value", trapped],
      ["POD531815", "io_block", "vent_stuck_closed", "The fixture did not vent, or", trapped],
      ["POD531816", "io_block", "outputs_not_taken", "did not confirm its outputs", live],
    ] as const) {
      await screen.scan(serial);
      await station.start(serial);
      await station.simulate(`bad-day ${instrument} ${day}`);
      await screen.until(stopped, sentence);
      await station.simulate(`bad-day ${instrument} none`);
      await screen.until(`${instrument} is well again`);
      await station.acknowledge();
    }

    await station.test("POD531811");
    await screen.until("POD531811 is good");
    expect((await station.leave()).code).toBe(0);
    const verdicts = (await station.travellers()).map(({ serial, verdict, reasons }) => [
      serial,
      verdict,
      reasons[0]?.code,
    ]);
    expect(verdicts).toEqual([
      ["POD531811", "void", "GUARD_OPENED"],
      ["POD531812", "void", "INSTRUMENT_FAULT"],
      ["POD531814", "void", "GAUGE_FROZEN"],
      ["POD531815", "void", "VENT_NOT_COMPLETED"],
      // By what notices first: the next command, or the watch over the outputs.
      ["POD531816", "void", expect.stringMatching(/^(OUTPUT|INSTRUMENT)_FAULT$/)],
      ["POD531811", "pass", undefined],
    ]);
  });
});
