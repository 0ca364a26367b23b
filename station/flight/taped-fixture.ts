import type { Fixture } from "../fixture.ts";
import { openFixture } from "../instruments.ts";
import { ReplayCable } from "./replay-cable.ts";
import { ReplayGate } from "./replay-gate.ts";
import { PlayedTape } from "./tape-place.ts";
import type { TapedStation } from "./tape-station.ts";

/** A station's fixture whose instruments are a tape. */
export interface TapedFixture {
  /** The tape's time, to be moved on. */
  readonly time: { t_s: number };
  readonly played: PlayedTape;
  readonly gate: ReplayGate;
  readonly cables: ReadonlyMap<string, ReplayCable>;
  readonly fixture: Fixture;
}

/** The fixture's own timers watch the start button, which means nothing to a test under way: none runs out. */
const STILL = {
  wall_ms: () => 0,
  setTimeout: () => null,
  clearTimeout: () => {},
  afterArrivals: () => {},
};

/** The drivers and the fixture a station's file asks for, whatever its cables are; nothing is connected yet. */
export async function openTapedFixture({ file, profiles }: TapedStation): Promise<TapedFixture> {
  const time = { t_s: 0 };
  const played = new PlayedTape();
  const gate = new ReplayGate(time, played);
  const cables = new Map([...file.gauges, file.ioBlock].map(({ name }) => [name, new ReplayCable(name)]));
  const onTape = <T extends object>(settings: T) => ({ ...settings, transport: { kind: "memory" as const } });
  const fixture = await openFixture({
    file: { ...file, gauges: file.gauges.map(onTape), ioBlock: onTape(file.ioBlock) },
    profiles,
    clock: { ...STILL, now_s: () => time.t_s },
    attach: () => () => {},
    tap: (instrument, bytes) => cables.get(instrument) ?? bytes,
    gate,
  });
  return { time, played, gate, cables, fixture };
}
