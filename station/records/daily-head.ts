import type { KeyObject } from "node:crypto";
import { z } from "zod";
import { type ChainHead, canonicalText } from "./chain.ts";
import { signatureHolds, signText } from "./daily-head-key.ts";
import { Decider } from "./disposition.ts";
import { Instant, Sha256Hex, Text } from "./record-words.ts";

/** Their folder in the records folder. */
export const DAILY_HEADS = "heads";
/** What a head's `format` says; a reader that meets another one must not guess. */
const HEAD_FORMAT = "drumtight/daily-head/1";

/** RFC 8410, section 4: twelve bytes that are the same for all, then the key's 32. */
const ED25519_SPKI = /^MCowBQYDK2VwAyEA[A-Za-z0-9+/]{43}=$/;

const End = z.strictObject({ sequence: z.int().positive(), sha256: Sha256Hex }).nullable();

/**
 * Where the chains of a records folder ended at one moment, signed by the station: whatever was there then must be there
 * later. Heads are chained as well, and copied elsewhere.
 */
export const DailyHead = z
  .strictObject({
    format: z.literal(HEAD_FORMAT),
    at: Instant,
    /** Drawn with the first head of a records folder, so that no two folders begin with the same one. */
    records_id: z.string().regex(/^[0-9a-f]{32}$/),
    /** "hour": something was recorded in it; "loss_accepted": somebody has answered for what is not there any more. */
    moment: z.enum(["opened", "hour", "day_ended", "closed", "loss_accepted"]),
    station: Text,
    /** Number and SHA-256 of the last record; the number is their count, too. Null where there was none. */
    travellers: End,
    dispositions: End,
    events: End,
    /** From this head on, the heads before are not held against the records any more. */
    accepted: z.strictObject({ since_head: z.int().positive(), by: Decider, reason: Text }).optional(),
    /** Ed25519 in SPKI form (RFC 8410), DER, base64. */
    public_key: z.string().regex(ED25519_SPKI, "expected an Ed25519 public key"),
    chain: z.strictObject({ sequence: z.int().positive(), previous: Sha256Hex.nullable() }),
    /** Ed25519 (RFC 8032), base64, of all the rest in canonical form (RFC 8785). */
    signature: z.string(),
  })
  .refine((it) => (it.moment === "loss_accepted") === (it.accepted !== undefined), {
    path: ["accepted"],
    error: "an accepted loss, and nothing else, says who accepts what",
  });
export type DailyHead = z.infer<typeof DailyHead>;

/** The chains that a head vouches for. */
export const HEAD_CHAINS = ["travellers", "dispositions", "events"] as const;
export type HeadChain = (typeof HEAD_CHAINS)[number];

/** Where each chain of a records folder ends; null for one without a record. */
export type ChainEnds = Readonly<Record<HeadChain, ChainHead | null>>;

/** A head that is still to be signed. */
export type HeadDraft = Omit<DailyHead, "format" | "public_key" | "signature">;

/**
 * @param key the station's, with the public key that goes with it
 * @returns the head as it is written
 */
export function signedHead(draft: HeadDraft, key: { privateKey: KeyObject; publicKey: string }): DailyHead {
  const unsigned = { format: HEAD_FORMAT, ...draft, public_key: key.publicKey } as const;
  return DailyHead.parse({ ...unsigned, signature: signText(canonicalText(unsigned), key.privateKey) });
}

/** Whether the key that a head names has signed it; whose key that is, is another question. */
export function isSigned(head: DailyHead): boolean {
  const { signature, ...unsigned } = head;
  return signatureHolds(canonicalText(unsigned), signature, head.public_key);
}
