import fc from "fast-check";
import { describe, expect, it, test } from "vitest";
import { liesIn, numberFrom, plannedReads, registersOf } from "../../drivers/modbus-numbers.ts";
import { NUMBER_TYPES, type NumberType } from "../../drivers/modbus-profile.ts";

/** Registers as a device lays them: the number's bytes A B C D in one of the four orders makers use. */
const ORDERS = [
  { bytes: [0, 1, 2, 3], lowWordFirst: false, lowByteFirst: false },
  { bytes: [2, 3, 0, 1], lowWordFirst: true, lowByteFirst: false },
  { bytes: [1, 0, 3, 2], lowWordFirst: false, lowByteFirst: true },
  { bytes: [3, 2, 1, 0], lowWordFirst: true, lowByteFirst: true },
] as const;

const WRITE: Readonly<Record<NumberType, (bytes: Buffer, value: number) => void>> = {
  int16: (bytes, value) => void bytes.writeInt16BE(value),
  uint16: (bytes, value) => void bytes.writeUInt16BE(value),
  int32: (bytes, value) => void bytes.writeInt32BE(value),
  uint32: (bytes, value) => void bytes.writeUInt32BE(value),
  float32: (bytes, value) => void bytes.writeFloatBE(value),
};

const VALUES: Readonly<Record<NumberType, fc.Arbitrary<number>>> = {
  int16: fc.integer({ min: -0x8000, max: 0x7fff }),
  uint16: fc.integer({ min: 0, max: 0xffff }),
  int32: fc.integer({ min: -0x8000_0000, max: 0x7fff_ffff }),
  uint32: fc.integer({ min: 0, max: 0xffff_ffff }),
  float32: fc.float(),
};

describe("a number in registers", () => {
  test.each(NUMBER_TYPES)("%s comes out as it was put in, in each of the four orders", (type) => {
    fc.assert(
      fc.property(VALUES[type], fc.constantFrom(...ORDERS), (value, order) => {
        const length = 2 * registersOf(type);
        const bytes = Buffer.alloc(length);
        WRITE[type](bytes, value);
        const onWire = Buffer.from(order.bytes.filter((at) => at < length).map((at) => bytes[at] ?? 0));
        const words = Array.from({ length: length / 2 }, (_, i) => onWire.readUInt16BE(2 * i));
        expect(numberFrom(words, { type, ...order })).toBe(value);
      }),
    );
  });

  it("is another one in another order, so that a wrong order does not go unnoticed", () => {
    const read = ORDERS.map((order) => numberFrom([0xc5fa, 0x1234], { type: "float32", ...order }));
    expect(new Set(read).size).toBe(4);
  });
});

describe("the requests that are planned", () => {
  const place = fc.record({
    table: fc.constantFrom("input_register" as const, "holding_register" as const),
    address: fc.integer({ min: 0, max: 400 }),
    type: fc.constantFrom(...NUMBER_TYPES),
  });

  it("read every number whole in one of them, 125 registers at most, and no register that nobody named", () => {
    fc.assert(
      fc.property(fc.array(place, { minLength: 1, maxLength: 60 }), (places) => {
        const reads = plannedReads(places, false);
        for (const one of places) expect(reads.some((range) => liesIn(one, range))).toBe(true);
        for (const range of reads) {
          expect(range.count).toBeLessThanOrEqual(125);
          for (let at = range.from; at < range.from + range.count; at++) {
            const isNamed = places.some(
              ({ table, address, type }) =>
                table === range.table && address <= at && at < address + registersOf(type),
            );
            expect(isNamed).toBe(true);
          }
        }
      }),
    );
  });

  it("are as few as can be: neighbours come together, others apart", () => {
    const at = (address: number, type: NumberType) => ({ table: "input_register" as const, address, type });
    expect(plannedReads([at(9, "uint16"), at(2, "uint16"), at(0, "float32")], false)).toEqual([
      { table: "input_register", from: 0, count: 3 },
      { table: "input_register", from: 9, count: 1 },
    ]);
    expect(plannedReads([at(9, "uint16"), at(0, "float32")], true)).toEqual([
      { table: "input_register", from: 0, count: 10 },
    ]);
  });
});
