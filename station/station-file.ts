import { dirname, resolve } from "node:path";
import { z } from "zod";
import { isApproverKey, type TrustedKey } from "../limits/approval.ts";
import { readCheckedYaml } from "../limits/checked-yaml.ts";
import { withContradictions } from "../limits/faulty-file.ts";
import { quantity, wholeNumber } from "../limits/quantity-schema.ts";
import type { ChannelUncertainty, StationKnowledge } from "./cycle/characteristic-result.ts";
import type { Calibrated } from "./cycle/refusals.ts";
import { type DailyHeadSettings, dailyHeadSettings, dailyHeadShape } from "./daily-head-settings.ts";
import { flightRecorderOf, flightRecorderShape } from "./flight/flight-settings.ts";
import type { TapeAllowance } from "./flight/tape-keeper.ts";
import { type LabelSettings, labelSettings, labelsShape } from "./label-settings.ts";
import { type SignInSettings, signInSettings, signInShape } from "./people/sign-in-settings.ts";
import { STATION_CHANNELS, type StationChannel } from "./station-channels.ts";
import { mismatches, SHORT_NAME, type Surroundings, stationContradictions } from "./station-file-checks.ts";
import {
  type FlowCalibration,
  flowCalibrations,
  flowFromOf,
  flowFromShape,
  openingsOf,
  orificesShape,
} from "./station-flow.ts";
import {
  type ReferenceCheck,
  referenceCheckOf,
  referenceCheckShape,
  sameFailsShape,
  shiftsShape,
} from "./station-reference.ts";
import { ambientShape, enteredChannels, type RoomSource, roomSource } from "./station-room.ts";
import { timeZoneProblem } from "./time-zone.ts";

export type TransportSettings = z.infer<typeof transport>;

export interface InstrumentSettings {
  readonly name: string;
  readonly profile: string;
  readonly transport: TransportSettings;
  /** Text that must be in what the instrument says of itself. */
  readonly identity: string | null;
}

export interface GaugeSettings extends InstrumentSettings {
  /** ISO 8601 date; from the day after, the station refuses to test. */
  readonly calibrationDue: string;
  readonly channels: ReadonlyMap<StationChannel, ChannelUncertainty>;
}

/** One station: what hangs on which port, and what is known of the fixture. Paths are absolute. */
export interface StationFile {
  readonly name: string;
  /** Instruments or units are simulated; screen and travellers say so. */
  readonly isSimulated: boolean;
  readonly recordsFolder: string;
  readonly limitsFolder: string;
  readonly leastFreeDisk_bytes: number;
  readonly signIn: SignInSettings;
  /** How long each attempt's raw conversation is kept; null: not at all. */
  readonly flightRecorder: TapeAllowance | null;
  /** Null: nothing shows where the end of the records was cut off. */
  readonly dailyHead: DailyHeadSettings | null;
  /** IANA name of the plant's time zone, which days, shifts and local times follow; null: the computer's. */
  readonly timeZone: string | null;
  /** When shifts begin, local times such as "06:00", ascending; empty where the file has none. */
  readonly shifts: readonly string[];
  readonly knowledge: StationKnowledge;
  /** Orifice name to the output that opens it; null opens none. */
  readonly orificeOutputs: ReadonlyMap<string, string | null>;
  /** What the flow rests on besides gauges: orifices by their names, the plate in the pipe as "plate_in_pipe". */
  readonly flowCalibrations: ReadonlyMap<string, FlowCalibration>;
  readonly room: RoomSource;
  readonly gauges: readonly GaugeSettings[];
  readonly ioBlock: InstrumentSettings;
  /** Null: the station runs without reference checks, and its travellers say so. */
  readonly referenceCheck: ReferenceCheck | null;
  /** So many different units in a row that fail the same characteristic stop the station; null: none do. */
  readonly stopAfterSameFails: number | null;
  readonly approvers: readonly TrustedKey[];
  readonly labels: LabelSettings;
}

const name = z.string().regex(SHORT_NAME.pattern, SHORT_NAME.words);

const transport = z.discriminatedUnion("kind", [
  z.strictObject({ kind: z.literal("serial"), port: z.string().min(1) }),
  z.strictObject({
    kind: z.literal("tcp"),
    host: z.string().min(1),
    port: wholeNumber({ atLeast: 1, atMost: 65_535 }),
  }),
  z.strictObject({ kind: z.literal("memory") }),
]);

const instrument = {
  profile: z.string().min(1),
  transport,
  identity: z.string().min(1).optional(),
};

function channel(dimension: Parameters<typeof quantity>[0], zero: string) {
  return z
    .strictObject({
      uncertainty: quantity(dimension, {
        atLeast: zero,
        description: "standard uncertainty, the part that does not depend on the reading",
      }),
      uncertainty_of_reading: quantity("ratio", {
        atLeast: "0 %",
        description: "standard uncertainty, as a part of the reading",
      }),
    })
    .optional();
}

const gauge = z.strictObject({
  ...instrument,
  calibration_due: z.iso.date("a date like 2027-01-31"),
  channels: z.strictObject({
    leak_pressure: channel("pressure", "0 Pa"),
    source_pressure: channel("pressure", "0 Pa"),
    suction: channel("pressure", "0 Pa"),
    flow: channel("flow", "0 L/s"),
    flow_drop: channel("pressure", "0 Pa"),
    power: channel("power", "0 W"),
    voltage: channel("voltage", "0 V"),
    ambient_temperature: channel("temperatureDifference", "0 K"),
    ambient_pressure: channel("pressure", "0 Pa"),
    ambient_humidity: channel("relativeHumidity", "0 %"),
  }),
});

const approverKey = z
  .string()
  .refine(isApproverKey, { error: () => 'an Ed25519 public key, as "drumtight limits new-key" prints it' });

const approver = z.strictObject({
  name: z.string().min(1),
  public_key: approverKey,
  until: z.iso.date("a date like 2027-01-31").optional(),
});

const timeZoneShape = z
  .string()
  .refine((zone) => timeZoneProblem(zone) === null, {
    error: () => 'an IANA time zone name, spelt like "Europe/Berlin"',
  })
  .optional();

const stationFileSchema = z.strictObject({
  drumtight: z.literal("station/1"),
  name,
  simulated: z.boolean().optional(),
  records: z.string().min(1),
  limits: z.string().min(1),
  least_free_disk_MB: wholeNumber({ atLeast: 1 }),
  sign_in: signInShape,
  daily_head: dailyHeadShape,
  flight_recorder: flightRecorderShape,
  time_zone: timeZoneShape,
  shifts: shiftsShape,
  fixture: z.strictObject({
    volume: quantity("volume", { above: "0 L" }),
    volume_uncertainty: quantity("volume", { atLeast: "0 L" }),
    leak_bound: quantity("leakRate", { atLeast: "0 mL/min @ 20 degC" }),
  }),
  orifices: orificesShape,
  flow_from: flowFromShape,
  ambient: ambientShape,
  gauges: z.record(z.string(), gauge),
  io_block: z.strictObject(instrument),
  reference_check: referenceCheckShape,
  stop_after_same_fails: sameFailsShape,
  approvers: z.array(approver),
  labels: labelsShape,
});

/**
 * Reads a station file.
 * @param path absolute; relative paths inside are taken from its folder
 * @param around the files beside it; without them it is checked by itself
 * @throws FileProblems naming every mistake in it with line and column
 */
export function readStationFile(path: string, text: string, around?: Surroundings): StationFile {
  const schema = withContradictions(stationFileSchema, (given) => [
    ...stationContradictions(given),
    ...(around ? mismatches(given, around) : []),
  ]);
  const file = readCheckedYaml(path, text, schema);
  const from = (relative: string) => resolve(dirname(path), relative);
  const gauges = Object.entries(file.gauges).map(([gaugeName, settings]) => ({
    ...instrumentSettings(gaugeName, settings),
    calibrationDue: settings.calibration_due,
    channels: channelUncertainties(settings.channels),
  }));
  return {
    name: file.name,
    // Behind a memory transport there can be nothing else.
    isSimulated: file.simulated === true || transports(file).some(({ kind }) => kind === "memory"),
    recordsFolder: from(file.records),
    limitsFolder: from(file.limits),
    leastFreeDisk_bytes: file.least_free_disk_MB * 1e6,
    signIn: signInSettings(file.sign_in, path),
    dailyHead: dailyHeadSettings(file.daily_head, path),
    flightRecorder: flightRecorderOf(file.flight_recorder),
    timeZone: file.time_zone ?? null,
    shifts: file.shifts ?? [],
    knowledge: {
      fixtureVolume_m3: file.fixture.volume,
      fixtureVolumeUncertainty_m3: file.fixture.volume_uncertainty,
      fixtureLeakBound_m3_s: file.fixture.leak_bound,
      channels: new Map([
        ...gauges.flatMap((settings) => [...settings.channels]),
        ...enteredChannels(file.ambient),
      ]),
      flowFrom: flowFromOf(file.orifices, file.flow_from),
      openings: openingsOf(file.orifices),
    },
    orificeOutputs: new Map(Object.entries(file.orifices).map(([orifice, { output }]) => [orifice, output])),
    flowCalibrations: flowCalibrations(file.orifices, file.flow_from),
    room: roomSource(file.ambient, path),
    gauges,
    ioBlock: instrumentSettings("io_block", file.io_block),
    referenceCheck: referenceCheckOf(file.reference_check),
    stopAfterSameFails: file.stop_after_same_fails ?? null,
    approvers: file.approvers.map(({ name, public_key, until }) => ({
      name,
      publicKey: public_key,
      ...(until === undefined ? {} : { until }),
    })),
    labels: labelSettings(file.labels),
  };
}

/** All whose calibration results depend on, by the names people know them by. */
export function inCalibration({
  gauges,
  flowCalibrations: openings,
}: Pick<StationFile, "gauges" | "flowCalibrations">): readonly Calibrated[] {
  const named = [...openings].map(([name, dates]) => ({
    name: name === "plate_in_pipe" ? "the plate in the pipe" : `orifice ${name}`,
    ...dates,
  }));
  return [...gauges, ...named];
}

function transports(file: z.infer<typeof stationFileSchema>): TransportSettings[] {
  return [file.io_block, ...Object.values(file.gauges)].map((settings) => settings.transport);
}

function instrumentSettings(
  instrumentName: string,
  settings: { profile: string; transport: TransportSettings; identity?: string | undefined },
): InstrumentSettings {
  return {
    name: instrumentName,
    profile: settings.profile,
    transport: settings.transport,
    identity: settings.identity ?? null,
  };
}

function channelUncertainties(
  channels: z.infer<typeof gauge>["channels"],
): ReadonlyMap<StationChannel, ChannelUncertainty> {
  const known = new Map<StationChannel, ChannelUncertainty>();
  for (const channelName of STATION_CHANNELS) {
    const stated = channels[channelName];
    if (stated)
      known.set(channelName, { absolute: stated.uncertainty, relative: stated.uncertainty_of_reading });
  }
  return known;
}
