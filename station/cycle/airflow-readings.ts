import type { Reading } from "../../drivers/ports.ts";
import type { AirflowStep } from "../../limits/model.ts";
import type { FlowFrom } from "../measure/airflow/airflow-evidence.ts";
import { ChannelSeries } from "../measure/steady/channel-series.ts";
import { windowLengths_s } from "../measure/steady/steady-window.ts";
import { gaugeStoodStill, supplyOutOfTolerance } from "./airflow-findings.ts";
import { median } from "./fill-watch.ts";
import type { Reason } from "./reason.ts";

/** What both phases with a running motor are told. */
export interface AirflowOrder
  extends Pick<
    AirflowStep,
    "steady" | "runningAbove_W" | "powerHighest_W" | "supplyVoltage_V" | "supplyTolerance_V"
  > {
  /** Suction answers to the voltage to this power. */
  readonly suctionPerVoltage: number;
  /** The channel that flow is taken from; null where it follows from the suction over an orifice. */
  readonly flowChannel: FlowChannel | null;
  /** No air flows by design: a flow of nothing may stay exactly that. */
  readonly isInletClosed: boolean;
  /** What a channel's gauge is certified to, whatever its reading, SI: nothing needs to be known, or to stand, better. */
  readonly scatterFloor: (channel: string) => number;
  /** When the phase is over, from its first reading. */
  readonly longest_s: number;
}

export type FlowChannel = "flow" | "flow_drop";

/** So long, and a gauge has frozen. */
const FROZEN_s = 2;
/** Calm mains move no more than the last digit of a voltmeter, which so repeats itself longer. */
const VOLTAGE_FROZEN_s = 4;
/**
 * A supply is out of tolerance with three readings in a row, 0.15 s at 20 Hz: a motor's own inrush, or a neighbour's, makes it
 * dip for a few periods, and one wild reading is no supply at all.
 */
const SUPPLY_ROW = 3;
const RUNNING_ROW = 3;
/** So many newest readings tell where a channel stands. */
const NEWEST = 5;
/** A voltmeter that is certified no better shows volts or halves of one, and the same for minutes where the mains are calm. */
const COARSE_VOLTMETER_V = 0.1;
/** What a fan moves, and no draught does: the least of it, SI, or so many times what the gauge is certified to where that is more. */
const MADE = { floors: 10, least: { suction: 100, flow: 5e-4, flow_drop: 5 } };
/** Through a wide open inlet a good fan makes hardly any suction. */
const MADE_OPEN = { floors: 3, suction: 20 };
/** Looks at the windows are no closer than this; fast gauges need no more. */
const LOOK_EVERY_s = 0.02;

/** The readings of a run-up or of a point since its command, and what they say of themselves. */
export class AirflowReadings {
  readonly channels: readonly string[];
  readonly #order: AirflowOrder;
  readonly #series = new Map<string, ChannelSeries>();
  readonly #all: Reading[] = [];
  #since_s: number | null = null;
  #now_s = Number.NEGATIVE_INFINITY;
  #looked_s = Number.NEGATIVE_INFINITY;
  #hasRun = false;

  constructor(order: AirflowOrder) {
    this.#order = order;
    this.channels = airflowChannels(order.flowChannel);
    for (const channel of this.channels) this.#series.set(channel, new ChannelSeries());
  }

  /** @returns why readings can't be trusted from here on; null when they can */
  add(reading: Reading): Reason | null {
    const { channel, t_s, value } = reading;
    this.#since_s ??= t_s;
    this.#now_s = Math.max(this.#now_s, t_s);
    this.#all.push(reading);
    this.of(channel).add(t_s, value);
    if (channel === "power" && this.isRunning) this.#hasRun = true;
    if (channel === "voltage" && this.of("voltage").endsIn(SUPPLY_ROW, (it) => !this.isSupplyGood(it))) {
      return supplyOutOfTolerance(value, this.#order);
    }
    return this.isRunning ? this.frozen(FROZEN_s, VOLTAGE_FROZEN_s) : null;
  }

  /** @throws Error for a channel that is not watched */
  of(channel: string): ChannelSeries {
    const series = this.#series.get(channel);
    if (!series) throw new Error(`The channel ${channel} is not watched.`);
    return series;
  }

  /** All readings in the order they came. */
  get all(): readonly Reading[] {
    return this.#all;
  }

  /** Time of the first reading since the command. @throws Error before it */
  get since_s(): number {
    if (this.#since_s === null) throw new Error("Nothing has been read yet.");
    return this.#since_s;
  }

  get now_s(): number {
    return this.#now_s;
  }

  get elapsed_s(): number {
    return this.#since_s === null ? 0 : this.#now_s - this.#since_s;
  }

  /** Whether the motor draws power now: three readings in a row say so. */
  get isRunning(): boolean {
    return this.of("power").endsIn(RUNNING_ROW, (power_W) => power_W >= this.#order.runningAbove_W);
  }

  /** Whether it has drawn power at any time. */
  get hasRun(): boolean {
    return this.#hasRun;
  }

  /** Where the channel stands now; NaN before its first reading. */
  now(channel: string): number {
    return median(this.of(channel).last(NEWEST));
  }

  get hasSuction(): boolean {
    return this.#isMade("suction");
  }

  /** Whether what the motor does arrives at the plenum; through a wide open inlet that is flow with hardly any suction. */
  get doesAirMove(): boolean {
    const { isInletClosed, flowChannel, scatterFloor } = this.#order;
    if (isInletClosed) return this.hasSuction;
    const least_Pa = Math.max(MADE_OPEN.floors * scatterFloor("suction"), MADE_OPEN.suction);
    return this.now("suction") > least_Pa || (flowChannel !== null && this.#isMade(flowChannel));
  }

  #isMade(channel: "suction" | FlowChannel): boolean {
    return this.now(channel) > Math.max(MADE.floors * this.#order.scatterFloor(channel), MADE.least[channel]);
  }

  isSupplyGood(voltage_V: number): boolean {
    return Math.abs(voltage_V - this.#order.supplyVoltage_V) <= this.#order.supplyTolerance_V;
  }

  /** @returns the reason, when a gauge has shown one value for so long, and should not have */
  frozen(time_s: number, voltageTime_s = time_s): Reason | null {
    const channel = this.#alive.find((it) =>
      this.of(it).hasFrozenFor(it === "voltage" ? voltageTime_s : time_s),
    );
    return channel === undefined ? null : gaugeStoodStill(channel);
  }

  /** A channel whose gauge has shown one value so often that nothing may rest on it yet. */
  get standingStill(): string | undefined {
    return this.#alive.find((channel) => this.of(channel).standsStill);
  }

  /** Whether nobody knows what the supply was: with a motor that does not run, no other gauge has to show noise. */
  get isVoltageFrozen(): boolean {
    return this.#isVoltmeterFine && this.of("voltage").hasFrozenFor(0);
  }

  get #isVoltmeterFine(): boolean {
    return this.#order.scatterFloor("voltage") < COARSE_VOLTMETER_V;
  }

  /**
   * Where the windows begin in which steadiness may be looked for, the shortest window first; none when the last look was
   * just now.
   */
  windowStarts_s(): readonly number[] {
    if (this.#now_s - this.#looked_s < LOOK_EVERY_s - 1e-9) return [];
    this.#looked_s = this.#now_s;
    return this.allWindowStarts_s();
  }

  allWindowStarts_s(): readonly number[] {
    return windowLengths_s(this.elapsed_s, this.#order.steady.window_s).map(
      (length_s) => this.#now_s - length_s,
    );
  }

  /** Channels whose gauges must show noise while the motor runs. A flow of nothing has none. */
  get #alive(): readonly string[] {
    return this.channels.filter(
      (channel) => !this.#showsNoFlow(channel) && (channel !== "voltage" || this.#isVoltmeterFine),
    );
  }

  #showsNoFlow(channel: string): boolean {
    const { isInletClosed, flowChannel, scatterFloor } = this.#order;
    return (
      isInletClosed &&
      channel === flowChannel &&
      Math.abs(this.of(channel).newest ?? 0) <= scatterFloor(channel)
    );
  }
}

/** @returns the channel that the station's flow is read from; null where it follows from the suction over the orifices */
export function flowChannelOf({ kind }: FlowFrom): FlowChannel | null {
  return kind === "gauge" ? "flow" : kind === "pipe" ? "flow_drop" : null;
}

/** @returns what is watched while a motor runs */
export function airflowChannels(flowChannel: FlowChannel | null): readonly string[] {
  return ["suction", ...(flowChannel ? [flowChannel] : []), "power", "voltage"];
}
