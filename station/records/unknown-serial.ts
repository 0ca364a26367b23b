import { serialsAlike } from "./serials-alike.ts";

/**
 * What is said of a serial without records, with the serials that may have been meant.
 * @throws RecordError where the folder can't be listed
 * @example "No attempt of a1 is recorded in records: there is A1; capital and small letters are told apart."
 */
export async function unknownSerial(folder: string, serial: string): Promise<string> {
  const alike = await serialsAlike(folder, serial);
  const advice =
    alike.length > 0
      ? `there ${alike.length === 1 ? "is" : "are"} ${alike.join(" and ")}; capital and small letters are told apart`
      : "check the serial, or give another --records folder";
  return `No attempt of ${serial} is recorded in ${folder}: ${advice}.`;
}
