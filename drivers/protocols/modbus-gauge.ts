import { Conversation } from "../conversation.ts";
import { Exchange } from "../exchange.ts";
import { ModbusClient } from "../modbus-client.ts";
import type { ModbusGaugeProfile } from "../modbus-profile.ts";
import type { ModbusTransport } from "../modbus-transport.ts";
import { showFrames } from "../modbus-words.ts";
import {
  type Clock,
  DriverError,
  type Gauge,
  type GaugeListener,
  type GaugeMemory,
  type Reading,
} from "../ports.ts";
import { pause } from "./identify.ts";
import { MeasurementCount } from "./measurement-count.ts";
import { answersUnlike, identifyModbus } from "./modbus-identify.ts";
import { RegisterReader } from "./modbus-registers.ts";

export interface ModbusGaugeOptions {
  /** The gauge's name in the station file. */
  readonly name: string;
  readonly profile: ModbusGaugeProfile;
  readonly transport: ModbusTransport;
  readonly clock: Clock;
}

interface Link {
  readonly exchange: Exchange;
  readonly client: ModbusClient;
}

/**
 * A gauge whose values stand in Modbus registers, asked for as its profile says. Any fault ends the connection, the
 * instrument's own refusals included: only connecting anew makes the gauge trustworthy again.
 */
export class ModbusGauge implements Gauge {
  readonly name: string;
  readonly channels: readonly string[];
  readonly conversation: Conversation;
  readonly #options: ModbusGaugeOptions;
  readonly #reader: RegisterReader;
  readonly #listeners = new Set<GaugeListener>();
  #link: Link | undefined;
  /** Of the connection that is open or being opened. */
  #count: MeasurementCount;
  #identity = "";
  #polling: object | undefined;
  /** Readings that are being asked for, each perhaps with several questions. */
  #underWay = 0;

  constructor(options: ModbusGaugeOptions) {
    const { name, profile } = options;
    this.name = name;
    this.channels = profile.channels.map((channel) => channel.name);
    this.conversation = new Conversation(showFrames(profile.modbus.framing));
    this.#options = options;
    this.#reader = new RegisterReader(name, profile);
    this.#count = new MeasurementCount(name, profile.counter);
  }

  get identity(): string {
    return this.#identity;
  }

  async connect(): Promise<void> {
    const closing = this.close();
    const { name, profile, transport, clock } = this.#options;
    const count = new MeasurementCount(name, profile.counter);
    this.#count = count;
    this.#identity = "";
    await closing;
    const exchange = await Exchange.open({
      instrument: name,
      transport,
      clock,
      conversation: this.conversation,
      replyWithin_s: profile.replyWithin_s,
      show: showFrames(profile.modbus.framing),
      ended: (error) => {
        if (this.#count === count) this.#ended(error);
      },
    });
    if (this.#count !== count) {
      await exchange.close();
      throw new DriverError("PORT_LOST", name, `${name} was closed while it was being connected.`);
    }
    const client = new ModbusClient(exchange, name, profile.modbus.unitId);
    this.#link = { exchange, client };
    // What comes before the first question is dropped: a late answer, which would pass for the first reading.
    const listens_s = answersUnlike(profile.identity, this.#reader.ranges) ? 0 : profile.replyWithin_s;
    await pause(clock, Math.max(profile.waitAfterOpen_s, listens_s));
    this.#identity = await identifyModbus(exchange, client, name, profile.identity);
    if (exchange.failure) throw exchange.failure;
  }

  /**
   * Where the instrument counts its measurements, the first one that is begun to be counted after the call.
   * @throws DriverError OUT_OF_SEQUENCE when there is none for as long as its count may stand still
   */
  async read(): Promise<readonly Reading[]> {
    const link = this.#usable();
    this.#underWay++;
    try {
      return await this.#readNew(link);
    } finally {
      this.#underWay--;
    }
  }

  async #readNew(link: Link): Promise<readonly Reading[]> {
    const { clock, profile } = this.#options;
    const before = (await this.#poll(link)).readings;
    if (!profile.counter) return before;
    const { staleAfter_s } = profile.counter;
    const begun_s = link.exchange.lastHeard_s;
    for (;;) {
      await pause(clock, profile.pollEvery_s);
      const { readings } = await this.#poll(link);
      if (readings[0]?.sequence !== before[0]?.sequence) return readings;
      if (link.exchange.lastHeard_s - begun_s <= staleAfter_s) continue;
      const error = this.#count.stoodStill(staleAfter_s);
      link.exchange.fail(error);
      throw error;
    }
  }

  /** A gauge that is not connected reports its fault at once. Each measurement is told once. */
  watch(listener: GaugeListener): () => void {
    this.#listeners.add(listener);
    try {
      const link = this.#usable();
      if (!this.#polling) this.#keepPolling(link);
    } catch (error) {
      if (error instanceof DriverError) queueMicrotask(() => this.#tell(listener, error));
    }
    return () => {
      this.#listeners.delete(listener);
    };
  }

  /** Watching ends without a fault; a read that still waits is refused. */
  async close(): Promise<void> {
    this.#listeners.clear();
    const closing = this.#link?.exchange.close();
    this.#link = undefined;
    this.#count = new MeasurementCount(this.name, this.#options.profile.counter);
    await closing;
  }

  get isAtRest(): boolean {
    return this.#underWay === 0;
  }

  memory(): GaugeMemory {
    return { ...this.#count.memory(), transaction: this.#options.transport.transaction };
  }

  resume(memory: GaugeMemory): void {
    this.#count.resume(memory);
    this.#options.transport.transaction = memory.transaction ?? 0;
  }

  #usable(): Link {
    const link = this.#link;
    if (link?.exchange.failure) throw link.exchange.failure;
    if (link) return link;
    const message = `${this.name} is not connected; check its cable and supply.`;
    throw new DriverError("PORT_LOST", this.name, message);
  }

  #ended(error: DriverError): void {
    this.#polling = undefined;
    const listeners = [...this.#listeners];
    this.#listeners.clear();
    for (const listener of listeners) listener.fault(error);
  }

  #tell(listener: GaugeListener, error: DriverError): void {
    if (this.#listeners.delete(listener)) listener.fault(error);
  }

  async #poll({ exchange, client }: Link): Promise<{ readings: readonly Reading[]; isNew: boolean }> {
    this.#underWay++;
    try {
      const read = [];
      for (const range of this.#reader.ranges) {
        const words = await client.readRegisters(range);
        read.push({ ...range, words, at_s: exchange.lastHeard_s });
      }
      const isNew = this.#count.isNew(this.#reader.count(read), exchange.lastHeard_s);
      return { readings: this.#reader.readings(read), isNew };
    } catch (error) {
      if (error instanceof DriverError) exchange.fail(error);
      throw error;
    } finally {
      this.#underWay--;
    }
  }

  #keepPolling(link: Link): void {
    const { clock, profile } = this.#options;
    const loop = {};
    this.#polling = loop;
    const turn = (due_s: number): void => {
      if (this.#polling !== loop) return;
      if (this.#listeners.size === 0) {
        this.#polling = undefined;
        return;
      }
      this.#poll(link).then(
        ({ readings, isNew }) => {
          if (isNew) for (const listener of [...this.#listeners]) listener.readings(readings);
          // After a slow answer the polls it delayed are left out, not caught up with.
          const next_s = Math.max(due_s + profile.pollEvery_s, clock.now_s());
          clock.setTimeout(() => turn(next_s), (next_s - clock.now_s()) * 1000);
        },
        // The exchange has told the listeners.
        () => undefined,
      );
    };
    turn(clock.now_s());
  }
}
