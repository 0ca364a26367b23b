import { join, resolve } from "node:path";
import type { Clock } from "../drivers/ports.ts";
import { loadProfile } from "../drivers/profile-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import type { PlantedDrift } from "./drift.ts";
import { type Deed, Hands } from "./hands.ts";
import { MODBUS_FRAMINGS } from "./instruments/modbus-demo.ts";
import type { SimulatedInstrument } from "./instruments/plugged-instrument.ts";
import { Stranger } from "./instruments/stranger.ts";
import { strangerTraits } from "./instruments/stranger-traits.ts";
import { LineUp } from "./line-up.ts";
import { setTo, throughPty } from "./pty-settings.ts";
import type { ServeError } from "./serve-error.ts";
import { serveOnPtys } from "./serve-pty.ts";
import { serveOnTcp } from "./serve-tcp.ts";
import { StationPlant } from "./station-plant.ts";

export interface ServeOptions {
  readonly clock: Clock;
  readonly seed: number;
  readonly models: readonly ModelLimits[];
  /** Units there are; Infinity for a line that never ends. */
  readonly count: number;
  readonly defectRate?: number;
  readonly drift?: PlantedDrift;
  /** First TCP port, 0 for whatever is free. */
  readonly tcpBase: number;
  /** Folder for pseudo-terminals, when wanted. */
  readonly ptyFolder?: string;
  /** Seed of a gauge of unknown make in leak_gauge's place. */
  readonly strangerSeed?: number;
  /** Instruments that can be asked for registers are. */
  readonly modbus?: boolean;
  /** Units are mounted and started only by command. */
  readonly byHand: boolean;
  /** What the hands have done of themselves. */
  readonly did: (deed: Deed) => void;
  /** An instrument can no longer be reached. */
  readonly failed: (error: ServeError) => void;
}

export interface Serving {
  readonly plant: StationPlant;
  readonly hands: Hands;
  /** Where each instrument is to be found: `127.0.0.1:4001`, or the path of its pseudo-terminal. */
  readonly addresses: ReadonlyMap<string, string>;
  close(): Promise<void>;
}

/**
 * The demo station's instruments in real time, on TCP ports or pseudo-terminals, with a unit on the fixture.
 * @throws ServeError when a port, socat or a pseudo-terminal cannot be had
 */
export async function serve(options: ServeOptions): Promise<Serving> {
  const { clock, seed, models, count, defectRate, drift, ptyFolder } = options;
  const plant = new StationPlant({ clock, seed, models, ...(options.modbus && { modbus: MODBUS_FRAMINGS }) });
  const lineUp = new LineUp({
    ...{ seed, models, count },
    ...(defectRate === undefined ? {} : { defectRate }),
    ...(drift === undefined ? {} : { drift }),
  });
  const tcp = await serveOnTcp(servedInstruments(plant, options), options.tcpBase);
  let addresses = new Map([...tcp.ports].map(([name, port]) => [name, `127.0.0.1:${port}`]));
  let closePtys = async () => {};
  if (ptyFolder !== undefined) {
    try {
      const ptys = await serveOnPtys(tcp.ports, ptyFolder, options.failed);
      addresses = new Map(ptys.paths);
      closePtys = () => ptys.close();
    } catch (error) {
      await tcp.close();
      throw error;
    }
  }
  const hands = new Hands({
    clock,
    plant,
    next: () => lineUp.next(),
    find: (serial) => lineUp.find(serial),
    did: options.did,
  });
  if (!options.byHand) hands.workAlone();
  return {
    plant,
    hands,
    addresses,
    async close() {
      hands.rest();
      await closePtys();
      await tcp.close();
    },
  };
}

const REPLACED = "leak_gauge";
const RTU_PROFILES = {
  leak_gauge: "modbus-pressure",
  power_meter: "modbus-power",
  ambient: "modbus-ambient",
} as const;

function servedInstruments(
  plant: StationPlant,
  { clock, strangerSeed, ptyFolder, modbus }: ServeOptions,
): ReadonlyMap<string, SimulatedInstrument> {
  const instruments = modbus ? onSetPorts(plant.instruments, ptyFolder) : plant.instruments;
  if (strangerSeed === undefined) return instruments;
  const stranger = new Stranger({
    name: REPLACED,
    clock,
    seed: strangerSeed,
    traits: strangerTraits(strangerSeed),
    pressure_Pa: () => plant.gas.pressure_Pa,
  });
  const served =
    ptyFolder === undefined ? stranger : throughPty(stranger, join(resolve(ptyFolder), REPLACED));
  return new Map(instruments).set(REPLACED, served);
}

/** RTU frames are heard only at the baud rate of the profile; TCP frames come from a network, which has none. */
function onSetPorts(
  instruments: ReadonlyMap<string, SimulatedInstrument>,
  ptyFolder: string | undefined,
): ReadonlyMap<string, SimulatedInstrument> {
  if (ptyFolder === undefined) return instruments;
  const set = new Map(instruments);
  for (const [name, profile] of Object.entries(RTU_PROFILES)) {
    const instrument = set.get(name);
    const path = join(resolve(ptyFolder), name);
    if (instrument) set.set(name, setTo(loadProfile(profile).port, instrument, path));
  }
  return set;
}
