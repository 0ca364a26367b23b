import { readFileSync } from "node:fs";
import { basename, dirname, join, resolve } from "node:path";
import { type Clock, DriverError, type Gauge } from "../../drivers/ports.ts";
import type { Profile } from "../../drivers/profile.ts";
import { loadProfile, ownProfilesFolder, readProfile } from "../../drivers/profile-file.ts";
import { UsageError } from "../explain.ts";
import { openGauge } from "../instruments.ts";
import { readStationFileAlone } from "../load-station.ts";
import { transportTo } from "../served-station-file.ts";
import type { GaugeSettings, InstrumentSettings, StationFile } from "../station-file.ts";
import { stationThatRuns } from "./station-that-runs.ts";

/** One gauge to work on by itself. */
export interface OneGauge {
  readonly gauge: Gauge;
  readonly profile: Profile;
  /** Where it is: port or address. */
  readonly where: string;
  /** The station file that names it and what that says of it; null where a port was given. */
  readonly station: {
    readonly path: string;
    readonly file: StationFile;
    readonly settings: GaugeSettings;
  } | null;
}

export interface Named {
  readonly station?: string | undefined;
  readonly profile?: string | undefined;
}

/**
 * A gauge by its name in a station file, or by its port and a profile; nothing is opened yet.
 * @throws UsageError where there is no such gauge, or where it is simulated inside the station;
 *   DriverError PORT_BUSY where the station runs; FileProblems for mistakes in the files
 */
export async function openOneGauge(
  name: string,
  { station, profile }: Named,
  clock: Clock,
): Promise<OneGauge> {
  if (station !== undefined && profile === undefined) return ofStation(name, station, clock);
  if (station === undefined && profile !== undefined) return onPort(name, profile, clock);
  throw new UsageError(
    "Give either a gauge's name and --station FILE, or a port and --profile NAME (or the profile's file).",
  );
}

async function ofStation(name: string, path: string, clock: Clock): Promise<OneGauge> {
  const file = readStationFileAlone(path);
  const settings = file.gauges.find((gauge) => gauge.name === name);
  if (!settings) {
    const known = file.gauges.map((gauge) => gauge.name).join(", ");
    const why =
      name === file.ioBlock.name
        ? `${name} is the I/O block, and its outputs are left alone here`
        : `${file.name} has no gauge ${JSON.stringify(name)}`;
    throw new UsageError(`${why}; its gauges are: ${known}.`);
  }
  if (settings.transport.kind === "memory") {
    throw new UsageError(
      `${name} is simulated inside the station and has no port; serve it with drumtight sim serve --write-station FILE.`,
    );
  }
  const runs = stationThatRuns(file.recordsFolder);
  if (runs !== null) {
    throw new DriverError(
      "PORT_BUSY",
      name,
      `${runs} is running and has ${name}: stop it first, or look at what the instruments say on its screen.`,
    );
  }
  const profile = loadProfile(settings.profile, [dirname(resolve(path)), ownProfilesFolder()]);
  const gauge = await made(settings, profile, clock);
  return { gauge, profile, where: whereIs(settings), station: { path, file, settings } };
}

async function onPort(port: string, named: string, clock: Clock): Promise<OneGauge> {
  const profile = /[/.]/.test(named) ? profileFile(named) : loadProfile(named, [".", ownProfilesFolder()]);
  const settings = { name: "gauge", profile: profile.name, transport: transportTo(port), identity: null };
  return { gauge: await made(settings, profile, clock), profile, where: port, station: null };
}

function profileFile(path: string): Profile {
  let text: string;
  try {
    text = readFileSync(path, "utf8");
  } catch {
    throw new UsageError(
      `The profile ${path} cannot be read; give the name of a profile, or the path of its file.`,
    );
  }
  return readProfile(basename(path).replace(/\.ya?ml$/, ""), join(path), text);
}

function made(settings: InstrumentSettings, profile: Profile, clock: Clock): Promise<Gauge> {
  if (profile.kind.endsWith("io_block")) {
    throw new UsageError(`${profile.name} is the profile of an I/O block, and outputs are left alone here.`);
  }
  return openGauge(settings, { profiles: new Map([[settings.profile, profile]]), clock });
}

function whereIs({ transport }: InstrumentSettings): string {
  if (transport.kind === "tcp") return `${transport.host}:${transport.port}`;
  return transport.kind === "serial" ? transport.port : "";
}
