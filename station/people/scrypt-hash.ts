import { randomBytes, scrypt, timingSafeEqual } from "node:crypto";
import { z } from "zod";
import { wholeNumber } from "../../limits/quantity-schema.ts";

/** How dear one guess is made (RFC 7914): N blocks of r x 128 bytes are filled and read again, p times. */
export interface ScryptCost {
  readonly N: number;
  readonly r: number;
  readonly p: number;
}

/**
 * One of the settings of equal strength in the OWASP Password Storage Cheat Sheet, section "scrypt" (from memory): 32 MiB,
 * which a small station computer has to spare, three times over.
 */
export const SCRYPT_COST: ScryptCost = { N: 2 ** 15, r: 8, p: 3 };

const HASH_bytes = 32;
const SALT_bytes = 16;
const MOST_MEMORY_bytes = 2 ** 30;

const bytes = (count: number) =>
  z
    .string({ error: () => `${count} bytes in base64` })
    .refine((text) => Buffer.from(text, "base64").toString("base64") === text, {
      error: () => `${count} bytes in base64`,
    })
    .refine((text) => Buffer.from(text, "base64").length === count, {
      error: () => `${count} bytes in base64`,
    });

/** Salt and cost, as files keep them. */
export const saltShape = z
  .strictObject({
    kdf: z.literal("scrypt"),
    N: wholeNumber({ atLeast: 2, atMost: 2 ** 20 }),
    r: wholeNumber({ atLeast: 1, atMost: 32 }),
    p: wholeNumber({ atLeast: 1, atMost: 16 }),
    salt: bytes(SALT_bytes),
  })
  .refine(({ N }) => Number.isInteger(Math.log2(N)), { path: ["N"], error: () => "a power of two" })
  .refine(({ N, r }) => 128 * N * r < MOST_MEMORY_bytes, {
    path: ["N"],
    error: () => "less memory than 1 GiB",
  });

/** What scrypt made of a secret. */
export const hashShape = bytes(HASH_bytes);

export type Salt = z.output<typeof saltShape>;

/** @returns a salt nobody has yet */
export function newSalt(cost: ScryptCost = SCRYPT_COST): Salt {
  return { kdf: "scrypt", ...cost, salt: randomBytes(SALT_bytes).toString("base64") };
}

/** @returns what is kept instead of the secret */
export async function hashOf(secret: string, salt: Salt): Promise<string> {
  return (await derive(secret, Buffer.from(salt.salt, "base64"), salt, HASH_bytes)).toString("base64");
}

/** Compares in a time that does not depend on where two hashes differ. */
export function isSameHash(one: string, other: string): boolean {
  const [a, b] = [Buffer.from(one, "base64"), Buffer.from(other, "base64")];
  return a.length === b.length && timingSafeEqual(a, b);
}

/**
 * scrypt, RFC 7914, away from the thread that reads gauges.
 * @example (await derive("pleaseletmein", Buffer.from("SodiumChloride"), { N: 16384, r: 8, p: 1 }, 64)).toString("hex") // "7023bdcb..."
 */
export function derive(
  secret: string,
  salt: Buffer,
  cost: ScryptCost,
  length_bytes: number,
): Promise<Buffer> {
  const { N, r, p } = cost;
  // Node refuses what would need more than this; OpenSSL's way of scrypt needs 128 r (N + p + 3) bytes.
  const options = { N, r, p, maxmem: 128 * r * (N + p + 4) };
  return new Promise((resolve, reject) => {
    scrypt(secret, salt, length_bytes, options, (error, key) => (error ? reject(error) : resolve(key)));
  });
}
