import { dirname, resolve } from "node:path";
import { z } from "zod";
import { isApproverKey } from "../limits/approval.ts";

/** How a station signs where its records end. */
export interface DailyHeadSettings {
  /** The station's private key, absolute. */
  readonly keyFile: string;
  readonly publicKey: string;
  /** Keys the station signed with before. */
  readonly formerPublicKeys: readonly string[];
  /** Where copies of the heads go, absolute: another disk, or a file share; null for none. */
  readonly copiesFolder: string | null;
}

const publicKey = z
  .string()
  .refine(isApproverKey, { error: () => 'an Ed25519 public key, as "drumtight audit new-key" prints it' });

/** `daily_head` of a station file. */
export const dailyHeadShape = z
  .strictObject({
    key: z.string({ error: () => "text: the station's private key file, like station-key.pem" }).min(1),
    public_key: publicKey,
    former_public_keys: z.array(publicKey).optional(),
    copies: z
      .string({ error: () => "text: a folder on another disk or a file share" })
      .min(1)
      .optional(),
  })
  .optional();

/** @param stationPath absolute; relative paths are taken from its folder */
export function dailyHeadSettings(
  given: z.output<typeof dailyHeadShape>,
  stationPath: string,
): DailyHeadSettings | null {
  if (!given) return null;
  const from = (path: string) => resolve(dirname(stationPath), path);
  return {
    keyFile: from(given.key),
    publicKey: given.public_key,
    formerPublicKeys: given.former_public_keys ?? [],
    copiesFolder: given.copies === undefined ? null : from(given.copies),
  };
}
