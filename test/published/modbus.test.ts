import { describe, expect, it, test } from "vitest";
import { Conversation } from "../../drivers/conversation.ts";
import { Exchange } from "../../drivers/exchange.ts";
import { ModbusClient } from "../../drivers/modbus-client.ts";
import { numberFrom } from "../../drivers/modbus-numbers.ts";
import { silenceBetweenFrames_s } from "../../drivers/modbus-transport.ts";
import { frameRig, modbusGaugeProfile, modbusIoProfile } from "../drivers/modbus-rigs.ts";

/**
 * The worked examples of the MODBUS Application Protocol Specification V1.1b3 (public, modbus.org), section by section,
 * as this program sends and understands them. Their bytes are from memory of the specification.
 */

/** Modbus TCP, whose frames end where the specification's do: no CRC. Unit 1, transaction 1. */
async function exchange<T>(answer: string, ask: (client: ModbusClient) => Promise<T>) {
  const profile = modbusIoProfile();
  const rig = frameRig(profile, (question) => {
    const header = question.slice(0, 12);
    const length = answer.split(" ").length + 1;
    return `=${header}${length.toString(16).padStart(4, "0")} 01 ${answer}`;
  });
  const opened = await Exchange.open({
    instrument: "gauge",
    transport: rig.transport,
    clock: rig.clock,
    conversation: new Conversation(),
    replyWithin_s: 0.2,
  });
  const result = await rig.settle(ask(new ModbusClient(opened, "gauge", 1)));
  const [question = ""] = rig.received;
  return { question: question.slice("00 01 00 00 00 06 01 ".length), header: question.slice(0, 20), result };
}

const bits = (text: string) => [...text.replaceAll(" ", "")].map((bit) => bit === "1");

describe("examples of the Modbus specification V1.1b3", () => {
  it("6.1: reads coils 20 to 38", async () => {
    const { question, result } = await exchange("01 03 CD 6B 05", (client) =>
      client.readBits("coil", 0x13, 0x13),
    );
    expect(question).toBe("01 00 13 00 13");
    // CD is coils 27 to 20, 6B 35 to 28, 05 38 to 36.
    const shown = [...bits("11001101").reverse(), ...bits("01101011").reverse(), ...bits("101").reverse()];
    expect(result).toEqual(shown);
  });

  it("6.2: reads discrete inputs 197 to 218", async () => {
    const { question, result } = await exchange("02 03 AC DB 35", (client) =>
      client.readBits("discrete_input", 0xc4, 0x16),
    );
    expect(question).toBe("02 00 C4 00 16");
    const shown = [...bits("10101100").reverse(), ...bits("11011011").reverse(), ...bits("110101").reverse()];
    expect(result).toEqual(shown);
  });

  it("6.3: reads holding registers 108 to 110: 555, 0, 100", async () => {
    const { question, result } = await exchange("03 06 02 2B 00 00 00 64", (client) =>
      client.readRegisters({ table: "holding_register", from: 0x6b, count: 3 }),
    );
    expect(question).toBe("03 00 6B 00 03");
    expect(result).toEqual([555, 0, 100]);
  });

  it("6.4: reads input register 9: 10", async () => {
    const { question, result } = await exchange("04 02 00 0A", (client) =>
      client.readRegisters({ table: "input_register", from: 8, count: 1 }),
    );
    expect(question).toBe("04 00 08 00 01");
    expect(result).toEqual([10]);
  });

  it("6.5: writes coil 173 on", async () => {
    const { question } = await exchange("05 00 AC FF 00", (client) => client.writeCoil(0xac, true));
    expect(question).toBe("05 00 AC FF 00");
  });

  it("6.6: writes register 2: 3", async () => {
    const { question } = await exchange("06 00 01 00 03", (client) => client.writeRegister(1, 3));
    expect(question).toBe("06 00 01 00 03");
  });

  it("6.11: writes coils 20 to 29 in one request", async () => {
    const levels = [...bits("11001101").reverse(), ...bits("01").reverse()];
    const { question } = await exchange("0F 00 13 00 0A", (client) => client.writeCoils(0x13, levels));
    // Its header has another length: eight bytes of data and the unit.
    expect(question.replace(/^.*?(?=0F)/, "")).toBe("0F 00 13 00 0A 02 CD 01");
  });

  it("6.21: reads a device's identification", async () => {
    const text = (words: string) =>
      Buffer.from(words, "latin1")
        .toString("hex")
        .replace(/(..)(?!$)/g, "$1 ");
    const objects = [
      `00 16 ${text("Company identification")}`,
      `01 0F ${text("Product code XX")}`,
      `02 05 ${text("V2.11")}`,
    ];
    const { question, result } = await exchange(`2B 0E 01 01 00 00 03 ${objects.join(" ")}`, (client) =>
      client.deviceIdentification(),
    );
    expect(question.replace(/^.*?(?=2B)/, "")).toBe("2B 0E 01 00");
    expect(result).toEqual(["Company identification", "Product code XX", "V2.11"]);
  });

  it("7: says which refusal it was: function 01 at 04A1 is answered with 81 02", async () => {
    await expect(exchange("81 02", (client) => client.readBits("coil", 0x4a1, 1))).rejects.toMatchObject({
      code: "INSTRUMENT_ERROR",
      message: expect.stringContaining(
        "refused to read 1 coil from 1185: Modbus exception 2, illegal data address",
      ),
    });
  });
});

describe("RTU frames on the wire", () => {
  /** Published test vectors of the CRC, low byte first (as in the serial line specification V1.02, 6.2.2). */
  test.each([
    ["holding_register", 10, "01 03 00 00 00 0A C5 CD"],
    ["holding_register", 1, "01 03 00 00 00 01 84 0A"],
    ["input_register", 1, "01 04 00 00 00 01 31 CA"],
  ] as const)("reading %s, %i of them, is %s", async (table, count, frame) => {
    const rig = frameRig(modbusGaugeProfile("modbus-pressure"), () => undefined);
    const opened = await Exchange.open({
      instrument: "gauge",
      transport: rig.transport,
      clock: rig.clock,
      conversation: new Conversation(),
      replyWithin_s: 0.1,
    });
    const client = new ModbusClient(opened, "gauge", 1);
    await expect(rig.settle(client.readRegisters({ table, from: 0, count }))).rejects.toMatchObject({
      code: "REPLY_TIMEOUT",
    });
    expect(rig.received).toEqual([frame]);
  });

  it("writing register 1 is 01 06 00 01 00 03 98 0B", async () => {
    const rig = frameRig(modbusGaugeProfile("modbus-pressure"), (question) => `=${question}`);
    const opened = await Exchange.open({
      instrument: "gauge",
      transport: rig.transport,
      clock: rig.clock,
      conversation: new Conversation(),
      replyWithin_s: 0.1,
    });
    await rig.settle(new ModbusClient(opened, "gauge", 1).writeRegister(1, 3));
    expect(rig.received).toEqual(["01 06 00 01 00 03 98 0B"]);
  });

  /** Modbus over Serial Line V1.02, 2.5.1.1: 3.5 characters of 11 bits; 1.75 ms above 19200 baud. From memory. */
  test.each([
    [9600, 3.5 * (11 / 9600)],
    [19_200, 3.5 * (11 / 19_200)],
    [38_400, 0.00175],
    [115_200, 0.00175],
  ])("are parted at %i baud by %d s", (baud, silence_s) => {
    const port = { baud, dataBits: 8, parity: "even", stopBits: 1, flowControl: "none" } as const;
    expect(silenceBetweenFrames_s(port)).toBeCloseTo(silence_s, 12);
  });
});

describe("numbers in registers", () => {
  /** IEEE 754-2019, binary32: sign, 8 bits of exponent, 23 of fraction. -118.625 is the usual textbook example. */
  test.each([
    [0xc2ed4000, -118.625],
    [0x40490fdb, Math.fround(Math.PI)],
    [0x7f800000, Number.POSITIVE_INFINITY],
    [0x7fc00000, Number.NaN],
    [0x80000000, -0],
  ])("%i is %d as IEEE 754 binary32", (word, value) => {
    const words = [word >>> 16, word & 0xffff];
    const place = { type: "float32", lowWordFirst: false, lowByteFirst: false } as const;
    expect(numberFrom(words, place)).toBe(value);
  });
});
