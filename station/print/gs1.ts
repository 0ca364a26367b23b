import { escaped } from "../../limits/escaped-text.ts";
import { UsageError } from "../explain.ts";

const LONGEST_SERIAL = 20;
/** GS1 General Specifications, figure 7.11-1 (number from memory): the 82 characters that may stand in a serial. */
const NOT_ENCODABLE = /[^!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]/u;

/** What a GS1 symbol says of a unit. */
export interface ElementString {
  /** As it is encoded, after the FNC1 in the first place; nothing in it needs a separator. */
  readonly data: string;
  /** For people, the application identifiers in brackets. */
  readonly text: string;
}

/**
 * Application identifiers (01) GTIN and (21) serial number. The GTIN has a fixed length and the serial ends the string, so that
 * no separator stands between them (GS1 General Specifications, 7.8; section from memory). There is no production date, AI (11):
 * the day of a test need not be that of production.
 * @param gtin 8, 12, 13 or 14 digits with a right check digit; filled up with zeros to 14
 * @throws UsageError for a serial that AI (21) can't hold: it says what to do
 * @example elementString("04012345678901", "POD000123").text // "(01)04012345678901(21)POD000123"
 */
export function elementString(gtin: string, serial: string): ElementString {
  const remedy = "Print it with --code datamatrix, which takes any serial.";
  const strange = NOT_ENCODABLE.exec(serial)?.[0];
  if (strange !== undefined) {
    throw new UsageError(
      `A GS1 symbol can't hold the serial ${escaped(serial)}: ${JSON.stringify(strange)} is none of the characters GS1 allows there. ${remedy}`,
    );
  }
  if (serial.length > LONGEST_SERIAL) {
    throw new UsageError(
      `A GS1 symbol can't hold the serial ${escaped(serial)}: it has ${serial.length} characters, and GS1 allows ${LONGEST_SERIAL}. ${remedy}`,
    );
  }
  const gtin14 = gtin.padStart(14, "0");
  return { data: `01${gtin14}21${serial}`, text: `(01)${gtin14}(21)${serial}` };
}
