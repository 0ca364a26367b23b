import type { NumberPlace, NumberType, RegisterTable } from "./modbus-profile.ts";

/** Registers that one request can read (Modbus Application Protocol V1.1b3, 6.3 and 6.4). */
export const REGISTERS_MOST = 125;

/** Registers that follow one another in one table. */
export interface RegisterRange {
  readonly table: RegisterTable;
  readonly from: number;
  readonly count: number;
}

const BOUNDS: Readonly<Record<Exclude<NumberType, "float32">, readonly [least: number, most: number]>> = {
  int16: [-0x8000, 0x7fff],
  uint16: [0, 0xffff],
  int32: [-0x8000_0000, 0x7fff_ffff],
  uint32: [0, 0xffff_ffff],
};

/** @returns how many registers a number of this type takes */
export function registersOf(type: NumberType): 1 | 2 {
  return type === "int16" || type === "uint16" ? 1 : 2;
}

/** Whether a register, or two of them, can hold this number. @example canHold("int16", 40000) // false */
export function canHold(type: NumberType, value: number): boolean {
  if (type === "float32") return Number.isFinite(Math.fround(value));
  const [least, most] = BOUNDS[type];
  return Number.isInteger(value) && value >= least && value <= most;
}

/** A number as its registers would give it back. @example asHeld("float32", 9.9e37) // 9.899999855448e+37 */
export function asHeld(type: NumberType, value: number): number {
  return type === "float32" ? Math.fround(value) : value;
}

/**
 * The number that registers hold. The protocol sends each register high byte first; which register of two comes first
 * is each maker's own choice.
 * @param words registers 0 to 65535, as many as the type takes
 * @example numberFrom([0x0000, 0xc5fa], { type: "float32", lowWordFirst: true, lowByteFirst: false }) // -8000
 * @see IEEE 754 binary32; Modbus Application Protocol V1.1b3, 4.2 for the bytes of one register
 */
export function numberFrom(
  words: readonly number[],
  { type, lowWordFirst, lowByteFirst }: Pick<NumberPlace, "type" | "lowWordFirst" | "lowByteFirst">,
): number {
  const inOrder = lowWordFirst ? [...words].reverse() : words;
  const view = new DataView(new ArrayBuffer(4));
  inOrder.forEach((word, i) => {
    view.setUint16(2 * i, word, lowByteFirst);
  });
  switch (type) {
    case "int16":
      return view.getInt16(0);
    case "uint16":
      return view.getUint16(0);
    case "int32":
      return view.getInt32(0);
    case "uint32":
      return view.getUint32(0);
    case "float32":
      return view.getFloat32(0);
  }
}

/**
 * The requests that read all these numbers: as few as there can be without reading what nobody named.
 * @param together one request from the first to the last, with whatever lies between
 * @example plannedReads([at(0, "float32"), at(2, "uint16"), at(9, "uint16")], false) // from 0: 3, from 9: 1
 */
export function plannedReads(
  places: readonly Pick<NumberPlace, "table" | "address" | "type">[],
  together: boolean,
): RegisterRange[] {
  const sorted = places
    .map(({ table, address, type }) => ({ table, from: address, count: registersOf(type) as number }))
    .sort((a, b) => a.table.localeCompare(b.table) || a.from - b.from);
  const ranges: RegisterRange[] = [];
  for (const next of sorted) {
    const last = ranges.at(-1);
    const count = last ? Math.max(last.from + last.count, next.from + next.count) - last.from : 0;
    const joins = last?.table === next.table && (together || next.from <= last.from + last.count);
    if (last && joins && count <= REGISTERS_MOST) ranges[ranges.length - 1] = { ...last, count };
    else ranges.push(next);
  }
  return ranges;
}

/** Whether a number lies within a range. */
export function liesIn(
  { table, address, type }: Pick<NumberPlace, "table" | "address" | "type">,
  range: RegisterRange,
): boolean {
  return (
    table === range.table && address >= range.from && address + registersOf(type) <= range.from + range.count
  );
}
