import { describe, expect, it } from "vitest";
import type { ModbusGaugeProfile } from "../../drivers/modbus-profile.ts";
import { ownProfilesFolder } from "../../drivers/profile-file.ts";
import type { SerialSettings } from "../../drivers/transports/serial-settings.ts";
import { MODBUS_FRAMINGS } from "../../sim/instruments/modbus-demo.ts";
import { StationPlant } from "../../sim/station-plant.ts";
import { VirtualClock } from "../../sim/virtual-clock.ts";
import { profilesIn } from "../../station/bring-up/known-profiles.ts";
import { settingsFrom, settingsText } from "../../station/bring-up/port-settings.ts";
import {
  isRegisterProfile,
  likelyModbusSettings,
  likelyUnits,
  probeModbus,
} from "../../station/bring-up/probe-modbus.ts";
import { modbusText, nothingRead } from "../../station/bring-up/probe-text.ts";
import { openGauge } from "../../station/instruments.ts";

const PROFILES = profilesIn([ownProfilesFolder()], (sentence) => {
  throw new Error(sentence);
}).filter(isRegisterProfile);

async function probed(
  instrument: string,
  unitIds: readonly number[],
  { isSerial = false, wire }: { isSerial?: boolean; wire?: SerialSettings } = {},
) {
  const clock = new VirtualClock();
  const plant = new StationPlant({ clock, seed: 4, modbus: MODBUS_FRAMINGS });
  return clock.runUntil(
    probeModbus({
      profiles: PROFILES,
      settings: likelyModbusSettings(PROFILES.map(({ port }) => port)),
      isSerial,
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
            // A wire that is set otherwise carries nothing.
            attach: () => (far) =>
              wire && settingsText(wire) !== settingsText(profile.port)
                ? undefined
                : void plant.instruments.get(instrument)?.attach(far),
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
    ["ambient", "modbus-ambient", 7],
  ])("%s is matched by its profile %s alone, at its own unit", async (instrument, profile, unitId) => {
    const fits = await probed(instrument, likelyUnits(PROFILES));
    expect(fits.filter(({ isMatch }) => isMatch).map((fit) => [fit.profile.name, fit.unitId])).toEqual([
      [profile, unitId],
    ]);
  });

  it("is found at its profile's own port settings where a port carries bytes at any", async () => {
    const [fit] = await probed("power_meter", likelyUnits(PROFILES), { isSerial: true });
    expect(fit && [fit.profile.name, settingsText(fit.settings), fit.isMatch]).toEqual([
      "modbus-power",
      "38400-8E1",
      true,
    ]);
  });

  it("is found on a serial line though its frames are those of Modbus TCP, as its profile has them", async () => {
    const fits = await probed("io_block", likelyUnits(PROFILES), { isSerial: true });
    expect(fits.filter(({ isMatch }) => isMatch).map(({ profile }) => profile.name)).toEqual(["modbus-io"]);
  });

  it("is found on a wire that is set otherwise than any profile", async () => {
    const wire = settingsFrom("9600-8N1");
    const [fit] = await probed("leak_gauge", [1], { isSerial: true, wire });
    expect(fit && [fit.profile.name, settingsText(fit.settings)]).toEqual(["modbus-pressure", "9600-8N1"]);
  });

  it("that fits no profile has the reason told in a line", async () => {
    const fits = await probed("power_meter", [3]);
    const others = fits.filter(({ isMatch }) => !isMatch).map((fit) => modbusText(fit, false));
    expect(others.length).toBeGreaterThan(1);
    for (const line of others) expect(line).toMatch(/^Not modbus-\w+, unit 3: it .{5,100}\.$/);
  });

  it("is not found at units that it is not", async () => {
    expect(await probed("leak_gauge", [5, 6])).toEqual([]);
  });

  it("that did not answer leaves a sentence that names the units tried, and how to try others", () => {
    const nothing = { finding: null, garbledAt: [], garbled: null, lost: null };
    expect(nothingRead(nothing, true, true, likelyUnits(PROFILES))).toMatch(
      /No Modbus unit 1-4, 7 answered either; .*--units/,
    );
  });
});
