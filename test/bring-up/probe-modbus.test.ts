import { describe, expect, it } from "vitest";
import type { ModbusGaugeProfile } from "../../drivers/modbus-profile.ts";
import { ownProfilesFolder } from "../../drivers/profile-file.ts";
import { MODBUS_FRAMINGS } from "../../sim/instruments/modbus-demo.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { profilesIn } from "../../station/bring-up/known-profiles.ts";
import { isRegisterProfile, likelyModbusSettings, probeModbus } from "../../station/bring-up/probe-modbus.ts";
import { openGauge } from "../../station/instruments.ts";

const PROFILES = profilesIn([ownProfilesFolder()], (sentence) => {
  throw new Error(sentence);
}).filter(isRegisterProfile);

async function probed(instrument: string, unitIds: readonly number[]) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 4, modbus: MODBUS_FRAMINGS });
  return clock.runUntil(
    probeModbus({
      profiles: PROFILES,
      settings: likelyModbusSettings(PROFILES.map(({ port }) => port)),
      isSerial: false,
      unitIds,
      clock,
      signal: new AbortController().signal,
      open: async (profile: ModbusGaugeProfile) => {
        // The Modbus library is loaded outside virtual time.
        const release = clock.hold();
        const gauge = await openGauge(
          { name: instrument, profile: profile.name, transport: { kind: "memory" }, identity: null },
          {
            profiles: new Map([[profile.name, profile]]),
            clock,
            attach: () => (far) => void plant.instruments.get(instrument)?.attach(far),
          },
        );
        release();
        return gauge;
      },
      saw: () => {},
    }),
  );
}

describe("an instrument with Modbus registers", () => {
  it.each([
    ["leak_gauge", "modbus-pressure", 1],
    ["power_meter", "modbus-power", 3],
  ])("%s is matched by its profile %s alone, at its own unit", async (instrument, profile, unitId) => {
    const fits = await probed(instrument, [1, 2, 3, 4]);
    expect(fits.filter(({ isMatch }) => isMatch).map((fit) => [fit.profile.name, fit.unitId])).toEqual([
      [profile, unitId],
    ]);
  });

  it("is not found at units that it is not", async () => {
    expect(await probed("leak_gauge", [5, 6])).toEqual([]);
  });
});
