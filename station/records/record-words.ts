import { z } from "zod";

/** Kinds of text that every record is made of. */
export const Text = z.string().min(1).max(1000).refine(isWellFormed, "expected valid Unicode");
/** What the scanner said. Long enough for any code, short enough to be shown. */
export const Serial = z.string().min(1).max(200).refine(isWellFormed, "expected valid Unicode");
export const Instant = z.iso.datetime({
  precision: 3,
  error: "expected a UTC time like 2026-01-05T06:00:00.000Z",
});

export const Sha256Hex = z.string().regex(/^[0-9a-f]{64}$/, "expected a SHA-256 as 64 lower-case hex digits");

export const Reason = z.strictObject({
  code: z.string().regex(/^[A-Z][A-Z0-9_]*$/),
  sentence: Text,
  /** Name of the gauge or I/O block it comes from, where it comes from one. */
  instrument: Text.optional(),
});

function isWellFormed(text: string): boolean {
  return !/\p{Surrogate}/u.test(text);
}
