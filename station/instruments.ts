import type { Clock, FarEnd, Transport } from "../drivers/ports.ts";
import type { Profile } from "../drivers/profile.ts";
import { loadProfile } from "../drivers/profile-file.ts";
import { AsciiIoBlock } from "../drivers/protocols/ascii-io.ts";
import { AsciiLineGauge } from "../drivers/protocols/ascii-line.ts";
import { MemoryTransport } from "../drivers/transports/memory.ts";
import { UsageError } from "./explain.ts";
import { Fixture } from "./fixture.ts";
import type { GaugeSettings, InstrumentSettings, StationFile } from "./station-file.ts";

/** The far end of a simulated instrument's cable, by the instrument's station-file name. */
export type Attach = (instrument: string) => ((far: FarEnd) => void) | undefined;

export interface InstrumentSetup {
  readonly file: StationFile;
  /** Folders searched for profiles, the plant's own before the built-in ones. */
  readonly profileFolders: readonly string[];
  readonly clock: Clock;
  /** Given for simulated stations: memory transports end there. */
  readonly attach?: Attach;
}

/**
 * Makes the station's instruments from its file and profiles; nothing is opened yet.
 * @throws UsageError, FileProblems, DriverError PROFILE_INVALID when file and profiles do not fit together
 */
export async function openFixture(setup: InstrumentSetup): Promise<Fixture> {
  const { file, clock } = setup;
  const gauges = await Promise.all(
    file.gauges.map(async (settings) => {
      const profile = loadProfile(settings.profile, setup.profileFolders);
      if (profile.kind !== "gauge") throw wrongKind(settings, "a gauge");
      requireChannels(settings, profile);
      const transport = await transportFor(settings, profile, setup);
      return new AsciiLineGauge({ name: settings.name, profile, transport, clock });
    }),
  );
  const ioProfile = loadProfile(file.ioBlock.profile, setup.profileFolders);
  if (ioProfile.kind !== "io_block") throw wrongKind(file.ioBlock, "an I/O block");
  requireOutputs(file, ioProfile);
  const ioTransport = await transportFor(file.ioBlock, ioProfile, setup);
  const ioBlock = new AsciiIoBlock({
    name: file.ioBlock.name,
    profile: ioProfile,
    transport: ioTransport,
    clock,
  });
  const expectedIdentity = new Map(
    file.gauges.flatMap((settings) =>
      settings.identity === null ? [] : [[settings.name, settings.identity]],
    ),
  );
  return new Fixture({ gauges, outputs: ioBlock, inputs: ioBlock, expectedIdentity });
}

/** Serial and TCP are loaded only where a station uses them: the serial binding takes time to load. */
async function transportFor(
  settings: InstrumentSettings,
  profile: Profile,
  setup: InstrumentSetup,
): Promise<Transport> {
  const { transport, name: instrument } = settings;
  const common = { instrument, framing: profile.framing, clock: setup.clock };
  switch (transport.kind) {
    case "serial": {
      const { SerialTransport } = await import("../drivers/transports/serial.ts");
      return new SerialTransport({ ...common, path: transport.port, settings: profile.port });
    }
    case "tcp": {
      const { TcpTransport } = await import("../drivers/transports/tcp.ts");
      return new TcpTransport({ ...common, host: transport.host, port: transport.port });
    }
    case "memory": {
      const attach = setup.attach?.(instrument);
      if (attach) return new MemoryTransport({ ...common, attach });
      throw new UsageError(
        `${instrument} has a memory transport, which only simulated stations have. Give it a serial or tcp transport in the station file.`,
      );
    }
  }
}

function requireChannels(settings: GaugeSettings, profile: Extract<Profile, { kind: "gauge" }>): void {
  const delivered = profile.channels.map((channel) => channel.name);
  for (const channel of settings.channels.keys()) {
    if (delivered.includes(channel)) continue;
    throw new UsageError(
      `${settings.name}: the profile ${settings.profile} has no channel ${channel}; it has ${delivered.join(", ")}. Correct the station file.`,
    );
  }
}

function requireOutputs(file: StationFile, profile: Extract<Profile, { kind: "io_block" }>): void {
  const wanted = ["source", "isolate", "vent", "motor", ...file.orificeOutputs.values()];
  for (const output of wanted) {
    if (output === null || profile.outputs.includes(output)) continue;
    throw new UsageError(
      `io_block: the profile ${file.ioBlock.profile} has no output ${output}; it has ${profile.outputs.join(", ")}. Correct the station file.`,
    );
  }
}

function wrongKind(settings: InstrumentSettings, wanted: string): UsageError {
  return new UsageError(
    `${settings.name}: the profile ${settings.profile} is not that of ${wanted}. Correct the station file.`,
  );
}
