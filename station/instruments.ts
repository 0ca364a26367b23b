import type { ModbusProfile } from "../drivers/modbus-profile.ts";
import type { ModbusTransport } from "../drivers/modbus-transport.ts";
import type { ByteTransport, Clock, FarEnd, Gauge } from "../drivers/ports.ts";
import { type GaugeProfile, type IoBlockProfile, isGauge, type Profile } from "../drivers/profile.ts";
import { AsciiIoBlock } from "../drivers/protocols/ascii-io.ts";
import { AsciiLineGauge } from "../drivers/protocols/ascii-line.ts";
import type { IoBlock } from "../drivers/protocols/io-block.ts";
import { LineTransport } from "../drivers/transports/lines.ts";
import { MemoryTransport } from "../drivers/transports/memory.ts";
import type { SerialSettings } from "../drivers/transports/serial-settings.ts";
import { UsageError } from "./explain.ts";
import { Fixture } from "./fixture.ts";
import { type Gate, GatedGauge, GatedIoBlock } from "./flight/gate.ts";
import type { InstrumentSettings, StationFile, TransportSettings } from "./station-file.ts";

/** The far end of a simulated instrument's cable, by the instrument's station-file name. */
export type Attach = (instrument: string) => ((far: FarEnd) => void) | undefined;

export interface InstrumentSetup {
  readonly file: StationFile;
  /** By name; that they fit the file was checked when it was loaded. */
  readonly profiles: ReadonlyMap<string, Profile>;
  readonly clock: Clock;
  /** Given for simulated stations: memory transports end there. */
  readonly attach?: Attach;
  /** Sees every byte of an instrument's cable, both ways: what comes back is connected to in its place. */
  readonly tap?: (instrument: string, bytes: ByteTransport) => ByteTransport;
  /** Stands between the drivers and the fixture, and gives each driver its clock. */
  readonly gate?: Gate;
}

/**
 * Makes the station's instruments from its file and profiles; nothing is opened yet.
 * @throws UsageError for a memory transport that ends nowhere
 */
export async function openFixture(setup: InstrumentSetup): Promise<Fixture> {
  const { file, clock, gate } = setup;
  const behindGate = (name: string) => (gate ? { ...setup, clock: gate.clock(name) } : setup);
  const gauges = await Promise.all(
    file.gauges.map(async (settings) => {
      const gauge = await openGauge(settings, behindGate(settings.name));
      return gate ? new GatedGauge(gauge, gate) : gauge;
    }),
  );
  const ownBlock = await openIoBlock(file.ioBlock, behindGate(file.ioBlock.name));
  const ioBlock = gate ? new GatedIoBlock(ownBlock, gate) : ownBlock;
  const expectedIdentity = new Map(
    [...file.gauges, file.ioBlock].flatMap((settings) =>
      settings.identity === null ? [] : [[settings.name, settings.identity]],
    ),
  );
  const orificeOutputs = [...file.orificeOutputs.values()].filter((output) => output !== null);
  return new Fixture({ clock, gauges, outputs: ioBlock, inputs: ioBlock, orificeOutputs, expectedIdentity });
}

export type Cables = Omit<InstrumentSetup, "file">;

/**
 * Makes one gauge, whatever its profile's kind; nothing is opened yet.
 * @throws UsageError for a memory transport that ends nowhere
 */
export async function openGauge(settings: InstrumentSettings, setup: Cables): Promise<Gauge> {
  const profile = setup.profiles.get(settings.profile);
  if (!profile || !isGauge(profile)) throw new Error(`${settings.name} has no profile of a gauge.`);
  const { name } = settings;
  const { clock } = setup;
  if (profile.kind === "gauge") {
    const transport = await linesTo(settings, profile, setup);
    return new AsciiLineGauge({ name, profile, transport, clock });
  }
  const { ModbusGauge } = await import("../drivers/protocols/modbus-gauge.ts");
  return new ModbusGauge({ name, profile, transport: await framesTo(settings, profile, setup), clock });
}

async function openIoBlock(settings: InstrumentSettings, setup: Cables): Promise<IoBlock> {
  const profile = setup.profiles.get(settings.profile);
  if (!profile || isGauge(profile)) throw new Error(`${settings.name} has no profile of an I/O block.`);
  const { name } = settings;
  const { clock } = setup;
  if (profile.kind === "io_block") {
    const transport = await linesTo(settings, profile, setup);
    return new AsciiIoBlock({ name, profile, transport, clock });
  }
  const { ModbusIoBlock } = await import("../drivers/protocols/modbus-io-block.ts");
  return new ModbusIoBlock({ name, profile, transport: await framesTo(settings, profile, setup), clock });
}

async function linesTo(
  settings: InstrumentSettings,
  profile: GaugeProfile | IoBlockProfile,
  setup: Cables,
): Promise<LineTransport> {
  return new LineTransport({
    instrument: settings.name,
    framing: profile.framing,
    clock: setup.clock,
    bytes: await tapped(settings, profile, setup),
  });
}

/** The Modbus library is loaded only where a station uses it. */
async function framesTo(
  settings: InstrumentSettings,
  profile: ModbusProfile,
  setup: Cables,
): Promise<ModbusTransport> {
  const { ModbusTransport } = await import("../drivers/modbus-transport.ts");
  return new ModbusTransport({
    instrument: settings.name,
    link: profile.modbus,
    port: profile.port,
    clock: setup.clock,
    bytes: await tapped(settings, profile, setup),
  });
}

async function tapped(
  settings: InstrumentSettings,
  { port }: Pick<Profile, "port">,
  setup: Cables,
): Promise<ByteTransport> {
  const bytes = await bytesTo(settings, port, setup);
  return setup.tap?.(settings.name, bytes) ?? bytes;
}

/**
 * The cable to an instrument, not opened yet. Serial and TCP are loaded only where a station uses them: the serial
 * binding takes time to load.
 * @throws UsageError for a memory transport that ends nowhere
 */
export async function bytesTo(
  { name: instrument, transport }: { readonly name: string; readonly transport: TransportSettings },
  port: SerialSettings,
  setup: Pick<Cables, "clock" | "attach">,
): Promise<ByteTransport> {
  const common = { instrument, clock: setup.clock };
  switch (transport.kind) {
    case "serial": {
      const { SerialTransport } = await import("../drivers/transports/serial.ts");
      return new SerialTransport({ ...common, path: transport.port, settings: port });
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
