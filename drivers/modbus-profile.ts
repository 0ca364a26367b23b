import type { Quality } from "./ports.ts";
import type { ChannelProfile } from "./profile.ts";
import type { SerialSettings } from "./transports/serial-settings.ts";

/**
 * What one kind of Modbus instrument keeps where: the checked form of a profile file, times in seconds. Addresses are
 * those of the protocol, from 0 (Modbus Application Protocol V1.1b3, 4.4).
 */
export interface ModbusProfile {
  /** The profile file's name without its ending. */
  readonly name: string;
  readonly title: string;
  readonly port: SerialSettings;
  readonly modbus: ModbusLink;
  /** Instruments that restart when the port is opened are left alone this long. */
  readonly waitAfterOpen_s: number;
  readonly replyWithin_s: number;
  readonly identity?: ModbusIdentity;
}

/** How frames travel, whatever carries the bytes: RTU frames go over device servers, too. */
export interface ModbusLink {
  readonly framing: "rtu" | "tcp";
  readonly unitId: number;
  /** Part of a frame followed by this much silence is no answer. */
  readonly idleRest_s: number;
}

export interface ModbusGaugeProfile extends ModbusProfile {
  readonly kind: "modbus_gauge";
  readonly pollEvery_s: number;
  readonly channels: readonly ModbusChannel[];
  readonly status?: ModbusStatus;
  readonly counter?: ModbusCounter;
  /** All registers come in one answer, those between them included. */
  readonly readTogether: boolean;
}

export interface ModbusIoBlockProfile extends ModbusProfile {
  readonly kind: "modbus_io_block";
  readonly identity: ModbusIdentity;
  readonly outputs: readonly string[];
  readonly inputs: readonly string[];
  /** Where the first of them is; the others follow, coil by coil or bit by bit. */
  readonly outputsAt: { readonly table: "coil" | "holding_register"; readonly address: number };
  readonly inputsAt: { readonly table: ModbusTable; readonly address: number };
  readonly pollEvery_s: number;
  /** Holding register that is written with another number each time. */
  readonly beatAddress: number;
  readonly beatEvery_s: number;
  readonly watchdog: ModbusWatchdog;
}

export interface ModbusWatchdog {
  /** Set once the block has dropped its outputs by itself. */
  readonly tripped: BitPlace;
  readonly reset: {
    readonly table: "coil" | "holding_register";
    readonly address: number;
    readonly value: number;
  };
  /** The block's own watchdog setting and what it must be. */
  readonly time?: { readonly place: NumberPlace; readonly expect: number };
}

export type RegisterTable = "input_register" | "holding_register";
export type ModbusTable = RegisterTable | "coil" | "discrete_input";

export const NUMBER_TYPES = ["int16", "uint16", "int32", "uint32", "float32"] as const;
export type NumberType = (typeof NUMBER_TYPES)[number];

/** Where a number is and how its bytes lie. */
export interface NumberPlace {
  readonly table: RegisterTable;
  readonly address: number;
  readonly type: NumberType;
  readonly lowWordFirst: boolean;
  readonly lowByteFirst: boolean;
}

/** A coil, a discrete input, or a bit of a register, counted from its lowest. */
export interface BitPlace {
  readonly table: ModbusTable;
  readonly address: number;
  readonly bit: number;
}

export interface ModbusChannel extends ChannelProfile {
  readonly place: NumberPlace;
  /** Numbers as they stand in the registers that mean something else. */
  readonly specialValues: ReadonlyMap<number, Quality>;
  readonly status?: ModbusStatus;
}

export interface ModbusStatus {
  readonly table: RegisterTable;
  readonly address: number;
  readonly meaning:
    | { readonly kind: "codes"; readonly codes: ReadonlyMap<number, Quality> }
    /** Bits by their numbers: those that must be set, and what the others mean once set. */
    | { readonly kind: "bits"; readonly bits: ReadonlyMap<number, Quality> };
}

/** Counts measurements: the same number again is the same measurement. */
export interface ModbusCounter {
  readonly place: NumberPlace;
  readonly staleAfter_s: number;
}

export type ModbusIdentity =
  /** Maker, product code and revision as function 43/14 tells them, with ";" between. */
  | { readonly kind: "device_identification"; readonly expect: RegExp }
  | {
      readonly kind: "text";
      readonly table: RegisterTable;
      readonly address: number;
      readonly registers: number;
      readonly expect: RegExp;
    }
  | { readonly kind: "number"; readonly place: NumberPlace; readonly expect: number };
