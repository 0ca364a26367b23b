import type { Exchange } from "../exchange.ts";
import { type ModbusClient, ModbusRefusal } from "../modbus-client.ts";
import { numberFrom, type RegisterRange, registersOf } from "../modbus-numbers.ts";
import type { ModbusIdentity, NumberPlace } from "../modbus-profile.ts";
import { DriverError } from "../ports.ts";
import { quoteRaw } from "../raw-line.ts";

/** Exceptions of another instrument: it does not know the question, or has nothing there. All others the right one may have. */
const NOT_KNOWN: ReadonlySet<number> = new Set([1, 2]);

/**
 * Asks a Modbus instrument who it is; the wrong one ends the connection.
 * @returns what it said of itself, "" if the profile asks nothing
 * @throws DriverError WRONG_INSTRUMENT, INSTRUMENT_ERROR when the right one may have failed, or what ended the connection
 */
export async function identifyModbus(
  exchange: Exchange,
  client: ModbusClient,
  instrument: string,
  identity?: ModbusIdentity,
): Promise<string> {
  if (!identity) return "";
  const wrong = (says: string) => {
    const message = `${instrument} ${says}, which is not what its profile expects; check that the right instrument is on this port.`;
    const error = new DriverError("WRONG_INSTRUMENT", instrument, message);
    exchange.fail(error);
    return error;
  };
  let said: Said;
  try {
    said = await ask(client, identity);
  } catch (error) {
    if (!(error instanceof ModbusRefusal)) throw error;
    if (!NOT_KNOWN.has(error.exception)) {
      exchange.fail(error);
      throw error;
    }
    throw wrong(`does not say who it is (${error.message.replace(/\.$/, "")})`);
  }
  if (!said.isRight) throw wrong(`says ${quoteRaw(said.text)} when asked who it is`);
  return said.text;
}

/** Whether a late answer to a question for readings can't pass for an answer to this one, nor the other way round. */
export function answersUnlike(
  identity: ModbusIdentity | undefined,
  readings: readonly RegisterRange[],
): boolean {
  if (!identity) return false;
  if (identity.kind === "device_identification") return true;
  const { table, count } =
    identity.kind === "text"
      ? { table: identity.table, count: identity.registers }
      : { table: identity.place.table, count: registersOf(identity.place.type) };
  return !readings.some((range) => range.table === table && range.count === count);
}

interface Said {
  readonly text: string;
  readonly isRight: boolean;
}

async function ask(client: ModbusClient, identity: ModbusIdentity): Promise<Said> {
  switch (identity.kind) {
    case "device_identification": {
      const text = (await client.deviceIdentification()).join(";");
      return { text, isRight: identity.expect.test(text) };
    }
    case "text": {
      const { table, address, registers } = identity;
      const text = textFrom(await client.readRegisters({ table, from: address, count: registers }));
      return { text, isRight: identity.expect.test(text) };
    }
    case "number": {
      const value = await readNumber(client, identity.place);
      return { text: String(value), isRight: value === identity.expect };
    }
  }
}

/** @throws DriverError as the client does */
export async function readNumber(client: ModbusClient, place: NumberPlace): Promise<number> {
  const { table, address, type } = place;
  return numberFrom(await client.readRegisters({ table, from: address, count: registersOf(type) }), place);
}

/**
 * Text in registers, two characters each, high byte first; what fills up its end is left out.
 * @example textFrom([0x4142, 0x4300]) // "ABC"
 */
function textFrom(words: readonly number[]): string {
  return String.fromCharCode(...words.flatMap((word) => [word >> 8, word & 0xff])).replace(/[\0 ]+$/, "");
}
