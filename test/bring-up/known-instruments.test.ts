import { describe, expect, it } from "vitest";
import { ownProfilesFolder } from "../../drivers/profile-file.ts";
import { MemoryTransport } from "../../drivers/transports/memory.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { profilesIn } from "../../station/bring-up/known-profiles.ts";
import { fittingProfiles } from "../../station/bring-up/match-profiles.ts";
import { probe } from "../../station/bring-up/probe.ts";
import { isLineProfile, knownQuestions } from "../../station/bring-up/questions.ts";

const PROFILES = profilesIn([ownProfilesFolder()], (sentence) => {
  throw new Error(sentence);
}).filter(isLineProfile);

/** Probes one of the demo station's instruments behind a device server. */
async function probed(instrument: string) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 4 });
  const sent: string[] = [];
  const { finding } = await clock.runUntil(
    probe({
      port: {
        isSerial: false,
        open: async () =>
          new MemoryTransport({
            instrument,
            clock,
            attach: (far) => void plant.instruments.get(instrument)?.attach(far),
          }),
      },
      clock,
      signal: new AbortController().signal,
      settings: PROFILES.slice(0, 1).map(({ port }) => port),
      questions: knownQuestions(PROFILES),
      given: [],
      start: [],
      listen_s: 0.5,
      saw: (event) => {
        if (event.kind === "sent") sent.push(event.bytes.toString("latin1"));
      },
    }),
  );
  if (!finding) throw new Error("nothing was found");
  return { fits: fittingProfiles(PROFILES, finding, false), sent, plant };
}

describe("a known instrument", () => {
  it.each([
    ["leak_gauge", "stream-pressure"],
    ["source_gauge", "scpi-pressure"],
    ["airflow_gauge", "scpi-airflow"],
    ["power_meter", "scpi-power"],
    ["ambient", "scpi-ambient"],
    ["io_block", "ascii-io"],
  ])("%s is matched by its profile %s alone", async (instrument, profile) => {
    const { fits } = await probed(instrument);
    expect(fits.filter(({ isMatch }) => isMatch).map((fit) => fit.profile.name)).toEqual([profile]);
  });

  it("that is an I/O block is never told to do anything", async () => {
    const { sent, plant } = await probed("io_block");
    for (const text of sent) expect(text).not.toMatch(/SET|RESET|BEAT/);
    expect(plant.isSafe).toBe(true);
  });
});
