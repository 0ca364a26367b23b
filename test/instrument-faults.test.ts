import { describe, expect, it } from "vitest";
import { DriverError } from "../drivers/ports.ts";
import { LINE_BAD_DAYS } from "../sim/instruments/line-instrument.ts";
import type { UnitEvent } from "../station/cycle/unit-context.ts";
import { connectedFixture as connected } from "./connected-fixture.ts";

const GAUGES = ["leak_gauge", "source_gauge", "airflow_gauge", "power_meter"];
const DAYS = [
  ...GAUGES.flatMap((name) => LINE_BAD_DAYS.map((day) => [name, day] as const)),
  ...LINE_BAD_DAYS.map((day) => ["io_block", day] as const),
  ["leak_gauge", "skips"],
  ["io_block", "watchdog_trips"],
] as const;
/** What somebody at the station is told to do about an instrument. */
const WHAT_TO_DO = /[;:] (check|put|look up|correct|set) /;

describe.each(DAYS)("%s on a day of %s", (name, day) => {
  it("is named with what to do, and so is the same fault met while connecting", async () => {
    const { clock, plant, fixture, listener, told } = await connected();
    const events: UnitEvent[] = [];
    const tell = (event: UnitEvent) => events.push(event);
    const watched = [
      fixture.observe({ watch: "fill", target_Pa: 5000, tolerance_Pa: 1, longest_s: 1000 }, tell),
      fixture.observe({ watch: "vented", within_Pa: -1 }, tell),
      fixture.observe({ watch: "stopped", below_W: -1 }, tell),
    ];
    await clock.advance_s(0.5);
    plant.instruments.get(name)?.misbehave(day);
    await clock.advance_s(10);
    for (const stop of watched) stop();
    const asked = clock.runUntil(fixture.askGauges());
    const faults = [
      ...[await asked].filter((reason) => reason !== null),
      ...told.faults,
      ...events.flatMap((event) => (event.type === "FAULT" ? [event.reason] : [])),
    ].filter(({ code }) => code === "INSTRUMENT_FAULT");
    for (const { sentence, instrument } of faults) {
      expect(instrument).toBe(name);
      expect(sentence).toContain(name);
      expect(sentence).toMatch(WHAT_TO_DO);
    }
    const refused = await clock.runUntil(fixture.connect(listener).catch((error: unknown) => error));
    if (refused !== undefined) {
      expect(refused).toBeInstanceOf(DriverError);
      expect(refused).toMatchObject({ instrument: name, message: expect.stringMatching(WHAT_TO_DO) });
    }
    // No bad day of the line goes unnoticed both while it is watched and while it is connected.
    expect(faults.length > 0 || refused !== undefined).toBe(true);
    await clock.runUntil(fixture.close());
  });
});

describe("a fault of an instrument", () => {
  it("names the instrument, whose last lines can then be read", async () => {
    const { clock, plant, fixture, told } = await connected();
    await clock.advance_s(1);
    plant.instruments.get("io_block")?.misbehave("silent");
    await clock.advance_s(2);
    expect(told.faults).toMatchObject([{ code: "INSTRUMENT_FAULT", instrument: "io_block" }]);
    const lines = fixture.conversations().find(({ instrument }) => instrument === "io_block")?.lines ?? [];
    expect(lines).toHaveLength(20);
    expect(lines.slice(-3)).toMatchObject([
      { direction: "sent", text: "GET" },
      { text: "(no answer)" },
      { text: "(cable closed)" },
    ]);
  });

  it("leaves the lines of the instruments that are well to be read as well, the I/O block's last", async () => {
    const { clock, fixture } = await connected();
    await clock.advance_s(0.5);
    const conversations = fixture.conversations();
    expect(conversations.map(({ instrument }) => instrument)).toEqual([
      "leak_gauge",
      "source_gauge",
      "airflow_gauge",
      "power_meter",
      "ambient",
      "io_block",
    ]);
    expect(conversations.every(({ lines }) => lines.length >= 2)).toBe(true);
  });
});
