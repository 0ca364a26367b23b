import { travellerPath } from "../records/record-name.ts";

/** Recorded conversations, below the records folder. */
export const TAPES_FOLDER = "flight";

/** @returns where the tape of a traveller lies, relative to the records folder: "flight/2026/01/05/00000042-A1-1.tape" */
export function tapePath(traveller: Parameters<typeof travellerPath>[0]): string {
  return `${TAPES_FOLDER}/${travellerPath(traveller).replace(/\.json$/, ".tape")}`;
}
