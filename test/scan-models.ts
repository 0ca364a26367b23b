import { readLimitFile } from "../limits/limit-file.ts";
import type { ModelLimits } from "../limits/model.ts";
import { changed } from "./limits/good-file.ts";

/** Labels as a plant prints them, some with check characters. */

const TUB_PARTS = `parts:
  - { name: tub_cavity, pattern: "^T[1-4]$", required: true }
  - { name: lid_cavity, pattern: "^L[1-4]$", required: false }
  - { name: gasket_lot, pattern: "^G[0-9]{4}$", required: false }
  - { name: motor_serial, pattern: "^M[0-9]{6}[0-9A-Z]$", check: mod-37-36, required: false }
  - { name: hose_code, pattern: "^[0-9]{13}$", check: gs1, required: false }
`;
const POD_PARTS = `parts:
  - { name: tub_cavity, pattern: "^P[1-4]$", required: false }
  - { name: lid_cavity, pattern: "^L[1-4]$", required: false }
  - { name: seal_lot, pattern: "^G[0-9]{4}$", required: false }
  - { name: motor_serial, pattern: "^M[0-9]{8}$", required: false }
`;

/** Serials without check characters. */
export const TUB: ModelLimits = read(["retest:", "retest:"], TUB_PARTS);
/** Serials end in a MOD 37,36 check character. */
export const POD: ModelLimits = read(
  ["TUB-12", "POD-4"],
  POD_PARTS,
  ["^TUB[0-9]{6}$", "^POD[0-9]{5}[0-9A-Z]$"],
  ["example: TUB000123", "example: POD531817\n  check: mod-37-36"],
);

function read(
  first: readonly [string, string],
  parts: string,
  ...changes: readonly (readonly [string, string])[]
): ModelLimits {
  const text = changed(first, ...changes);
  const from = text.indexOf("\nparts:") + 1;
  const to = text.indexOf("\nsuspects:") + 1;
  return readLimitFile("m.yaml", `${text.slice(0, from)}${parts}\n${text.slice(to)}`);
}
