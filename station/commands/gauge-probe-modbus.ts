import type { Clock } from "../../drivers/ports.ts";
import type { Profile } from "../../drivers/profile.ts";
import type { ModbusFit } from "../bring-up/probe-modbus.ts";
import { UsageError } from "../explain.ts";
import type { TransportSettings } from "../station-file.ts";

const LAST_UNIT_ID = 247;

/** Looks for an instrument with Modbus registers on a port where nothing spoke in lines. */
export async function readRegisters(about: {
  readonly transport: TransportSettings;
  readonly clock: Clock;
  readonly stopping: AbortSignal;
  readonly known: readonly Profile[];
  readonly options: { readonly baud?: string; readonly units?: string };
  readonly say: (text: string) => void;
}): Promise<{ readonly fits: ModbusFit[]; readonly units: readonly number[] }> {
  const { isRegisterProfile, likelyModbusSettings, likelyUnits, probeModbus } = await import(
    "../bring-up/probe-modbus.ts"
  );
  const { settingsFrom } = await import("../bring-up/port-settings.ts");
  const { openGauge } = await import("../instruments.ts");
  const { transport, clock, stopping, known, options, say } = about;
  const profiles = known.filter(isRegisterProfile);
  const units = options.units === undefined ? likelyUnits(profiles) : unitIds(options.units);
  const fits = await probeModbus({
    profiles,
    settings:
      options.baud?.split(",").map(settingsFrom) ?? likelyModbusSettings(profiles.map(({ port }) => port)),
    isSerial: transport.kind === "serial",
    unitIds: units,
    signal: stopping,
    clock,
    open: (profile) =>
      openGauge(
        { name: profile.name, profile: profile.name, transport, identity: null },
        { profiles: new Map([[profile.name, profile]]), clock },
      ),
    saw: say,
  });
  return { fits, units };
}

/** @throws UsageError */
export function unitIds(text: string): number[] {
  const all = text.split(",").flatMap((part) => {
    const found = /^\s*(?<first>\d{1,3})(?:-(?<last>\d{1,3}))?\s*$/.exec(part)?.groups;
    const first = Number(found?.first);
    const last = Number(found?.last ?? found?.first);
    if (!found || first > last || last > LAST_UNIT_ID)
      throw new UsageError(`--units: expected unit ids like 1-4 or 1,7, up to ${LAST_UNIT_ID}.`);
    return Array.from({ length: last - first + 1 }, (_, i) => first + i);
  });
  return [...new Set(all)];
}

/** @returns the exit code */
export async function tellRegisters(
  fits: readonly ModbusFit[],
  isSerial: boolean,
  json: boolean,
  say: (text: string) => void,
): Promise<0 | 1> {
  const { modbusText } = await import("../bring-up/probe-text.ts");
  const { settingsText } = await import("../bring-up/port-settings.ts");
  const [first] = fits;
  for (const fit of fits) say(modbusText(fit, isSerial));
  const names = (isMatch: boolean) =>
    fits.filter((fit) => fit.isMatch === isMatch).map(({ profile }) => profile.name);
  if (json) {
    const settings = first && isSerial ? settingsText(first.settings) : null;
    print(
      JSON.stringify({
        event: "result",
        settings,
        unit_id: first?.unitId ?? null,
        matches: names(true),
        similar: names(false),
        draft: null,
        sentence: "",
      }),
    );
  }
  if (names(true).length > 0) return 0;
  say(
    "It has Modbus registers, but no profile knows them: write one from its manual, after drivers/profiles/modbus-pressure.yaml.",
  );
  return 1;
}

function print(text: string): void {
  process.stdout.write(`${text}\n`);
}
